"""A study of several days: templates of its days, then visits to slots."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from planner.packing.bounds.joint_chains import least_day_of_chains
from planner.packing.bounds.rooms import lower_rooms
from planner.packing.bounds.study_bounds import Bounds
from planner.packing.budget import Budget
from planner.packing.days.assign import Assigned, assign
from planner.packing.days.day_templates import DayTemplates
from planner.packing.days.lanes import lanes
from planner.packing.days.market import Taken
from planner.packing.days.places import Places
from planner.packing.problem import key
from planner.packing.progress import Progress
from planner.schedule.model import PlacedVisit, RigTask
from planner.study.model import Study
from planner.timing.plan import VisitPlan

ROOMS = 0.05  # of the time, for how many visits each day could take at most
TEMPLATES = 0.3  # for the first templates of all kinds of days
HUNT = 0.7  # more, for as many visits a day as help to end earlier
ASSIGNING = 0.6  # of the time left then, for one choice of slots
CHAINS = 0.4  # of the time left then, for a proof that the study cannot end earlier
FULLER = 0.4  # of the time left then, for one visit more in the commonest template
LEAST_FULLER_S = 0.5
PLENTY = 2  # times as many visits as could ever be placed: the study is packed from no more


@dataclass(frozen=True)
class DaysPacked:
    """All placed visits and rig tasks, and what is proven of them."""

    visits: tuple[PlacedVisit, ...]
    tasks: tuple[RigTask, ...]
    bounds: Bounds
    least_last_day: int


class DaysPacker:
    """Packs one study of several days."""

    def __init__(
        self, study: Study, plans: Mapping[str, VisitPlan], budget: Budget, *, guard_s: int = 0
    ) -> None:
        self.study, self.plans, self.budget, self.guard_s = study, plans, budget, guard_s
        self.bounds = Bounds(study, plans)
        self.asked = {key(v) for visits in study.asked.values() for v in visits}
        self.least = 0
        self.among: frozenset[str] | None = None
        self._choosing_s = 0.0  # how long the last choice of slots took

    def pack(self) -> DaysPacked:
        """The whole way; whatever the time, every visit that is returned keeps the rules.

        Where the study might end sooner, or take more visits, with fuller days, the commonest template is
        made fuller and the slots are chosen anew.
        """
        lower_rooms(self.bounds, self.budget.part(ROOMS * self.budget.left_s))
        self.among = self._among()
        most = max((self.bounds.room(day) for day in self.study.open), default=0)
        cut = lanes(self.study, self.plans, most)
        self.templates = DayTemplates(self.study, self.plans, self.bounds, cut, self.budget, self.guard_s)
        self.templates.make_first(TEMPLATES * self.budget.left_s, HUNT * self.budget.left_s)
        places, assigned = self._choose()
        while self._might_gain(assigned) and self._may_grow(assigned) and self._grown():
            places, assigned = min((places, assigned), self._choose(), key=lambda pair: _cost(pair[1]))
        self._raise_least(assigned)
        if self._might_gain(assigned):
            again = self._choose(dogged=True, known=(places, assigned.taken))
            places, assigned = min((places, assigned), again, key=lambda pair: _cost(pair[1]))
        visits = places.visits(assigned.taken)
        return DaysPacked(visits, places.tasks(visits), self.bounds, self.least)

    def _raise_least(self, assigned: Assigned) -> None:
        """Looks whether the last day that was found is the earliest, as far as days and chains tell."""
        if assigned.missing or not self._might_gain(assigned):
            return
        part = self.budget.part(CHAINS * self.budget.left_s)
        self.least = least_day_of_chains(self.bounds, self.least, assigned.last_day, part)

    def _among(self) -> frozenset[str] | None:
        """Whom the study is packed from, where far more are asked for than could ever come: the first ones.

        Those with a wish come before the others. None: everybody.
        """
        room = PLENTY * sum(self.bounds.room(day) for day in self.study.open)
        if len(self.asked) <= room:
            return None
        wishing = {wish.participant for wish in self.study.wishes}
        chosen: set[str] = set()
        for who in sorted(self.study.participants, key=lambda who: who not in wishing):
            if room <= 0:
                break
            chosen.add(who)
            room -= len(self.study.asked.get(who, ()))
        return frozenset(chosen)

    def _may_grow(self, assigned: Assigned) -> bool:
        """Whether the commonest template may take one visit more, and that might help."""
        if not self.templates.may_grow:
            return False
        return assigned.missing > 0 or self.templates.could_end_before(assigned.last_day)

    def _grown(self) -> bool:
        """Whether the commonest template took one visit more, with time left to choose its slots."""
        part = FULLER * self.budget.left_s
        if part < LEAST_FULLER_S or self.budget.left_s - part < 2 * self._choosing_s:
            return False
        return self.templates.make_fuller(part)

    def _choose(
        self, *, dogged: bool = False, known: tuple[Places, Taken] | None = None
    ) -> tuple[Places, Assigned]:
        """Visits to the slots that there are now; the earliest possible last day is counted anew.

        `dogged`: the time is used up while a better choice is thinkable. `known`: slots and a choice.
        """
        before = self.budget.clock.now()
        places = known[0] if known else Places(self.study, self.templates.by_day())
        for day, most in self.templates.proven():
            self.bounds.lower_room(day, most)
        self.least = max(self.least, self.bounds.least_last_day())
        assigned = assign(
            places.slots(),
            places.chains(self.among),
            least_last_day=self.least,
            budget=self.budget.part(ASSIGNING * self.budget.left_s),
            seed=self.study.seed,
            told=self._told,
            dogged=dogged,
            known=known[1] if known else None,
            at_most=self.bounds.most_placed(),
        )
        self._choosing_s = self.budget.clock.now() - before
        return places, assigned

    def _told(self, found: Assigned) -> None:
        if self.budget.report:
            placed, left = sum(map(len, found.taken)), self.budget.left_s
            least = None if found.missing else self.least  # it is of plans that place everybody
            self.budget.report(Progress("last_day", placed, found.last_day, least, left))

    def _might_gain(self, assigned: Assigned) -> bool:
        if self.budget.is_over:
            return False
        least = len(self.asked) - self.bounds.most_placed()
        return assigned.missing > least or (not assigned.missing and assigned.last_day > self.least)


def _cost(assigned: Assigned) -> tuple[int, int]:
    return assigned.missing, assigned.last_day
