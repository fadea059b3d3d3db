"""One change to a YAML text that people also write by hand: `with_value(text, path, value) -> str`.

Everything else stays letter for letter as it was: comments, order, quotes, blank lines. Each change
is read back before it is given out; one that would say something else raises `CannotEdit`.
"""

from __future__ import annotations

import copy
from typing import Any

from planner.faults import Faults
from planner.files.fragments import fits_a_line, inline, item_lines, key_lines, lines
from planner.files.marks import (
    CannotEdit,
    Spot,
    after_colon,
    children,
    compose,
    end_of,
    is_empty,
    is_flow,
    line_end,
    line_start,
    spot_at,
    start_of,
)
from planner.files.tree import KeyPath, Node, yaml_tree


def with_value(text: str, path: KeyPath, value: Node) -> str:
    """The text with that value at the path; a key that is not there yet is put last in its mapping.

    Of a list or mapping only what differs is touched. Raises CannotEdit.
    """
    old = _read(text)
    for place in range(len(path)):
        holder = _at(old, path[:place])
        if not isinstance(holder, dict | list) or (isinstance(holder, dict) and path[place] not in holder):
            for part in reversed(path[place + 1 :]):
                value = {str(part): value}
            return _with_key(text, path[: place + 1], value)
    return _merged(text, path, _at(old, path), value)


def with_item(text: str, path: KeyPath, value: Node) -> str:
    """The text with the value put before item `path[-1]` of a list, or last. Raises CannotEdit."""
    *upper, place = path
    wanted = _read(text)
    holder = _at(wanted, tuple(upper))
    if not isinstance(holder, list) or not holder:
        return with_value(text, tuple(upper), [*(holder if isinstance(holder, list) else []), value])
    holder.insert(int(place), value)
    spot = spot_at(compose(text), tuple(upper))
    return _checked(_item_put_in(text, spot.node, min(int(place), len(holder) - 1), value), wanted)


def without(text: str, path: KeyPath) -> str:
    """The text without that key or item; the last of a list leaves empty brackets. Raises CannotEdit."""
    wanted = _read(text)
    holder = _at(wanted, path[:-1])
    spot = spot_at(compose(text), path)
    del holder[path[-1]]  # type: ignore[union-attr,arg-type]
    if not holder:
        return with_value(text, path[:-1], holder)
    return _checked(_taken_out(text, spot), wanted)


def swapped(text: str, path: KeyPath) -> str:
    """The text with item `path[-1]` of a list and the one after it changed round. Raises CannotEdit."""
    *upper, place = path
    wanted = _read(text)
    holder = _at(wanted, tuple(upper))
    number = int(place)
    if not isinstance(holder, list) or not 0 <= number < len(holder) - 1:
        raise CannotEdit("there is nothing after it to change places with")
    holder[number], holder[number + 1] = holder[number + 1], holder[number]
    node = spot_at(compose(text), tuple(upper)).node
    first, second = node.value[number], node.value[number + 1]
    a, b = first.start_mark.index, end_of(text, first)
    c, d = second.start_mark.index, end_of(text, second)
    return _checked(text[:a] + text[c:d] + text[b:c] + text[a:b] + text[d:], wanted)


def renamed(text: str, path: KeyPath, name: str) -> str:
    """The text with another name for the key at the end of the path. Raises CannotEdit."""
    wanted = _read(text)
    holder = _at(wanted, path[:-1])
    if not isinstance(holder, dict) or name in holder:
        raise CannotEdit(f"{name!r} stands there already")
    pairs = [(name if key == path[-1] else key, value) for key, value in holder.items()]
    holder.clear()
    holder.update(pairs)
    key = spot_at(compose(text), path).key
    begin, end = key.start_mark.index, key.end_mark.index
    return _checked(text[:begin] + inline(name) + text[end:], wanted)


def _read(text: str) -> Node:
    faults = Faults()
    tree = yaml_tree(text, "", faults)
    if tree is None or faults.faults:
        raise CannotEdit("the text has a mistake of form; mend that first")
    return copy.deepcopy(tree.value)


def _at(value: Node, path: KeyPath) -> Node:
    for part in path:
        try:
            value = value[part]  # type: ignore[index]
        except (KeyError, IndexError, TypeError) as error:
            raise CannotEdit(f"there is no {part!r} in the text") from error
    return value


def _checked(text: str, wanted: Node) -> str:
    """The text, if it says what was meant."""
    if _read(text) != wanted:
        raise CannotEdit("this part is written in a way that only its text can be changed")
    return text


def _wanted(text: str, path: KeyPath, value: Node) -> Node:
    if not path:
        return value
    found = _read(text)
    _at(found, path[:-1])[path[-1]] = value  # type: ignore[index]
    return found


