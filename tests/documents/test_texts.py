"""All texts stand in one file; every key that the code asks for is there, and none is idle."""

import ast
import re
from pathlib import Path

import pytest

from planner.documents import texts
from planner.documents.texts import _texts, lines, say

ROOM = Path(texts.__file__).parents[1]
# Keys whose last part the code puts together from values.
COMPOSED = (
    "on_site.", "boards.kind.", "folder.kinds.", "ethics.kinds.", "ethics.group_", "leaflet.breath_", "leaflet.how_",  # noqa: E501
    "leaflet.feels_", "leaflet.bring", "leaflet.wear",
)  # fmt: skip


def keys(tree, head=""):
    for key, value in tree.items():
        if isinstance(value, dict):
            yield from keys(value, f"{head}{key}.")
        else:
            yield f"{head}{key}"


def constants():
    """Every string constant of the room's code."""
    for file in ROOM.rglob("*.py"):
        for node in ast.walk(ast.parse(file.read_text("utf-8"))):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                yield node.value


def test_every_text_is_used():
    used = set(constants())
    unused = [
        key
        for key in keys(_texts("en"))
        if key not in used and not key.startswith(COMPOSED) and key.split(".", 1)[1] not in used
    ]
    assert unused == []


def test_every_key_asked_for_is_there():
    known = set(keys(_texts("en")))
    asked = set()
    for file in ROOM.rglob("*.py"):
        for node in ast.walk(ast.parse(file.read_text("utf-8"))):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") in ("say", "lines") and node.args:
                first = node.args[0]
                if isinstance(first, ast.Constant):
                    asked.add(first.value)
    assert len(asked) > 100
    assert asked <= known


def test_an_unknown_key_or_an_empty_place_is_a_slip():
    with pytest.raises(KeyError):
        say("run_sheet.no_such_text")
    with pytest.raises(KeyError):
        say("run_sheet.arrival", time="09:00")
    with pytest.raises(KeyError):
        lines("run_sheet.arrival")


def test_templates_hold_no_words_of_their_own():
    """Anything in quotes or brackets that a person would read comes from the values."""
    for file in (ROOM / "templates").glob("*.typ"):
        code = "\n".join(line.split("//")[0] for line in file.read_text("utf-8").splitlines())
        assert not re.search(r"\[[A-Z][a-z]+ [a-z]+", code), file.name


def test_texts_claim_nothing_they_may_not():
    """No praise, no exclamation, no claim to meet a standard or a law."""
    for key in keys(_texts("en")):
        value = _texts("en")
        for part in key.split("."):
            value = value[part]
        for text in value if isinstance(value, list) else [str(value)]:
            assert "!" not in text, key
            assert not re.search(r"\b(complies|certified|meets the|approved by)\b", text, re.IGNORECASE), key
