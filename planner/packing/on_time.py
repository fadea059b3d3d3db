"""A plan whose visits keep all their windows with a given chance, and what that costs in places.

The plan with the most places is packed first and played. Over many days its visits are spread
(`roomier`). Then each day that is short is made steadier (`steady`), at first with all its visits; only where
that does not bring every visit to its chance does the one without which least is missing go to
another day or, where there is none, is left out, and the rest is mended.
"""

from __future__ import annotations

import time
from collections.abc import Mapping
from datetime import datetime

from planner.packing.budget import Budget
from planner.packing.chance.aiming import aim
from planner.packing.chance.on_time_days import Days
from planner.packing.chance.on_time_words import Price, on_time_words
from planner.packing.days.roomier import crowd_words
from planner.packing.pack import pack, running_from
from planner.packing.play import LATE_SD_S, play
from planner.packing.progress import Report, Stop
from planner.schedule.model import Schedule
from planner.study.model import Study
from planner.timing.learned import Learned
from planner.timing.plan import VisitPlan

PACK = 0.2  # of the time, for a plan as it is packed without regard to chances
MORE = 0.35  # of the time after that, for more places, where one day lacks some
RESCUE = 0.2  # of the time, for days that the last check finds short
SPREAD = 0.4  # of the time after the first plan, for spreading visits over more days


def pack_on_time(
    study: Study,
    plans: Mapping[str, VisitPlan],
    *,
    chance: float,
    seconds: float,
    now: datetime,
    version: int,
    late_sd_s: int = LATE_SD_S,
    learned: Learned | None = None,
    progress: Report | None = None,
    stop: Stop | None = None,
    workers: int = 2,
) -> Schedule:
    """The plan with the most visits that all keep their windows with that chance.

    A visit that is not sure of its windows even alone, and for which that is not two points more, is to
    come within two points of what it reaches alone. Visits left out are named. Reasons say what was
    reached and what it costs. Arrivals are late as `play` assumes unless `late_sd_s` says otherwise.
    `seconds` limit the whole call. `stop` ends the search and keeps every visit; the reasons then say how
    many are short of their chance.
    """
    until = time.monotonic() + seconds
    plain = pack(
        study,
        plans,
        seconds=PACK * seconds,
        now=now,
        version=version,
        progress=progress,
        stop=stop,
        workers=workers,
    )
    began = time.monotonic()
    before = play(study, plans, plain, late_sd_s=late_sd_s, learned=learned)
    rescue_s = RESCUE * seconds
    last_s = 0.3 + 5 * (time.monotonic() - began)  # for the last check and the judge
    budget = Budget(until - last_s - rescue_s, workers, progress, stop)
    left_s = (1 - PACK - RESCUE) * seconds if workers == 1 else budget.left_s
    days = Days(
        running_from(study, plans, plain), plain, chance, budget, late_sd_s, learned, until - last_s / 2
    )
    left_s -= days.add_places(MORE * left_s)
    bare = days.schedule()
    if bare.placed > plain.placed:
        before = play(study, plans, bare, late_sd_s=late_sd_s, learned=learned)
    given = budget.left_s if workers > 1 else left_s
    days.spread(SPREAD * given, (1 - SPREAD) * given + rescue_s)
    days.steady(given - SPREAD * given if workers == 1 else budget.left_s)
    stopped, steadied = stop is not None and stop(), days.schedule()
    if not stopped:
        days.check(rescue_s)
        days.place_again()
        for fuller in (steadied, bare):
            days.take_fuller(fuller)
    odds = play(study, plans, days.schedule(), late_sd_s=late_sd_s, learned=learned)
    words = on_time_words(Price(bare.placed, before), tuple(days.prices), odds, chance, len(days.moved))
    if len(study.open) > 1:
        words = (*words, *crowd_words(plain, days.schedule()))
    if stopped:
        short = sum(visit.all_windows < aim(visit, chance) for visit in odds.visits)
        words = (*words, f"Stopped early; visits short of their chance: {short}.")
    return days.finished(now, words)
