"""A YAML file to values that know their line and column; the one door to the YAML parser.

Every scalar comes as the text that was written: `5:00`, `no` and `010` stay what they are, and the
types of the next room decide what they mean.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeAlias

from planner.faults import Faults, Place
from planner.files.syntax import syntax_fault
from planner.files.text import place_in, text_of, without_refused

KeyPath: TypeAlias = tuple[str | int, ...]
Node: TypeAlias = "dict[str, Node] | list[Node] | str | None"

MOST_YAML_BYTES = 1_000_000
MOST_DEPTH = 30
MOST_VALUES = 40_000  # keys too; read in about a second; a visit with 1000 steps has 27 000
MOST_LINES = 50_000
MOST_NOTED = 200  # of one file, while its form is read
_NULLS = {"", "~", "null", "Null", "NULL"}
_LONG_TAG = re.compile(r"![^\s'\"]{200}")


@dataclass(frozen=True, slots=True)
class Tree:
    """A YAML file: nested dicts, lists and texts (None where nothing is written).

    `places` leads from a path of keys to where its key or list item begins; the empty path is the
    whole file.
    """

    file: str
    value: Node
    places: Mapping[KeyPath, Place]
    values: Mapping[KeyPath, Place]

    def place(self, path: KeyPath) -> Place:
        """Where that key or item begins, or its nearest parent."""
        while path and path not in self.places:
            path = path[:-1]
        return self.places.get(path, Place(self.file))

    def value_place(self, path: KeyPath) -> Place:
        """Where the value of that key begins, or the key of its nearest parent."""
        return self.values.get(path) or self.place(path)


def read_yaml(path: Path, faults: Faults, *, shown: str | None = None) -> Tree | None:
    """The file's tree, or None where it cannot be read; what is wrong goes into `faults`."""
    file = shown or path.name
    text = text_of(path, file, faults, MOST_YAML_BYTES, "1 MB")
    return None if text is None else yaml_tree(text, file, faults)


def yaml_tree(text: str, file: str, faults: Faults) -> Tree | None:
    """The tree of a text, as `read_yaml` gives it for a file."""
    if _would_keep_the_parser_busy(text, file, faults):
        return None
    if "\t" in text:  # at the end of a line a tab means nothing, but the parser stumbles over it
        text = "\n".join(_without_last_tabs(line) for line in text.split("\n"))
    builder = _Builder(file, faults)
    try:
        value = builder.document(_events(text))
    except _Refused as refused:
        faults.add(*refused.args)
        return None
    return Tree(file, value, builder.places, builder.values)


def _would_keep_the_parser_busy(text: str, file: str, faults: Faults) -> bool:
    """Whether the text is refused because parsing it takes long: that much no person writes."""
    if text.count("\n") > MOST_LINES:
        faults.add(
            Place(file, MOST_LINES + 1), "too-many-lines", f"the file has more than {MOST_LINES} lines"
        )
        return True
    if found := _LONG_TAG.search(text):  # the parser's time grows with the square of a tag's length
        words = "more than 200 letters follow an exclamation mark without a space"
        faults.add(place_in(text[: found.start()], file), "tag", words, "Put the text in quotes.")
        return True
    return False


def _without_last_tabs(line: str) -> str:
    bare = line.removesuffix("\r")
    return bare.rstrip(" \t") + line[len(bare) :]


class _Refused(Exception):  # noqa: N818 - says what happened to the file
    """Ends the reading of a file; carries the arguments of `Faults.add`."""


def _events(text: str) -> Iterator[Any]:
    from ruamel.yaml import YAML

    return iter(YAML(typ="safe", pure=True).parse(text))


