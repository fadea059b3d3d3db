"""Who and what serves each activity: a rig of each class, a person of each role, clearing, watch."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from planner.schedule.changes import RUN_BROKEN
from planner.schedule.model import Activity, Broken
from planner.schedule.repacked import is_listed
from planner.schedule.rules.case import Case, Judged, Pair, clock, rig_by_class, second, span_words


def rig_class(case: Case) -> Iterator[Broken]:
    """One rig of each class that is asked for, and no other."""
    for visit in case.visits:
        for pair in visit.pairs():
            wanted, has = pair.planned.rigs, pair.placed.rigs
            if rig_by_class(pair.placed, wanted, case) is None:
                words = (
                    f"{pair.words} is on {_listed(has) or 'no rig'}; it needs {_listed(wanted) or 'no rig'}"
                )
                yield visit.broken("rig-class", words)


def roles(case: Case) -> Iterator[Broken]:
    """Each role has one person who has that role; two roles, two persons."""
    for visit in case.visits:
        for pair in visit.pairs():
            yield from _staffed(visit, case, pair.words, pair.planned.staff, pair.placed.staff)


def _staffed(
    visit: Judged, case: Case, what: str, wanted: tuple[str, ...], has: Mapping[str, str]
) -> Iterator[Broken]:
    for message, rule in staffing(case, wanted, has):
        yield visit.broken(rule, f"{what}: {message}")


def staffing(case: Case, wanted: tuple[str, ...], has: Mapping[str, str]) -> Iterator[tuple[str, str]]:
    """(message, rule) for whatever is wrong with who serves in which role."""
    known = case.roles
    for role in wanted:
        if role not in has:
            yield f"nobody serves as {role}", "role"
    for role, person in has.items():
        if role not in wanted:
            yield f"{person} serves as {role}, which is not asked for", "role"
        elif person not in known:
            yield f"{person}, who serves as {role}, is not on the staff", "role"
        elif role not in known[person]:
            yield f"{person} serves as {role} without having that role", "role"
    people = list(has.values())
    for person in dict.fromkeys(people):
        if people.count(person) > 1:
            yield f"{person} serves in {people.count(person)} roles at once", "two-persons"


def runs(case: Case) -> Iterator[Broken]:
    """Neighbouring blocks of one measure (or joined tasks and bouts) with one class of rig keep the rig."""
    for visit in case.visits:
        for pair in visit.pairs():
            after = following(visit, pair)
            for name in pair.planned.keeps if after else ():
                assert after is not None
                first = (rig_by_class(pair.placed, pair.planned.rigs, case) or {}).get(name)
                then = (rig_by_class(after.placed, after.planned.rigs, case) or {}).get(name)
                named = is_listed(
                    case.schedule, RUN_BROKEN, visit.placed, after.placed.step, after.placed.at_s
                )
                if first and then and first != then and not named:
                    words = f"{after.words} is on {then}, and the {name} before it was {first}; it is kept"
                    yield visit.broken("rig-kept", words)


def following(visit: Judged, pair: Pair) -> Pair | None:
    """The next activity on the participant's way: inside the same bout, or in none."""
    if visit.plan is None:
        return None
    for planned in visit.plan.activities[pair.planned.index + 1 :]:
        if planned.inside == pair.planned.inside:
            placed = visit.by_index.get(planned.index)
            return Pair(planned, placed) if placed else None
    return None


def clearing(case: Case) -> Iterator[Broken]:
    """The rig stays busy until it is cleared, served by the roles that clearing names."""
    for visit in case.visits:
        for pair in visit.pairs():
            clear, placed = pair.planned.clear, pair.placed
            takes = clear.takes_s if clear and pair.planned.rigs else 0
            free = second(placed.rig_free) - second(placed.end)
            if free < takes:
                freed = clock(placed.rig_free)
                words = f"{pair.words} frees its rig at {freed}; clearing takes {span_words(takes)}"
                yield visit.broken("clearing", words)
            elif free > 0 and not takes:
                words = (
                    f"{pair.words} ends at {clock(placed.end)} without clearing, and yet frees its rig later"
                )
                yield visit.broken("clearing", words)
            others = tuple(role for role in (clear.staff if clear else ()) if role not in placed.staff)
            what = f"clearing after {pair.words}"
            yield from _staffed(visit, case, what, others, placed.clear_staff)
            own = [placed.staff[role] for role in (clear.staff if clear else ()) if role in placed.staff]
            for person in dict.fromkeys(one for one in placed.clear_staff.values() if one in own):
                yield visit.broken("two-persons", f"{what}: {person} serves in two roles at once")


def watch(case: Case) -> Iterator[Broken]:
    """Someone of each role stays with the participant as long as the protocol says."""
    for visit in case.visits:
        for pair in visit.pairs():
            wanted, has = pair.planned.watch, pair.placed.watch
            if wanted is None and has is None:
                continue
            if wanted is None or has is None:
                words = "is watched afterwards, which is not asked for" if has else "nobody stays afterwards"
                yield visit.broken("watch", f"{pair.words}: {words}")
                continue
            seconds = second(has.end) - second(pair.placed.end)
            if seconds < wanted.for_s:
                words = f"somebody stays for {span_words(seconds)}; {span_words(wanted.for_s)} is asked for"
                yield visit.broken("watch", f"{pair.words}: {words}")
            yield from _staffed(visit, case, f"watch after {pair.words}", wanted.staff, has.staff)


def _listed(names: tuple[str, ...]) -> str:
    return " and ".join(names)


def clears(activity: Activity, roles_of_clearing: tuple[str, ...]) -> Iterator[str]:
    """The people whom clearing after the activity keeps busy."""
    for role in roles_of_clearing:
        if person := activity.staff.get(role) or activity.clear_staff.get(role):
            yield person


RULES = (rig_class, roles, runs, clearing, watch)
