"""What chance a visit is packed for: what was asked, unless its own protocol leaves no room for that."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping

import numpy as np

from planner.packing.chance.odds import VisitOdds
from planner.study.model import Study
from planner.timing.learned import Learned
from planner.timing.plan import VisitPlan
from planner.timing.simulate import Player

BELOW_CEILING = 0.02  # who is never sure, even alone, cannot be asked for more than so much less than that
DRAWS = 2000


def aimed(ceiling: float, chance: float, margin: float = 0.0) -> float:
    """What a visit with that chance alone is to reach; the search aims higher by `margin`."""
    if ceiling >= 1.0:
        return min(chance + margin, 1.0)
    return min(chance + margin, ceiling - BELOW_CEILING + margin / 2)


def aim(odds: VisitOdds, chance: float) -> float:
    """What a played visit is to reach."""
    return aimed(odds.ceiling, chance)


def share_words(share: float) -> str:
    """A share as it was asked for, no digit lost."""
    return f"{100 * share:.8g} %"


def ceilings(study: Study, plans: Mapping[str, VisitPlan], learned: Learned | None) -> dict[str, float]:
    """By protocol that is asked for, the chance of all windows with the laboratory to itself."""
    names = dict.fromkeys(v.protocol for several in study.asked.values() for v in several)
    return {name: _ceiling(plans[name], study.seed, learned) for name in names}


def _ceiling(plan: VisitPlan, seed: int, learned: Learned | None) -> float:
    draws = Player(plan.protocol, learned).play(np.random.SeedSequence(seed), DRAWS)
    return float(draws.chance_of_all().share)


def told_ahead(
    study: Study, plans: Mapping[str, VisitPlan], chance: float, learned: Learned | None = None
) -> Iterator[str]:
    """Before packing: which protocols leave no room for what is asked, and what is aimed at instead."""
    asked = Counter(v.protocol for several in study.asked.values() for v in several)
    for name, ceiling in ceilings(study, plans, learned).items():
        if aimed(ceiling, chance) < chance:
            why = "less than was asked for" if ceiling < chance else "too little more than was asked for"
            yield (
                f"{name}: a visit with the laboratory to itself keeps all windows in about "
                f"{share_words(round(ceiling, 3))} of plays, {why} ({share_words(chance)}). "
                f"Its {asked[name]} visits are packed for 2 points below that."
            )