def _merged(text: str, path: KeyPath, old: Node, new: Node) -> str:
    """Only what differs is written; what has another form is written whole."""
    if old == new:
        return text
    if isinstance(old, dict) and isinstance(new, dict) and old and new:
        for key in [key for key in old if key not in new]:
            text = without(text, (*path, key))
        for key, value in new.items():
            known = key in old
            text = (
                _merged(text, (*path, key), old[key], value)
                if known
                else _with_key(text, (*path, key), value)
            )
        return text
    if isinstance(old, list) and isinstance(new, list) and old and new:
        return _merged_list(text, path, old, new)
    return _checked(_replaced(text, spot_at(compose(text), path), new), _wanted(text, path, new))


def _merged_list(text: str, path: KeyPath, old: list[Node], new: list[Node]) -> str:
    """Items that stay at either end are left alone; of those between, as many as there are change."""
    head = next(
        (n for n, (a, b) in enumerate(zip(old, new, strict=False)) if a != b), min(len(old), len(new))
    )
    most = min(len(old), len(new)) - head
    tail = next((n for n in range(most) if old[-1 - n] != new[-1 - n]), most)
    both = min(len(old), len(new)) - head - tail
    for number in range(len(old) - tail - 1, head + both - 1, -1):
        text = without(text, (*path, number))
    for number in range(head, head + both):
        text = _merged(text, (*path, number), old[number], new[number])
    for number in range(head + both, len(new) - tail):
        text = with_item(text, (*path, number), new[number])
    return text


def _replaced(text: str, spot: Spot, value: Node) -> str:
    inner = is_flow(spot.parent) if spot.parent is not None else False
    written = [inline(value)] if inner else lines(value, is_whole=False)
    end = end_of(text, spot.node, spot.key)
    if spot.key is None:
        begin = end if is_empty(spot.node) else spot.node.start_mark.index
        gap = " " if is_empty(spot.node) else ""
        column = begin - line_start(text, begin)
        return text[:begin] + gap + _indented(written, column).lstrip() + text[end:]
    begin = after_colon(text, spot.key)
    between = "" if is_empty(spot.node) else text[begin : spot.node.start_mark.index]
    comment = between.rstrip() if "#" in between else ""
    if inner or fits_a_line(value):
        return text[:begin] + " " + written[0] + comment + text[end:]
    column = spot.key.start_mark.column + 2
    return text[:begin] + comment + "\n" + _indented(written, column) + text[end:]


def _with_key(text: str, path: KeyPath, value: Node) -> str:
    """Puts a new key last in the mapping at the path's front."""
    wanted = _read(text)
    holder = _at(wanted, path[:-1])
    key = str(path[-1])
    if holder is None or holder in ("", {}):
        return with_value(text, path[:-1], {key: value})
    if not isinstance(holder, dict):
        raise CannotEdit(f"{path[-2] if len(path) > 1 else 'the file'!r} is not written as keys with values")
    holder[key] = value
    node = spot_at(compose(text), path[:-1]).node
    last_key, last = children(node)[-1]
    end = end_of(text, last, last_key)
    if is_flow(node):
        return _checked(text[:end] + f", {inline(key)}: {inline(value)}" + text[end:], wanted)
    return _checked(_lines_after(text, end, key_lines(key, value), node.start_mark.column), wanted)


def _item_put_in(text: str, node: Any, place: int, value: Node) -> str:
    items = node.value
    if is_flow(node):
        if place < len(items):
            begin = items[place].start_mark.index
            return text[:begin] + inline(value) + ", " + text[begin:]
        end = end_of(text, items[-1])
        return text[:end] + ", " + inline(value) + text[end:]
    column = node.start_mark.column
    if place:
        return _lines_after(text, end_of(text, items[place - 1]), item_lines(value), column)
    begin = line_start(text, node.start_mark.index)
    return text[:begin] + _indented(item_lines(value), column) + "\n" + text[begin:]


def _lines_after(text: str, place: int, written: list[str], column: int) -> str:
    """New lines below the line of that letter."""
    end = line_end(text, place)
    newline = "" if text[:end].endswith("\n") else "\n"
    return text[:end] + newline + _indented(written, column) + "\n" + text[end:]


def _indented(written: list[str], column: int) -> str:
    return "\n".join(" " * column + line for line in written)


def _taken_out(text: str, spot: Spot) -> str:
    """The text without an entry that is not the only one."""
    pairs = children(spot.parent)
    begin, end = start_of(spot), end_of(text, spot.node, spot.key)
    following = pairs[spot.number + 1] if spot.number + 1 < len(pairs) else None
    next_begin = (
        (following[0] if following[0] is not None else following[1]).start_mark.index if following else 0
    )
    if is_flow(spot.parent):
        if following:
            return text[:begin] + text[next_begin:]
        before_key, before = pairs[spot.number - 1]
        return text[: end_of(text, before, before_key)] + text[end:]
    opening = text[line_start(text, begin) : begin]
    own_dash = spot.key is None and opening.strip(" ") == "-"
    if own_dash or not opening.strip():
        return text[: line_start(text, begin)] + text[line_end(text, end) :]
    return text[:begin] + text[next_begin:]
