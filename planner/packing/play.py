"""How sure is a packed day? `play(study, plans, schedule) -> DayOdds`: every day played many times."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

import numpy as np

from planner.clock import Interval, without
from planner.faults import Fault, FaultyInput, Place
from planner.packing.chance.odds import DayOdds, LateEnd, VisitOdds, Waits, WindowOdds, error_of
from planner.packing.chance.played import (
    Lead,
    Off,
    Played,
    Role,
    in_order,
    keeps_all,
    kept,
    leads_of,
    play_day,
)
from planner.packing.problem import VisitKey, key
from planner.packing.progress import Stop
from planner.schedule.beside_asked import asked_visit, matched
from planner.schedule.model import PlacedVisit, RigTask, Schedule
from planner.study.model import Person, Study
from planner.timing.learned import Learned
from planner.timing.plan import Link, Moment, VisitPlan
from planner.timing.simulate import Draws, Player

LATE_SD_S = 300  # arrivals: minutes late as the positive half of a normal curve (assumed, no source)


@dataclass
class Cast:
    """Who plays: each visit with random numbers of its own, so that another plan of it draws the same."""

    study: Study
    plans: Mapping[str, VisitPlan]
    draws: int
    seed: int = 1
    late_sd_s: int = LATE_SD_S
    learned: Learned | None = None
    _known: dict[VisitKey, tuple[Draws, np.ndarray[tuple[int], np.dtype[np.float64]]]] = field(
        default_factory=dict
    )

    def __post_init__(self) -> None:
        asked = [v for several in self.study.asked.values() for v in several]
        self._order = {key(visit): number for number, visit in enumerate(asked)}
        self._protocols = {key(visit): visit.protocol for visit in asked}
        self._players: dict[str, Player] = {}
        self._leads: dict[str, tuple[Lead, ...]] = {}

    def roles(self, visits: Iterable[PlacedVisit]) -> list[Role]:
        """The visits with their drawn lengths and arrivals."""
        return [self._role(visit) for visit in visits]

    def play(self, visits: Sequence[PlacedVisit], tasks: Sequence[RigTask], day: date) -> Played:
        """These visits of one day, played together; numbered as given."""
        return play_day(self.roles(visits), tasks, times_off(self.study, day), self.draws)

    def ceiling(self, name: VisitKey) -> float:
        """The share in which a visit keeps all windows with the laboratory to itself."""
        return self._known[name][0].chance_of_all().share

    def _role(self, visit: PlacedVisit) -> Role:
        name = key(visit)
        plan = self.plans[self._protocols[name]]
        if name not in self._known:
            self._known[name] = self._drawn(name, plan)
        drawn, late = self._known[name]
        protocol = self._protocols[name]
        if protocol not in self._leads:
            self._leads[protocol] = leads_of(plan, drawn)
        return Role(visit, plan, drawn, late, in_order(visit, plan), self._leads[protocol])

    def _drawn(
        self, name: VisitKey, plan: VisitPlan
    ) -> tuple[Draws, np.ndarray[tuple[int], np.dtype[np.float64]]]:
        protocol = self._protocols[name]
        if protocol not in self._players:
            self._players[protocol] = Player(plan.protocol, self.learned)
        efforts, arrival = np.random.SeedSequence([self.seed, self._order[name]]).spawn(2)
        late = np.abs(np.random.Generator(np.random.PCG64(arrival)).normal(0.0, 1.0, self.draws))
        return self._players[protocol].play(efforts, self.draws), late * self.late_sd_s


def _refuse_left_out(study: Study, plans: Mapping[str, VisitPlan], schedule: Schedule) -> None:
    """FaultyInput with each visit that lacks parts of its protocol."""
    faults = []
    for visit in schedule.visits:
        asked = asked_visit(visit, study)
        if asked and len(matched(visit, plan := plans[asked.protocol])) < len(plan.activities):
            words = f"{visit.participant}, {visit.file_id} on {visit.date}: a mend left parts of it out"
            faults.append(Fault(Place("plan"), "left-out", words, "Play the plan from before that mend."))
    if faults:
        raise FaultyInput(faults)


def play(
    study: Study,
    plans: Mapping[str, VisitPlan],
    schedule: Schedule,
    *,
    draws: int = 2000,
    seed: int = 1,
    late_sd_s: int = LATE_SD_S,
    learned: Learned | None = None,
    stop: Stop | None = None,
) -> DayOdds:
    """Each day of the plan played `draws` times; the same plan and seed give the same odds.

    Once `stop` says so no further day is begun; `unplayed` then counts the days left out. FaultyInput
    where a mend left parts of a visit out: what would have followed them is not known.
    """
    _refuse_left_out(study, plans, schedule)
    cast = Cast(study, plans, draws, seed, late_sd_s, learned)
    visits: list[VisitOdds] = []
    late: dict[date, LateEnd] = {}
    waits: Counter[str] = Counter()
    over: list[Waits] = []
    errors: list[float] = []
    for day in schedule.dates:
        if stop is not None and stop():
            break
        roles = cast.roles(schedule.on(day))
        tasks = [task for task in schedule.rig_tasks if task.start.date() == day]
        played = play_day(roles, tasks, times_off(study, day), draws)
        visits += [_odds(played, role, number) for number, role in enumerate(roles)]
        late[day] = _late_end(played, roles)
        waits.update(played.waits_s)
        over += [Waits(name, s / 60, day) for name, s in _past_shifts(played, study, day).items()]
        kept_each = sum(keeps_all(played, role, number) * 1.0 for number, role in enumerate(roles))
        errors.append(float(np.std(kept_each)) / draws**0.5)
    error = sum(e * e for e in errors) ** 0.5 / max(1, len(visits))
    unplayed = len(schedule.dates) - len(late)
    most = _most_each(over)
    return DayOdds(draws, seed, late_sd_s, tuple(visits), late, _longest(waits), most, error, unplayed)


def _longest(seconds: Mapping[str, float]) -> tuple[Waits, ...]:
    ordered = sorted(seconds.items(), key=lambda item: (-item[1], item[0]))
    return tuple(Waits(name, s / 60) for name, s in ordered)


def _most_each(over: Iterable[Waits]) -> tuple[Waits, ...]:
    """Of each person the day with most, the longest first."""
    most: dict[str, Waits] = {}
    for one in over:
        if one.name not in most or one.minutes > most[one.name].minutes:
            most[one.name] = one
    return tuple(sorted(most.values(), key=lambda one: (-one.minutes, one.name)))


def times_off(study: Study, day: date) -> dict[str, Off]:
    """Breaks, absences, outages and the beginnings of shifts of one day."""
    off = {f"person {person.id}": _off(person, day) for person in study.people}
    for rig in study.rigs:
        out = tuple(one for one in rig.out if one.start.date() <= day <= one.end.date())
        off[f"rig {rig.id}"] = Off(closed=out)
    return off


def _off(person: Person, day: date) -> Off:
    works, breaks = person.works.get(day, ()), person.breaks.get(day, ())
    if not works:
        return Off(breaks=tuple(breaks))
    opens, end = works[0].start, works[-1].end
    away = without((Interval(opens, end),), (*works, *breaks))
    return Off(tuple(breaks), tuple(away), opens)


def _odds(played: Played, role: Role, number: int) -> VisitOdds:
    """Chances of the windows that were reached."""
    windows = []
    for row, link in enumerate(role.plan.windows):
        reached, alone = role.draws.reached[row], role.draws.chance(row)
        count = int(reached.sum())
        chance = float(kept(played, role, number, link)[reached].mean()) if count else None
        owner = role.plan.activities[owner_of(link)]
        windows.append(
            WindowOdds(
                owner.step,
                owner.at_s,
                None if chance is None else round(chance, 4),
                round(alone.share, 4) if alone else None,
                None if chance is None else error_of(chance, count),
            )
        )
    visit, alone_after = role.visit, played.alone.get(number)
    share = float(keeps_all(played, role, number).mean())
    return VisitOdds(
        visit.participant,
        visit.file_id,
        visit.date,
        tuple(windows),
        share,
        role.draws.chance_of_all().share,
        0.0 if alone_after is None else float(alone_after.mean()),
        error_of(share, played.draws),
    )


def owner_of(link: Link) -> int:
    """The activity whose time point a window is: the earlier one where it is due before the other."""
    return (link.earlier if link.later.moment is Moment.START else link.later).activity


def _late_end(played: Played, roles: list[Role]) -> LateEnd:
    """Seconds past the planned last end: mean and the ninetieth percentile."""
    planned = max(role.visit.end.timestamp() for role in roles)
    ends = np.max(np.array(list(played.ends.values())), axis=0)
    late = np.maximum(ends - planned, 0.0)
    return round(float(late.mean())), round(float(np.quantile(late, 0.9)))


def _past_shifts(played: Played, study: Study, day: date) -> dict[str, float]:
    """Mean seconds for which people work past the end of their shift; breaks and absences are no work."""
    found = {}
    for person in study.people:
        works = person.works.get(day, ())
        if works and (worked := played.worked.get(f"person {person.id}")) is not None:
            over = float(np.maximum(worked - works[-1].end.timestamp(), 0.0).mean())
            if over > 0:
                found[f"person {person.id}"] = over
    return found
