"""YAML and CSV files to values that know their line and column; the one door to the YAML parser.

Every scalar of a YAML file comes as the text that was written: `5:00`, `no` and `010` stay what
they are, and the types of the next room decide what they mean.
"""

from __future__ import annotations

import csv
import os
import re
import stat
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeAlias

from planner.faults import Faults, Place

KeyPath: TypeAlias = tuple[str | int, ...]
Node: TypeAlias = "dict[str, Node] | list[Node] | str | None"

MOST_YAML_BYTES = 1_000_000
MOST_TABLE_BYTES = 50_000_000
MOST_DEPTH = 30
MOST_VALUES = 50_000  # read in about a second; a visit with 1000 steps has 15 000
_NULLS = {"", "~", "null", "Null", "NULL"}
_REFUSED = re.compile("[^\t\n\r\x20-\x7e\xa0-\u2027\u202a-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_NAME = re.compile(r"(?:\.\./(?:[^/\\:\x00-\x1f]+/)?)?[^/\\:\x00-\x1f]+")


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
    text = _text(path, file, faults, MOST_YAML_BYTES, "1 MB")
    return None if text is None else yaml_tree(text, file, faults)


def yaml_tree(text: str, file: str, faults: Faults) -> Tree | None:
    """The tree of a text, as `read_yaml` gives it for a file."""
    builder = _Builder(file, faults)
    try:
        value = builder.document(_events(text))
    except _Refused as refused:
        faults.add(*refused.args)
        return None
    return Tree(file, value, builder.places, builder.values)


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
            raise _Refused(*_syntax(error, self.file)) from None
        return event

    def place(self, event: Any) -> Place:
        return Place(self.file, event.start_mark.line + 1, event.start_mark.column + 1)

    def note(self, event: Any, code: str, message: str, hint: str = "") -> None:
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
        return None if event.style is None and event.value in _NULLS else str(event.value)

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


def _syntax(error: Exception, file: str) -> tuple[Place, str, str, str]:
    """What the parser stumbled over, in our words."""
    problem = str(getattr(error, "problem", None) or "it makes no sense to the parser")
    marks = [getattr(error, name, None) for name in ("problem_mark", "context_mark")]
    if re.search("end of stream|stream end|expected ',' or|expected ':'", problem):
        marks.reverse()  # the mistake is where the quote, bracket or key began
    mark = marks[0] or marks[1]
    place = Place(file, mark.line + 1, mark.column + 1) if mark else Place(file)
    if "\\t" in problem or "tab" in problem.split():
        return place, "tab", "a tab stands where spaces are needed", "Indent with spaces."
    context = str(getattr(error, "context", None) or "")
    words = f"{problem} {context}".strip()
    return place, "yaml-syntax", f"this is not valid YAML: {words}", _syntax_hint(words)


def _syntax_hint(words: str) -> str:
    if "could not find expected ':'" in words or "mapping values are not allowed" in words:
        return "Check the colons and the indentation here and in the line above."
    if "quoted scalar" in words or "end of stream" in words or "expected ',' or" in words:
        return "Check that every quote and bracket is closed."
    return "Check the indentation here and in the line above."


def _text(path: Path, file: str, faults: Faults, most: int, most_words: str) -> str | None:
    """The decoded text of a regular file of at most that many bytes, byte-order mark removed."""
    data = _bytes(path, file, faults, most, most_words)
    if data is None:
        return None
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        faults.add(Place(file), "encoding", "the file is in UTF-16", "Save it as UTF-8.")
        return None
    try:
        text = data.removeprefix(b"\xef\xbb\xbf").decode()
    except UnicodeDecodeError as error:
        place = _place_in(error.object[: error.start].decode(), file)
        faults.add(place, "encoding", "a character here is not UTF-8", "Save the file as UTF-8.")
        return None
    if refused := _REFUSED.search(text):
        place = _place_in(text[: refused.start()], file)
        code = f"U+{ord(refused[0]):04X}"
        faults.add(place, "control-character", f"the control character {code} stands here", "Remove it.")
        return None
    return text


def _bytes(path: Path, file: str, faults: Faults, most: int, most_words: str) -> bytes | None:
    try:
        mode = os.stat(path).st_mode
        if not stat.S_ISREG(mode):  # a pipe or device would block or never end
            what = "a folder" if stat.S_ISDIR(mode) else "no ordinary file"
            faults.add(Place(file), "not-a-file", f"{file} is {what}", "Name a file.")
            return None
        with open(path, "rb") as stream:
            data = stream.read(most + 1)
    except (FileNotFoundError, NotADirectoryError):
        faults.add(Place(file), "no-file", f"there is no file {file}", nearest_file(path))
        return None
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or "its name is not one"
        faults.add(Place(file), "unreadable", f"{file} cannot be read: {why}")
        return None
    if len(data) > most:
        faults.add(Place(file), "too-big", f"{file} is larger than {most_words}", "It was not read.")
        return None
    return data


def _place_in(before: str, file: str) -> Place:
    """The place that follows a piece of text."""
    lines = re.split("\r\n|\n|\r", before)
    return Place(file, len(lines), len(lines[-1]) + 1)


def nearest_file(path: Path) -> str:
    """A hint naming the file of that folder whose name comes nearest, or nothing."""
    from difflib import get_close_matches

    try:
        names = sorted(name for name in os.listdir(path.parent) if name.endswith(path.suffix or "."))
    except (OSError, ValueError):
        return ""
    near = get_close_matches(path.name, names[:1000], 1)
    return f"Did you mean {near[0]}?" if near else ""


@dataclass(frozen=True, slots=True)
class Row:
    """One line of a table; `line` is where it begins. `cells` maps each known column to its text."""

    file: str
    line: int
    columns: tuple[str, ...]
    texts: tuple[str, ...]
    starts: tuple[int, ...]  # where each cell begins, counted from 1

    @property
    def cells(self) -> dict[str, str]:
        """Text by column, outer spaces removed; columns that the table lacks are not in it."""
        return dict(zip(self.columns, self.texts, strict=True))

    def place(self, column: str) -> Place:
        """Where the cell of that column begins; the line's start where the table lacks the column."""
        start = self.starts[self.columns.index(column)] if column in self.columns else 1
        return Place(self.file, self.line, start)


@dataclass(frozen=True, slots=True)
class Table:
    """A CSV file with a head row; blank lines are left out."""

    file: str
    columns: tuple[str, ...]
    rows: tuple[Row, ...]


def read_table(
    path: Path,
    faults: Faults,
    *,
    needed: Sequence[str],
    optional: Sequence[str] = (),
    shown: str | None = None,
) -> Table | None:
    """The CSV table, or None where it cannot be read; faults are noted, an unknown column is a warning."""
    file = shown or path.name
    text = _text(path, file, faults, MOST_TABLE_BYTES, "50 MB")
    if text is None:
        return None
    rows = _rows(text, file, faults)
    head = next(rows, None)
    if head is None:
        faults.add(Place(file), "empty-file", f"{file} is empty", f"Its head row is {','.join(needed)}.")
        return None
    columns = head.texts
    if not head_is_sound(head, faults, needed, optional):
        return None
    body = tuple(row for row in (in_columns(row, columns, faults) for row in rows) if row)
    return Table(file, columns, body)


def _rows(text: str, file: str, faults: Faults) -> Iterator[Row]:
    """The rows as written, without blank ones; stops at a row that CSV cannot hold."""
    lines = text.splitlines(keepends=True)
    reader = csv.reader(lines, strict=True)
    same: dict[str, str] = {}  # a long table repeats its words: keep each once
    while True:
        line = reader.line_num + 1
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            faults.add(
                Place(file, line), "table-syntax", f"this row cannot be read: {error}", "Check its quotes."
            )
            return
        texts = tuple(same.setdefault(word, word) for word in (cell.strip() for cell in cells))
        if any(texts):
            yield Row(file, line, texts, texts, _starts(lines[line - 1], len(texts)))


def _starts(line: str, count: int) -> tuple[int, ...]:
    """Where each cell begins in the row's first line; cells on a later line get the last one seen."""
    starts, quoted = [1], False
    for number, letter in enumerate(line, start=1):
        if letter == '"':
            quoted = not quoted
        elif letter == "," and not quoted:
            starts.append(number + 1)
    return tuple((starts + starts[-1:] * count)[:count])


def head_is_sound(head: Row, faults: Faults, needed: Sequence[str], optional: Sequence[str]) -> bool:
    """Whether the head row names all that is needed, nothing twice; what it lacks or adds is noted."""
    from difflib import get_close_matches

    before = len(faults.faults)
    known = [*needed, *optional]
    lacking = [column for column in needed if column not in head.texts]
    if lacking and len(head.texts) == 1 and re.search("[;\t]", head.texts[0]):
        faults.add(Place(head.file, head.line), "separator", "the columns are not separated by commas")
        return False
    for number, column in enumerate(head.texts):
        place = Place(head.file, head.line, head.starts[number])
        if column in head.texts[:number]:
            faults.add(place, "duplicate-column", f"the column {column!r} stands here again")
        elif column not in known:
            near = get_close_matches(column, known, 1)
            hint = f"Did you mean {near[0]!r}?" if near else f"Known are {', '.join(known)}."
            faults.warn(place, "unknown-column", f"the column {column!r} is not known and is not read", hint)
    for column in lacking:
        words = f"the column {column!r} is missing"
        faults.add(Place(head.file, head.line), "missing-column", words, f"Needed are {', '.join(needed)}.")
    return len(faults.faults) == before


def in_columns(row: Row, columns: tuple[str, ...], faults: Faults) -> Row | None:
    """The row under its head; a row with too many cells is a fault, lacking cells at its end are empty."""
    extra = [text for text in row.texts[len(columns) :] if text]
    if extra:
        place = Place(row.file, row.line, row.starts[len(columns)])
        words = f"this row has {len(row.texts)} cells under {len(columns)} columns"
        faults.add(place, "extra-cell", words, "Put quotes around a cell with a comma.")
        return None
    lack = len(columns) - len(row.texts)
    texts = (row.texts + ("",) * lack)[: len(columns)]
    starts = (row.starts + row.starts[-1:] * lack)[: len(columns)]
    return Row(row.file, row.line, columns, texts, starts)


def inside(folder: Path, name: str, place: Place, faults: Faults) -> Path | None:
    """The path of a file that a study names, or None with a fault: a plain name in the folder or one up.

    `../x.yaml` and `../protocols/x.yaml` are one folder up. Links are not followed.
    """
    if not _NAME.fullmatch(name) or any(
        part in ("", ".", "..") for part in name.removeprefix("../").split("/")
    ):
        words = f"{name!r} is not a plain file name in the study folder or one folder up"
        faults.add(place, "outside", words, "Write it as 'x.yaml' or '../protocols/x.yaml'.")
        return None
    path = folder / name
    steps = name.removeprefix("../").split("/")
    base = folder / ".." if name.startswith("../") else folder
    for end in range(1, len(steps) + 1):
        if (base.joinpath(*steps[:end])).is_symlink():
            faults.add(
                place, "link", f"{name!r} is a link, and links are not followed", "Copy the file here."
            )
            return None
    if not path.is_file():
        faults.add(place, "no-file", f"there is no file {name!r}", nearest_file(path))
        return None
    return path
