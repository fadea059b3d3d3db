"""Reads a plan file value by value: what is missing or of the wrong kind is a fault with its place."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any, TypeVar

from planner.faults import Faults, FaultyInput, Place
from planner.schedule.json_text import JsonPath, JsonText, read_json
from planner.schedule.learned_text import KINDS, SIGNED, Taught, learned_from
from planner.schedule.model import (
    Activity,
    Broken,
    Change,
    NotPlaced,
    Outcome,
    PlacedVisit,
    PlacedWatch,
    Reason,
    RigTask,
    Schedule,
    Stage,
)
from planner.study.model import Study
from planner.timing.learned import Estimate, Learned

T = TypeVar("T")
_NEEDED = object()
A_YEAR = timedelta(days=366)
MOST_FAULTS = 50  # a file that is no plan at all need not be told so 10 000 times


@dataclass(frozen=True, slots=True)
class Node:
    """A value of the file with the path that leads to it."""

    value: Any
    path: JsonPath


@dataclass
class PlanReading:
    """One plan file while it is read."""

    path: Path
    study: Study
    faults: Faults = field(default_factory=Faults)
    wrong: list[tuple[JsonPath, str, str]] = field(default_factory=list)
    misread: list[Broken] = field(default_factory=list)

    def schedule(self) -> Schedule:
        """The schedule, or FaultyInput."""
        text = read_json(self.path, self.faults)
        if text is None:
            raise FaultyInput(self.faults.faults)
        root = Node(text.value, ())
        if not isinstance(text.value, dict):
            self.note(root, "kind", "a plan file is a JSON object")
        elif (name := text.value.get("study")) != self.study.name:
            self.note(
                Node(name, ("study",)),
                "other-study",
                f"this is a plan of the study {name!r}, not of {self.study.name!r}",
            )
        found = self.whole(root) if not self.wrong else None
        if self.wrong or found is None:
            self.raise_all(text)
            raise AssertionError("a plan that cannot be read has a fault")
        return found

    def raise_all(self, text: JsonText) -> None:
        """Every fault with its line and column."""
        for path, code, message in self.wrong[:MOST_FAULTS]:
            self.faults.add(text.place(path), code, message)
        if (more := len(self.wrong) - MOST_FAULTS) > 0:
            self.faults.add(Place(text.file), "more", f"and {more} more of these")
        self.faults.raise_if_any()

    def note(self, node: Node, code: str, message: str) -> None:
        """Note a fault at that value."""
        self.wrong.append((node.path, code, message))

    def get(self, node: Node, key: str, read: Callable[[Node], T], default: Any = _NEEDED) -> T:
        """The value under a key, read; a needed key that is missing is a fault."""
        here = node.value.get(key) if isinstance(node.value, dict) else None
        if here is None:
            if default is _NEEDED:
                self.note(node, "missing-key", f"the key {key!r} is missing in {_words(node.path)}")
                return read(Node(None, ()))
            return default  # type: ignore[no-any-return]
        return read(Node(here, (*node.path, key)))

    def kind(self, node: Node, kind: type[T], noun: str, empty: T) -> T:
        """The value where it is of that kind; otherwise a fault, and something empty to go on with."""
        if isinstance(node.value, kind) and not (kind is int and isinstance(node.value, bool)):
            return node.value
        if node.path:
            self.note(
                node,
                "kind",
                f"{_words(node.path)}: {noun} is expected here, and {_short(node.value)} was found",
            )
        return empty

    def text(self, node: Node) -> str:
        return self.kind(node, str, "text", "")

    def whole_number(self, node: Node) -> int:
        return self.kind(node, int, "a whole number", 0)

    def items(self, node: Node) -> Iterator[Node]:
        for number, item in enumerate(self.kind(node, list, "a list", [])):
            yield Node(item, (*node.path, number))

    def staff(self, node: Node) -> Mapping[str, str]:
        found = self.kind(node, dict, "roles with people", {})
        return {role: self.text(Node(person, (*node.path, role))) for role, person in found.items()}

    def rigs(self, node: Node) -> tuple[str, ...]:
        if isinstance(node.value, list):
            return tuple(self.text(item) for item in self.items(node))
        return (self.text(node),)

    def moment(self, node: Node) -> datetime:
        """The instant in the study's zone; an offset that is not the zone's is noted for `verify`."""
        words = self.text(node)
        nowhere = datetime.fromtimestamp(0, tz=self.study.zone)
        if not words:
            return nowhere
        try:
            found = datetime.fromisoformat(words)
            if found.tzinfo is None or found.microsecond:
                raise ValueError
            local = found.astimezone(self.study.zone)
            _ = local - A_YEAR, local + A_YEAR  # who prints or plays it looks at days around it
        except (ValueError, OverflowError):
            form = "a date-time with an offset, such as 2027-03-01T08:30:00+01:00"
            message = f"{_words(node.path)}: {words!r} is not {form}"
            self.note(node, "value", message)
            return nowhere
        if found.utcoffset() != local.utcoffset():
            message = f"{words} has not the offset of the study's time zone, which is {_offset(local)} then"
            self.misread.append(Broken("time-zone", None, None, message))
        return local

    def outcome(self, node: Node) -> Outcome:
        words = self.text(node)
        if words and words not in list(Outcome):
            self.note(node, "value", f"{_words(node.path)}: {words!r} is none of {', '.join(Outcome)}")
        return Outcome(words) if words in list(Outcome) else Outcome.FEASIBLE

    def whole(self, root: Node) -> Schedule:
        get = self.get
        visits = tuple(self.visit(one) for one in get(root, "visits", self.items))
        placed = get(root, "placed", self.whole_number, len(visits))
        if placed != len(visits):
            message = f"the plan says that {placed} visits are placed, and holds {len(visits)}"
            self.misread.append(Broken("placed", None, None, message))
        return Schedule(
            study=get(root, "study", self.text),
            version=get(root, "version", self.whole_number),
            replaces=get(root, "replaces", self.whole_number, None),
            fingerprint=get(root, "fingerprint", self.text, ""),
            made=self.made(root),
            status=get(root, "status", self.outcome),
            asked=get(root, "asked", self.whole_number),
            stages=tuple(self.stage(one) for one in get(root, "stages", self.items, ())),
            visits=visits,
            rig_tasks=tuple(self.rig_task(one) for one in get(root, "rig_tasks", self.items, ())),
            not_placed=tuple(self.not_placed(one) for one in get(root, "not_placed", self.items, ())),
            reasons=tuple(self.reason(one) for one in get(root, "reasons", self.items, ())),
            changes=tuple(self.change(one) for one in get(root, "changes", self.items, ())),
            solver=get(root, "solver", self.text, ""),
            learned=get(root, "learned", self.learned, None),
            misread=tuple(self.misread),
        )

    def learned(self, node: Node) -> Learned:
        """What the record had taught when the plan was made."""
        return learned_from([one for item in self.items(node) if (one := self.taught(item)) is not None])

    def taught(self, node: Node) -> Taught | None:
        get = self.get
        what = get(node, "what", self.text)
        if what not in KINDS:
            self.note(node, "value", f"{_words(node.path)}: what is {what!r}, none of {', '.join(KINDS)}")
            return None
        number = self.signed if what in SIGNED else self.decimal
        estimate = Estimate(
            get(node, "assumed", number),
            get(node, "learned", number),
            get(node, "observations", self.whole_number),
            tuple(number(one) for one in get(node, "drawn", self.items, ())),
        )
        named = get(node, "protocol", self.text), get(node, "of", self.text)
        return Taught(what, *named, get(node, "reading", self.text, None), estimate)

    def decimal(self, node: Node) -> float:
        """A number that a length or a spread can be; others are faults."""
        return self._number(node, 0, "a number from 0")

    def signed(self, node: Node) -> float:
        """A number of seconds late, or early with a minus; others are faults."""
        return self._number(node, -1e9, "a number")

    def _number(self, node: Node, least: float, expected: str) -> float:
        found = node.value
        if isinstance(found, (int, float)) and not isinstance(found, bool) and least <= found < 1e9:
            return float(found)
        if node.path:
            wrong = f"{expected} is expected here, and {_short(found)} was found"
            self.note(node, "kind", f"{_words(node.path)}: {wrong}")
        return 0.0

    def made(self, root: Node) -> datetime:
        """When the plan was made; whoever made it may have used another clock."""
        before = len(self.misread)
        found = self.get(root, "made", self.moment)
        del self.misread[before:]
        return found

    def visit(self, node: Node) -> PlacedVisit:
        get = self.get
        participant, kind = get(node, "participant", self.text), get(node, "visit", self.text)
        condition = get(node, "condition", self.text, None)
        number = get(node, "number", self.whole_number, None) or self.number_of(participant, kind, condition)
        activities = [self.activity(one) for one in get(node, "activities", self.items)]
        if not activities:
            self.note(node, "empty", f"{_words(node.path)}: a visit has activities")
            return PlacedVisit(participant, kind, number, condition, ())
        activities.sort(key=lambda activity: activity.start.timestamp())
        found = PlacedVisit(participant, kind, number, condition, tuple(activities))
        self.compare(node, found)
        return found

    def number_of(self, participant: str, kind: str, condition: str | None) -> int | None:
        """Which of the participant's visits of that kind has this condition."""
        for visit in self.study.asked.get(participant, ()):
            if visit.kind == kind and visit.condition == condition:
                return visit.number
        return None

    def compare(self, node: Node, visit: PlacedVisit) -> None:
        """The visit's own date, start and end against its activities."""
        said = {
            "start": self.get(node, "start", self.moment, visit.start),
            "end": self.get(node, "end", self.moment, visit.end),
        }
        wrong = [
            name
            for name, moment in said.items()
            if abs(moment - getattr(visit, name)) >= timedelta(seconds=1)
        ]
        if self.get(node, "date", self.text, visit.date.isoformat()) != visit.date.isoformat():
            wrong.append("date")
        for name in wrong:
            message = (
                f"{visit.participant}, {visit.file_id}: the {name} of the visit is not that of its activities"
            )
            self.misread.append(Broken("visit-times", visit.participant, visit.file_id, message))

    def activity(self, node: Node) -> Activity:
        get = self.get
        end = get(node, "end", self.moment)
        return Activity(
            step=get(node, "step", self.text),
            at_s=get(node, "at_s", self.whole_number, None),
            manoeuvre=get(node, "manoeuvre", self.text, None),
            rigs=get(node, "rig", self.rigs, ()),
            staff=get(node, "staff", self.staff, {}),
            start=get(node, "start", self.moment),
            first_effort=get(node, "first_effort", self.moment, None),
            end=end,
            rig_free=get(node, "rig_free", self.moment, end),
            planned_efforts=get(node, "planned_efforts", self.whole_number, None),
            watch=get(node, "watch", self.watch, None),
            clear_staff=get(node, "clear_staff", self.staff, {}),
        )

    def watch(self, node: Node) -> PlacedWatch:
        return PlacedWatch(self.get(node, "staff", self.staff), self.get(node, "end", self.moment))

    def rig_task(self, node: Node) -> RigTask:
        get = self.get
        return RigTask(
            get(node, "rig", self.text),
            get(node, "staff", self.staff, {}),
            get(node, "start", self.moment),
            get(node, "end", self.moment),
        )

    def stage(self, node: Node) -> Stage:
        get = self.get
        value = get(node, "value", self.whole_number)
        name, bound = get(node, "name", self.text), get(node, "bound", self.whole_number, value)
        return Stage(name, value, bound, get(node, "status", self.outcome))

    def not_placed(self, node: Node) -> NotPlaced:
        get = self.get
        return NotPlaced(
            get(node, "participant", self.text),
            get(node, "visit", self.text),
            get(node, "message", self.text, ""),
        )

    def reason(self, node: Node) -> Reason:
        get = self.get
        message = get(node, "message", self.text)
        return Reason(message, get(node, "file", self.text, None), get(node, "line", self.whole_number, None))

    def change(self, node: Node) -> Change:
        def text(key: str) -> str | None:
            return self.get(node, key, self.text, None)

        return Change(
            participant=text("participant"),
            visit=text("visit"),
            message=text("message") or "",
            kind=text("kind") or "moved",
            step=text("step"),
            at_s=self.get(node, "at_s", self.whole_number, None),
            manoeuvre=text("manoeuvre"),
            before=text("before"),
            after=text("after"),
            since=self.get(node, "since", self.whole_number, None),
        )


def _words(path: JsonPath) -> str:
    """A path as a person would say it, such as `visits, item 3, start`."""
    return ", ".join(f"item {key + 1}" if isinstance(key, int) else key for key in path) or "the file"


def _short(value: Any) -> str:
    words = "nothing" if value is None else repr(value)
    return words if len(words) <= 40 else f"{words[:40]}…"


def _offset(moment: datetime) -> str:
    return f"{moment:%z}"[:3] + ":" + f"{moment:%z}"[3:]
