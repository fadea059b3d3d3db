"""The visits that are asked for: which protocol for whom, in which order, how many days apart."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from planner.clock import DaySpan
from planner.faults import Faults, Place
from planner.files import Row, Table, Tree
from planner.protocol.nearest import nearest
from planner.protocol.values import label
from planner.study.comers import first_of
from planner.study.model import Visit, VisitKind
from planner.study.names import Known, alike
from planner.study.orders import orders
from planner.study.source import Source
from planner.study.staff import Places
from planner.study.tables import cell
from planner.study.written import Written, WrittenVisit

NO_VISIT = "none"


@dataclass(frozen=True, slots=True)
class Comers:
    """The participants in the order of their table, the group of each who has one, and who replaces whom."""

    codes: tuple[str, ...]
    groups: Mapping[str, str]
    replaced: Mapping[str, str] = field(default_factory=dict)

    @property
    def first(self) -> tuple[str, ...]:
        """Those who replace nobody: orders are dealt among them."""
        return tuple(code for code in self.codes if code not in self.replaced)


def visit_kinds(
    written: Written, tree: Tree, comers: Comers, source: Source, places: Places
) -> tuple[VisitKind, ...]:
    """The kinds of visit with the protocols of each; their files are read through `source`."""
    lines = [(number, visit) for number, visit in enumerate(written.visits or []) if visit]
    seen: dict[str, int] = {}
    found = []
    for number, visit in lines:
        place = tree.value_place(("visits", number, "id"))
        if visit.id in seen:
            source.faults.add(place, "duplicate", f"the visit {visit.id!r} stands here again")
            continue
        seen[visit.id] = number
        places["visits", visit.id] = place
        found.append(_kind(visit, number, tree, comers, source, places))
    for later, first in alike(seen):
        words = f"the visits {later!r} and {first!r} differ in capitals only"
        source.faults.add(places["visits", later], "alike", words)
    return tuple(found)


def _kind(
    visit: WrittenVisit, number: int, tree: Tree, comers: Comers, source: Source, places: Places
) -> VisitKind:
    _check_conditions(visit, number, tree, source.faults)
    if comers.codes:
        _check_keys(visit, number, tree, comers, source.faults, places)
    protocols: dict[str, str | None] = {}
    for key, name in visit.protocol.items():
        protocols[key] = None if name == NO_VISIT and key else name
        if protocols[key]:
            path = ("visits", number, "protocol", key) if key else ("visits", number, "protocol")
            source.protocol(name, tree.value_place(path))
    return VisitKind(
        visit.id,
        protocols,
        tuple(visit.conditions),
        visit.blind,
        visit.since_last.span() if visit.since_last else None,
        visit.between_conditions.span() if visit.between_conditions else None,
        visit.start,
    )


def _check_conditions(visit: WrittenVisit, number: int, tree: Tree, faults: Faults) -> None:
    """Conditions are different; keys about conditions stand only where there are some."""
    for later, condition in enumerate(visit.conditions):
        if condition.casefold() in (one.casefold() for one in visit.conditions[:later]):
            place = tree.value_place(("visits", number, "conditions", later))
            faults.add(place, "duplicate", f"the condition {condition!r} stands here again")
    if visit.conditions:
        return
    for key in ("order", "between_conditions", "blind"):
        if key in visit.model_fields_set:
            words = f"{key!r} stands here, and the visit names no conditions"
            faults.add(
                tree.place(("visits", number, key)),
                "no-conditions",
                words,
                "Add `conditions`, or leave it out.",
            )


def _check_keys(
    visit: WrittenVisit, number: int, tree: Tree, comers: Comers, faults: Faults, places: Places
) -> None:
    """Several protocols are one for each condition, or one for each group: all of them, and no other."""
    keys = [key for key in visit.protocol if key]
    if not keys:
        return
    groups = sorted(set(comers.groups.values()))
    by_condition = bool(visit.conditions) and (not groups or any(key in visit.conditions for key in keys))
    wanted, noun = (visit.conditions, "condition") if by_condition else (groups, "group")
    for key in keys:
        if key not in wanted:
            place = tree.place(("visits", number, "protocol", key))
            faults.add(
                place,
                "unknown-name",
                f"{key!r} is no {noun} of this study",
                nearest(key, wanted, f"the {noun}"),
            )
        elif by_condition and visit.protocol[key] == NO_VISIT:
            place = tree.value_place(("visits", number, "protocol", key))
            faults.add(
                place, "none", "a condition needs a protocol", "Leave the condition out of `conditions`."
            )
    place = tree.place(("visits", number, "protocol"))
    for name in wanted:
        if name not in keys:
            faults.add(
                place, "missing-key", f"no protocol is named for the {noun} {name!r}", "Write one, or `none`."
            )
    if not by_condition:
        _check_groups(visit, keys, comers, faults, places)


def _check_groups(
    visit: WrittenVisit, keys: Sequence[str], comers: Comers, faults: Faults, places: Places
) -> None:
    """Every participant is in a group that the visit names; told once a group, at its first line."""
    told: set[str] = set()
    for code in comers.codes:
        group = comers.groups.get(code, "")
        if group in keys or group in told:
            continue
        told.add(group)
        whose = f"{code} is in the group {group!r}" if group else f"{code} has no group"
        words = f"visit {visit.id!r} names its protocols by group, and {whose}"
        place, hint = places["participants", code], nearest(group, keys, "the group")
        faults.add(place, "unknown-name" if group else "no-group", words, hint)


def asked_visits(
    written: Written, kinds: Sequence[VisitKind], tree: Tree, comers: Comers, source: Source
) -> dict[str, tuple[Visit, ...]]:
    """Every visit of every participant, in the order in which they come."""
    by_id = {visit.id: (number, visit) for number, visit in enumerate(written.visits or []) if visit}
    between = written.between_visits.span() if written.between_visits else None
    sequences = {
        kind.id: _sequences(*by_id[kind.id], tree, comers, written.seed, source)
        for kind in kinds
        if kind.conditions
    }
    found = {code: _visits_of(code, kinds, sequences, between, comers) for code in comers.codes}
    if between is None:
        _warn_of_one_day(found, kinds, by_id, tree, source.faults)
    return found


def _warn_of_one_day(
    asked: Mapping[str, Sequence[Visit]],
    kinds: Sequence[VisitKind],
    by_id: Mapping[str, tuple[int, WrittenVisit]],
    tree: Tree,
    faults: Faults,
) -> None:
    """Visits before which no days are asked for: two maximal efforts on one day may not be what is meant."""
    later = {(visit.kind, (visit.number or 1) > 1) for visits in asked.values() for visit in visits[1:]}
    for kind in kinds:
        is_named = kind.since_last, kind.between_conditions or kind.since_last
        if any((kind.id, is_again) in later and is_named[is_again] is None for is_again in (False, True)):
            words = (
                f"nothing says how long after the visit before it {kind.id!r} comes: it may be the same day"
            )
            hint = "Write `between_visits: {at_least: 1 d}`, or `{at_least: 0 d}` where that is meant."
            faults.warn(tree.place(("visits", by_id[kind.id][0])), "same-day", words, hint)


def _visits_of(
    code: str,
    kinds: Sequence[VisitKind],
    sequences: Mapping[str, Mapping[str, tuple[str, ...]]],
    between: DaySpan | None,
    comers: Comers,
) -> tuple[Visit, ...]:
    found: list[Visit] = []
    for kind in kinds:
        conditions = sequences[kind.id].get(code, ()) if kind.conditions else (None,)
        for place, condition in enumerate(conditions, start=1):
            protocol = _protocol_of(kind, condition, comers.groups.get(code, ""))
            if protocol is None:
                continue
            number = place if kind.conditions else None
            gap = _gap(kind, place, between) if found else None
            found.append(Visit(code, kind.id, number, condition, protocol, gap, kind.start))
    return tuple(found)


def _protocol_of(kind: VisitKind, condition: str | None, group: str) -> str | None:
    for key in (condition, group, ""):
        if key is not None and key in kind.protocols:
            return kind.protocols[key]
    return None


def _gap(kind: VisitKind, place: int, between: DaySpan | None) -> DaySpan:
    """The days since the visit before: what this visit names itself, otherwise what holds for all."""
    own = (kind.between_conditions or kind.since_last) if place > 1 else kind.since_last
    return own or between or DaySpan(0)


def _sequences(
    number: int, visit: WrittenVisit, tree: Tree, comers: Comers, seed: int, source: Source
) -> Mapping[str, tuple[str, ...]]:
    """The order of conditions of each participant: listed, balanced, or from a table."""
    if visit.order in (None, "listed"):
        return dict.fromkeys(comers.codes, tuple(visit.conditions))
    if visit.order == "balanced":
        return _taken_over(orders(comers.first, visit.conditions, seed, comers.groups), comers)
    assert visit.order is not None
    place = tree.value_place(("visits", number, "order"))
    if "." not in visit.order:
        words = f"{visit.order!r} is no order of conditions"
        source.faults.add(place, "unknown-name", words, "Write `balanced`, `listed`, or the name of a table.")
        return {}
    table = source.table(visit.order, place, needed=("participant", "sequence"))
    return _table_of_orders(table, visit.conditions, comers, source.faults) if table else {}


def _table_of_orders(
    table: Table, conditions: Sequence[str], comers: Comers, faults: Faults
) -> dict[str, tuple[str, ...]]:
    found: dict[str, tuple[str, ...]] = {}
    known = Known(comers.codes, "participant", "participants")
    for row in table.rows:
        code = cell(row, "participant", known, faults)
        sequence = cell(row, "sequence", lambda text: _sequence(text, conditions), faults)
        if code in found:
            faults.add(row.place("participant"), "duplicate", f"{code} stands here again")
        elif code and code in comers.replaced:
            words = f"{code} replaces {comers.replaced[code]}, and takes that participant's sequence"
            faults.add(row.place("sequence"), "replaces", words, f"Leave out the line of {code}.")
        elif code and sequence:
            found[code] = sequence
    if lost := [code for code in comers.first if code not in _written(table.rows)]:
        words = f"{table.file} has no sequence for {', '.join(lost[:5])}{' and others' if lost[5:] else ''}"
        faults.add(Place(table.file), "missing-row", words, "Write a line for each participant.")
    return _taken_over(found, comers)


def _taken_over(sequences: Mapping[str, tuple[str, ...]], comers: Comers) -> dict[str, tuple[str, ...]]:
    """With those of newcomers, who take the sequence of the participant at whose place they come."""
    newcomers = {code: first_of(code, comers.replaced) for code in comers.replaced}
    return {**sequences, **{code: sequences[old] for code, old in newcomers.items() if old in sequences}}


def _written(rows: Sequence[Row]) -> set[str]:
    return {row.cells["participant"] for row in rows}


def _sequence(text: str, conditions: Sequence[str]) -> tuple[str, ...]:
    """Each condition once, separated by `;`."""
    found = tuple(label(part) for part in text.split(";"))
    for condition in found:
        if condition not in conditions:
            hint = nearest(condition, conditions, "the condition")
            raise ValueError(f"{condition!r} is no condition of this visit. {hint}")
    if sorted(found) != sorted(conditions):
        raise ValueError(f"{text!r} must name each of the {len(conditions)} conditions once")
    return found
