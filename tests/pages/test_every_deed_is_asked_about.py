"""No page writes a file or hands one out without asking whether the person may: read off the pages' code."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

PAGES = sorted((Path(__file__).parents[2] / "planner" / "pages").glob("*.py"))
WRITES = {
    "write_text", "put_in_force", "save", "undo_last", "write_whole",  # into files of the study
    "draft.change", "draft.throw_away", "study.change",  # into a draft, which the next person goes on with
    "solving.stop", "solving.forget", "dry_run.begin", "dry_run.end",  # for everybody
}  # fmt: skip
ASKS = {"may", "may_edit", "may_in", "checked"}
# The recording itself is asked about where it is called; solving's notes are no deeds of a person.
ELSEWHERE = {"solving.py", "remember.py"}


def called(node: ast.AST) -> Iterator[str]:
    for one in ast.walk(node):
        if isinstance(one, ast.Call):
            yield one.func.attr if isinstance(one.func, ast.Attribute) else getattr(one.func, "id", "")
        if isinstance(one, ast.Attribute):  # also where it is handed on, to be called after a press
            yield f"{getattr(one.value, 'id', '')}.{one.attr}"


def functions(path: Path) -> Iterator[ast.FunctionDef]:
    """The outermost functions; what stands in them counts as theirs."""
    return (one for one in ast.parse(path.read_text("utf-8")).body if isinstance(one, ast.FunctionDef))


@pytest.mark.parametrize("path", [path for path in PAGES if path.name not in ELSEWHERE], ids=lambda p: p.name)
def test_who_writes_or_hands_out_asks_first(path: Path):
    calls = {one.name: set(called(one)) for one in functions(path)}
    asking = {name for name, names in calls.items() if names & ASKS}
    silent = [
        name
        for name, names in calls.items()
        if names & (WRITES | {"download_button"})
        and name not in asking
        and not _is_helper(name, calls, asking)
    ]
    assert silent == []


def _is_helper(name: str, calls: dict[str, set[str]], asking: set[str]) -> bool:
    """Whether it is called in its own module alone, and only by functions that have asked."""
    callers = {other for other, names in calls.items() if name in names}
    return name.startswith("_") and bool(callers) and callers <= asking
