"""Why not every visit has a place: arithmetic first, then the demands that collide, in plain words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from planner.packing.budget import Budget
from planner.packing.case import Case
from planner.packing.problem import VisitKey, key
from planner.packing.study_bounds import Bounds
from planner.schedule.model import Reason
from planner.study.model import Visit


@dataclass(frozen=True)
class Finding:
    """What was found out: reasons, and whether they prove that not all visits can be placed."""

    reasons: tuple[Reason, ...]
    is_proven: bool
    of_visit: Mapping[VisitKey, str] = field(default_factory=dict)

    def words_for(self, visit: Visit) -> str:
        """Why this visit has no place, in one sentence."""
        return self.of_visit.get(key(visit), "no free place was found in the time")


def find_reasons(case: Case, missing: Sequence[Visit], budget: Budget, bounds: Bounds) -> Finding:
    """Arithmetic."""
    return Finding((), False)
