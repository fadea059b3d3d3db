"""The laboratory with other numbers of rigs and people: one fewer, one or two more, one more of two kinds."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import combinations

from planner.study.model import Person, Rig, Study
from planner.timing.plan import VisitPlan

Deltas = Mapping[str, int]  # by how many of each kind; a kind that is not named stays as it is
ORDINALS = ("", "first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth")


@dataclass(frozen=True)
class Kind:
    """Rigs that stand in the same classes, or people who have the same roles, of whom `one` is copied."""

    name: str
    label: str
    one: Rig | Person
    count: int

    @property
    def like(self) -> str:
        """Whose hours an added person has."""
        return self.one.id if isinstance(self.one, Person) else ""

    @property
    def fewer(self) -> str:
        """One fewer in words; of several it is said which, for their hours or outages may differ."""
        which = f", without {self.one.id}" if self.count > 1 else ""
        return f"one {self.label} fewer{which}"


@dataclass(frozen=True)
class Variant:
    """A changed laboratory."""

    change: str
    kind: str
    what: str
    difference: int
    deltas: Deltas
    study: Study
    count: int | None = None
    like: str = ""
    without: str = ""

    def has_no_more_than(self, other: Variant) -> bool:
        """Whether whatever fits here fits there too."""
        return all(self.deltas.get(k, 0) <= other.deltas.get(k, 0) for k in {*self.deltas, *other.deltas})


def kinds_of(study: Study, plan: VisitPlan, day: date) -> list[Kind]:
    """Each kind of rig, then of person there that day, that such a visit may use."""
    classes = {c for activity in plan.activities for c in activity.rigs}
    found: dict[tuple[str, frozenset[str]], list[Rig | Person]] = {}
    for rig in study.rigs:
        if classes.intersection(rig.classes):
            found.setdefault(("rig", frozenset(rig.classes)), []).append(rig)
    for person in sorted(study.people, key=lambda p: (-_hours_s(p, day), p.id)):
        if person.works.get(day):
            found.setdefault(("person", frozenset(person.roles)), []).append(person)
    return [
        Kind(f"{kind} {' and '.join(sorted(names))}", _label(kind, names), its[0], len(its))
        for (kind, names), its in sorted(
            found.items(), key=lambda item: (item[0][0] != "rig", sorted(item[0][1]))
        )
    ]


def _label(kind: str, names: frozenset[str]) -> str:
    return " and ".join(sorted(names)) if kind == "rig" else f"person ({', '.join(sorted(names))})"


def _hours_s(person: Person, day: date) -> int:
    return sum(interval.length_s for interval in person.works.get(day, ()))


def variants(study: Study, kinds: Sequence[Kind]) -> Iterator[Variant]:
    """As it is first; then one fewer, one more and two more of each kind; then one more of each two kinds."""
    yield Variant("as it is", "as it is", "", 0, {}, study)
    for difference in (1, -1, 2):
        for kind in kinds:
            yield _one(study, kind, difference)
    for a, b in combinations(kinds, 2):
        both = _with(_with(study, a, 1), b, 1)
        change = f"{_nth(a, 1)} and {_nth(b, 1)}"
        like = ", ".join(kind.like for kind in (a, b) if kind.like)
        yield Variant(change, "both", f"{a.label}; {b.label}", 1, {a.name: 1, b.name: 1}, both, None, like)


def _one(study: Study, kind: Kind, difference: int) -> Variant:
    word = kind.fewer if difference < 0 else _nth(kind, difference)
    if difference == 2:
        word = f"two more: {kind.count + 2} of {kind.label}"
    sort = "person" if isinstance(kind.one, Person) else "rig"
    return Variant(
        word, sort, kind.label, difference, {kind.name: difference}, _with(study, kind, difference),
        kind.count + difference, kind.like if difference > 0 else "", kind.one.id if difference < 0 else "",
    )  # fmt: skip


def _nth(kind: Kind, difference: int) -> str:
    number = kind.count + difference
    nth = ORDINALS[number] if number < len(ORDINALS) else f"{number}th"
    hours = f", hours of {kind.like}" if kind.like else ""
    return f"a {nth} {kind.label}{hours}"


def _with(study: Study, kind: Kind, difference: int) -> Study:
    """The study with so many more (copies, without outages) of that kind, or one fewer."""
    one = kind.one
    if difference < 0:
        if isinstance(one, Rig):
            return replace(study, rigs=tuple(rig for rig in study.rigs if rig is not one))
        return replace(study, people=tuple(person for person in study.people if person is not one))
    for _ in range(difference):
        if isinstance(one, Rig):
            study = replace(study, rigs=(*study.rigs, replace(one, id=_unused(one.id, study), out=())))
        else:
            study = replace(study, people=(*study.people, replace(one, id=_unused(one.id, study))))
    return study


def _unused(name: str, study: Study) -> str:
    taken = {rig.id for rig in study.rigs} | {person.id for person in study.people}
    return next(f"{name}-{n}" for n in range(2, len(taken) + 3) if f"{name}-{n}" not in taken)


def like_days(study: Study) -> list[tuple[date, ...]]:
    """The open days, those with the same hours, people and devices together; the largest groups first."""
    groups: dict[object, list[date]] = {}
    for day in sorted(study.open):
        groups.setdefault(_signature(study, day), []).append(day)
    return sorted((tuple(days) for days in groups.values()), key=lambda days: (-len(days), days[0]))


def _signature(study: Study, day: date) -> object:
    hours = tuple((i.start.time(), i.end.time()) for i in study.open[day])
    people = tuple(tuple((i.start.time(), i.end.time()) for i in p.works.get(day, ())) for p in study.people)
    out = tuple(
        tuple(
            (max(i.start, hour.start).time(), min(i.end, hour.end).time())
            for hour in study.open[day]
            for i in rig.out
            if i.meets(hour)
        )
        for rig in study.rigs
    )
    return hours, people, out
