"""The road stays straight: imports point left, and each library has one door."""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
ROAD = """clock | quantity | faults < files < protocol < timing | study < schedule < packing | record
          < adherence < documents < pages | commands < __main__"""
DOORS = {
    "zoneinfo": ["clock"],
    "ruamel": ["files"],
    "pydantic": ["protocol", "study"],
    "ortools": ["packing"],
    "sqlalchemy": ["record"],
    "alembic": ["record"],
    "icalendar": ["documents"],
    "typst": ["documents"],
    "docx": ["documents"],
    "xlsxwriter": ["documents"],
    "segno": ["documents"],
    "altair": ["documents"],
    "vl_convert": ["documents"],
    "pypdfium2": ["documents"],
    "openpyxl": ["record", "study"],
    "streamlit": ["pages"],
    "psutil": ["pages"],
    "click": ["commands"],
    "numpy": ["adherence", "packing", "timing"],
    "pandas": ["adherence", "pages", "study"],
}
TOP = {"README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml", "app.py", "planner", "tests"}
TOP |= {"protocols", "demo_study"}
STOPS = {part.strip(): place for place, stop in enumerate(ROAD.split("<")) for part in stop.split("|")}
FILES = sorted((ROOT / "planner").rglob("*.py"))


def part(file: Path) -> str:
    return file.relative_to(ROOT / "planner").with_suffix("").parts[0]


def imports(file: Path):
    """Absolute names of all imports, also those inside functions and under TYPE_CHECKING."""
    for node in ast.walk(ast.parse(file.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            above = file.relative_to(ROOT).parent.parts
            base = above[: len(above) - node.level + 1] if node.level else ()
            yield from (".".join([*base, *filter(None, [node.module]), alias.name]) for alias in node.names)


def test_every_part_has_a_stop():
    """An empty or forgotten folder fails here."""
    assert {part(file) for file in FILES} - {"__init__"} == set(STOPS)


@pytest.mark.parametrize("file", FILES, ids=lambda file: str(file.relative_to(ROOT)))
def test_imports_point_left(file: Path):
    for name in imports(file):
        if name.startswith("planner.") and (there := name.split(".")[1]) != part(file):
            assert there in STOPS, f"{name} is no part of the road"
            assert STOPS[there] < STOPS[part(file)], f"{name} does not stand to the left of {part(file)}"


@pytest.mark.parametrize(("library", "door"), DOORS.items())
def test_each_library_has_one_door(library: str, door: list[str]):
    users = {part(f) for f in FILES if any(name.split(".")[0] == library for name in imports(f))}
    assert users <= set(door)
    assert users, f"nobody uses {library}: take it off the list"


def test_the_top_level_is_the_one_described():
    seen = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")}
    assert seen - {"__pycache__"} == TOP
