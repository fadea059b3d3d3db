"""What has begun and lasts into hours that its people, its rig, its participant or the house have not.

It stays as it was; the plan names each, for a person must take over, or decide.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import datetime

from planner.packing.mend.standing import Facts
from planner.packing.problem import VisitKey, key
from planner.schedule.changes import RUNS_OVER, key_of
from planner.schedule.model import Activity, Change, PlacedVisit, Schedule
from planner.schedule.rules.case import case_of, clock, span_words
from planner.schedule.rules.outside import Outside, outside
from planner.study.model import Study
from planner.timing.plan import VisitPlan

TAKE_OVER = "somebody must take over"
DECIDE = "the person in charge decides"
WHO_ACTS = {"shift": TAKE_OVER, "absence": TAKE_OVER}


def runs_over(
    before: Schedule,
    visits: Sequence[PlacedVisit],
    known: Facts,
    of: Collection[VisitKey],
    study: Study,
    plans: Mapping[str, VisitPlan],
) -> Iterator[Change]:
    """A change for each activity of the visits `of` that has begun and lies outside hours of the files."""
    begun = {
        (*key(standing.placed), *key_of(standing.by_index[i]))
        for standing in known.standings
        for i in standing.begun
    }
    mended = replace(before, visits=tuple(visits), rig_tasks=())
    for one in outside(case_of(mended, study, plans)):
        if one.visit is None or key(one.visit.placed) not in of:
            continue
        for its in one.activities:
            if (*key(one.visit.placed), *key_of(its)) in begun:
                yield _change(one, one.visit.placed, its, study)


def _change(one: Outside, visit: PlacedVisit, its: Activity, study: Study) -> Change:
    until = clock(datetime.fromtimestamp(one.until, tz=study.zone))
    what = f"{one.what} until {until}, and {one.why}"
    acts = WHO_ACTS.get(one.broken.rule, DECIDE)
    if one.of_break_s:
        acts = f"the break is {span_words(one.of_break_s)} shorter, or {TAKE_OVER}; {acts}"
    message = f"{what}: it has begun and stays as it was; {acts}"
    return Change(visit.participant, visit.file_id, message, RUNS_OVER, *key_of(its))
