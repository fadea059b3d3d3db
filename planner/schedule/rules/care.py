"""Warnings that are no broken rules: nobody stays after a bout, no cleaning, a visit before is skipped."""

from __future__ import annotations

from collections.abc import Iterator

from planner.schedule.model import Broken
from planner.schedule.rules.busy import rig_times
from planner.schedule.rules.case import Case
from planner.timing.plan import Kind


def unwatched(case: Case) -> Iterator[Broken]:
    """A bout after which nobody stays with the participant; told once a protocol."""
    told: set[tuple[str, str]] = set()
    for visit in case.visits:
        for pair in visit.pairs():
            assert visit.plan
            key = (visit.plan.protocol.name, pair.planned.step)
            if pair.planned.kind is Kind.BOUT and pair.placed.watch is None and key not in told:
                told.add(key)
                words = f"nobody stays with the participant after {pair.planned.step} ({key[0]})"
                yield Broken("unwatched", None, None, words)


def uncleared(case: Case) -> Iterator[Broken]:
    """A rig that passes from one participant to the next without time for cleaning; told once a rig."""
    for rig, times in rig_times(case).items():
        by_start = sorted((busy for busy in times if busy.activity), key=lambda one: one.start)
        for busy in by_start[:-1]:
            assert busy.activity
            if busy.activity.rig_free == busy.activity.end:
                words = f"{rig} passes from one participant to the next without time for cleaning"
                yield Broken("uncleared", None, None, words)
                break


def longer(case: Case) -> Iterator[Broken]:
    """Blocks, tasks and bouts that are planned longer than they take."""
    for visit in case.visits:
        for pair in visit.pairs():
            length = round(pair.placed.end.timestamp() - pair.placed.start.timestamp())
            if pair.planned.kind is not Kind.REST and length > pair.planned.length_s:
                words = f"{pair.words} is longer in the plan than it takes"
                yield visit.broken("longer", words)


def skipped(case: Case) -> Iterator[Broken]:
    """A visit that is placed though one that comes before it has no place, a practice visit above all."""
    placed = {(visit.placed.participant, visit.placed.file_id) for visit in case.visits}
    for visit in case.visits:
        who = visit.placed.participant
        own = case.study.asked.get(who, ()) if visit.asked else ()
        before = own[: own.index(visit.asked)] if visit.asked else ()
        gone = [earlier.file_id for earlier in before if (who, earlier.file_id) not in placed]
        if gone:
            has = "has" if len(gone) == 1 else "have"
            words = f"it is planned, and {', '.join(gone)}, which must come before it, {has} no place"
            yield visit.broken("skipped", words)


RULES = (unwatched, uncleared, longer, skipped)