@dataclass(slots=True)
class _Builder:
    """Turns parser events into a tree; what YAML allows and we do not is noted on the way."""

    file: str
    faults: Faults
    places: dict[KeyPath, Place] = field(default_factory=dict)
    values: dict[KeyPath, Place] = field(default_factory=dict)
    events: Iterator[Any] = field(default_factory=lambda: iter(()))
    count: int = 0

    def document(self, events: Iterator[Any]) -> Node:
        self.events = events
        start = self.next("StreamStartEvent", "DocumentStartEvent")
        if start.__class__.__name__ == "StreamEndEvent":
            raise _Refused(Place(self.file), "empty-file", "the file is empty")
        if (version := getattr(start, "version", None)) and tuple(version) != (1, 2):
            self.note(start, "yaml-version", "the file asks for another YAML than 1.2; leave out the % line")
        first = self.next()
        self.places[()] = self.place(first)
        value = self.node(first, ())
        if value is None:
            raise _Refused(self.places[()], "empty-file", "the file holds nothing")
        self.next("DocumentEndEvent")
        end = self.next()
        if end.__class__.__name__ != "StreamEndEvent":
            self.note(end, "several-documents", "a second document begins here; a file holds one")
        return value

    def next(self, *skipped: str) -> Any:
        """The next event; of the `skipped` kinds, the last one passed when the stream goes on."""
        try:
            event = next(self.events)
            for _ in skipped[1:]:
                event = next(self.events)
        except StopIteration:
            raise _Refused(Place(self.file), "empty-file", "the file is empty") from None
        except Exception as error:  # the parser meets nonsense with many kinds of exception
            raise _Refused(*syntax_fault(error, self.file)) from None
        return event

    def place(self, event: Any) -> Place:
        return Place(self.file, event.start_mark.line + 1, event.start_mark.column + 1)

    def note(self, event: Any, code: str, message: str, hint: str = "") -> None:
        if len(self.faults.faults) < MOST_NOTED:
            self.faults.add(self.place(event), code, message, hint)

    def node(self, event: Any, path: KeyPath) -> Node:
        self.count += 1
        self.values[path] = self.place(event)
        if self.count > MOST_VALUES or len(path) > MOST_DEPTH:
            words = ("too-deep", f"more than {MOST_DEPTH} levels inside each other")
            if self.count > MOST_VALUES:
                words = ("too-many-values", f"the file holds more than {MOST_VALUES} values")
            raise _Refused(self.place(event), *words)
        kind = event.__class__.__name__
        if kind == "AliasEvent":
            self.note(event, "alias", f"the alias *{event.anchor} stands here", "Write the value out.")
            return None
        if event.anchor:
            self.note(event, "anchor", f"the anchor &{event.anchor} stands here", "Anchors are not read.")
        if getattr(event, "tag", None):
            self.note(
                event, "tag", f"the tag {event.tag} stands here", "Leave it out; write the value plainly."
            )
        if kind == "SequenceStartEvent":
            return self.items(path)
        if kind == "MappingStartEvent":
            return self.mapping(path)
        if event.style is None and event.value in _NULLS:
            return None
        text, refused = without_refused(str(event.value))
        if refused:  # written as an escape, such as "\\u0007": documents cannot hold it
            self.note(
                event, "control-character", f"the control character {refused} stands here", "Remove it."
            )
        return text

    def items(self, path: KeyPath) -> list[Node]:
        found: list[Node] = []
        while (event := self.next()).__class__.__name__ != "SequenceEndEvent":
            here = (*path, len(found))
            self.places[here] = self.place(event)
            found.append(self.node(event, here))
        return found

    def mapping(self, path: KeyPath) -> dict[str, Node]:
        found: dict[str, Node] = {}
        while (event := self.next()).__class__.__name__ != "MappingEndEvent":
            key = self.key(event, path)
            aside = (*path, f"(not read, {self.count})")  # what is refused keeps a path of its own
            if key in found:
                first = self.places[(*path, key)].line
                self.note(event, "duplicate-key", f"the key {key!r} stands here again, first in line {first}")
            here = aside if key is None or key in found else (*path, key)
            self.places[here] = self.place(event)
            value = self.node(self.next(), here)
            if key is not None and key not in found:
                found[key] = value
        return found

    def key(self, event: Any, path: KeyPath) -> str | None:
        """The text of a key, or None where it is not one that we read."""
        value = self.node(event, (*path, f"(key {self.count})"))
        if event.__class__.__name__ == "AliasEvent":
            return None
        if event.__class__.__name__ != "ScalarEvent":
            self.note(event, "key-kind", "a key must be plain text")
        elif event.value == "<<" and event.style is None:
            self.note(
                event, "merge-key", "the merge key << stands here", "Write the keys out, or use `like`."
            )
        elif value is None:
            self.note(event, "key-kind", "a key is missing before the colon")
        else:
            return str(value)
        return None
