"""A protocol's tables: which rows each has, and how a change in a cell becomes a change of the text."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from planner.faults import Faults
from planner.files import KeyPath, Node, yaml_tree
from planner.files.edit import renamed, with_item, with_value, without
from planner.files.marks import CannotEdit
from planner.pages.protocol_fields import (
    DURING,
    ENOUGH,
    ID,
    MANOEUVRE,
    PREPARATION,
    READING,
    STEP,
    STOP_IF,
    WINDOW,
    Field,
    shown,
    written,
)
from planner.pages.typed import as_written

NAME = "Short name"


@dataclass(frozen=True, slots=True)
class Sheet:
    """One table: its items stand at `path` (a list, or a mapping by name), `rows` fixed or free."""

    path: KeyPath
    fields: tuple[Field, ...]
    is_named: bool = False  # a mapping: the name of an item is its key
    is_free: bool = True  # rows may be added and taken away
    name: str = NAME  # the head of the column of names
    is_when: bool = False  # its names are days


MANOEUVRES = Sheet(("manoeuvres",), MANOEUVRE, is_named=True)
STEPS = Sheet(("visit",), STEP)
PREPARATIONS = Sheet(("preparation",), PREPARATION)
WINDOWS = Sheet(("visit",), (ID, *WINDOW), is_free=False)


def readings_of(name: str) -> Sheet:
    """The readings of one manoeuvre."""
    return Sheet(("manoeuvres", name, "readings"), READING, is_named=True)


def enough_of(name: str) -> Sheet:
    """When to finish one manoeuvre."""
    return Sheet(("manoeuvres", name, "enough"), ENOUGH)


def stop_of(name: str) -> Sheet:
    """When to stop and ask, of one manoeuvre."""
    return Sheet(("manoeuvres", name, "stop_if"), STOP_IF)


def during_of(step: int) -> Sheet:
    """What is measured during one part of the visit."""
    return Sheet(("visit", step, "during"), DURING)


def value_at(value: Node, path: KeyPath) -> Node:
    """What stands at that path, None where nothing does."""
    for part in path:
        if isinstance(value, dict):
            value = value.get(str(part))
        elif isinstance(value, list) and isinstance(part, int) and part < len(value):
            value = value[part]
        else:
            return None
    return value


def tree_of(text: str) -> Node:
    """The values of a text; CannotEdit where it cannot be read."""
    faults = Faults()
    tree = yaml_tree(text, "", faults)
    if tree is None or faults.faults:
        raise CannotEdit("the text has a mistake of form; mend that first")
    return tree.value


def item_paths(value: Node, sheet: Sheet) -> list[KeyPath]:
    """Where each row's item stands."""
    items = value_at(value, sheet.path)
    if isinstance(items, dict):
        return [(*sheet.path, key) for key in items]
    return [(*sheet.path, number) for number in range(len(items))] if isinstance(items, list) else []


def rows_of(value: Node, sheet: Sheet) -> list[dict[str, Any]]:
    """The rows as a table shows them: text by label, flags as true or false."""
    rows = []
    for path in item_paths(value, sheet):
        item = value_at(value, path)
        row: dict[str, Any] = {sheet.name: str(path[-1])} if sheet.is_named else {}
        for field in sheet.fields:
            text = shown(item, field)
            row[field.label] = text == "true" if field.kind == "flag" else text
        rows.append(row)
    return rows


def with_edits(text: str, sheet: Sheet, edits: Mapping[str, Any]) -> str:
    """The text after what was done in the table: cells changed, rows added, rows taken away."""
    value = tree_of(text)
    paths = item_paths(value, sheet)
    for number, cells in edits.get("edited_rows", {}).items():
        text = _with_cells(text, sheet, paths[int(number)], cells)
    for row in edits.get("added_rows", ()):
        text = _with_row(text, sheet, row)
    value = tree_of(text)
    now = item_paths(value, sheet)
    for number in sorted(map(int, edits.get("deleted_rows", ())), reverse=True):
        text = without(text, now[number])
    return text


def _with_cells(text: str, sheet: Sheet, path: KeyPath, cells: Mapping[str, Any]) -> str:
    item = value_at(tree_of(text), path)
    for field in sheet.fields:
        if field.label in cells and field is not ID:
            item = written(item, field, _text(cells[field.label]))
    text = with_value(text, path, item)
    if cells.get(sheet.name):
        text = with_name(text, path, _name(sheet, cells))
    return text


def _with_row(text: str, sheet: Sheet, row: Mapping[str, Any]) -> str:
    item: Node = {}
    for field in sheet.fields:
        if row.get(field.label):
            item = written(item, field, _text(row[field.label]))
    if not any(row.values()):  # a row that was begun, and nothing is typed in it yet
        return text
    if not sheet.is_named:
        items = value_at(tree_of(text), sheet.path)
        new: Node = item or {str(sheet.fields[0].path[0]): None}
        if not isinstance(items, list):
            return with_value(text, sheet.path, [new])
        return with_item(text, (*sheet.path, len(items)), new)
    names = value_at(tree_of(text), sheet.path)
    name = _name(sheet, row) or _free_name(names)
    return with_value(text, (*sheet.path, name), item or None)


def _name(sheet: Sheet, cells: Mapping[str, Any]) -> str:
    name = _text(cells.get(sheet.name)).strip()
    return as_written(name) if sheet.is_when else name


def _free_name(names: Node) -> str:
    number = 1
    while isinstance(names, dict) and f"new-{number}" in names:
        number += 1
    return f"new-{number}"


def _text(value: Any) -> str:
    return "" if value is None else str(value)


def with_name(text: str, path: KeyPath, name: str) -> str:
    """The text with another name for a manoeuvre, a reading or a part of the visit, also where it is used."""
    value = tree_of(text)
    if path[0] == "visit":
        old = shown(value_at(value, path), ID)
        text = with_value(text, (*path, "id"), name)
        return _used_anew(text, ("after", "before"), old, name) if old else text
    old = str(path[-1])
    text = renamed(text, path, name) if name != old else text
    if len(path) == 2:
        return _used_anew(text, ("like", "measure"), old, name)
    return text


def _used_anew(text: str, keys: Sequence[str], old: str, new: str) -> str:
    """Puts the new name wherever one of these keys names the old one."""
    faults = Faults()
    tree = yaml_tree(text, "", faults)
    if tree is None:
        return text
    for path in tree.places:
        names = [part for part in path if isinstance(part, str)]
        if names and names[-1] in keys and value_at(tree.value, path) == old:
            text = with_value(text, path, new)
    return text
