"""What is measured only where exercise lasts longer than planned: the sheet has boxes for it too."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from planner.clock import later
from planner.protocol.model import Protocol
from planner.schedule.model import Activity, PlacedVisit
from planner.timing.network import never_reached


def if_longer(protocol: Protocol, visit: PlacedVisit) -> Iterator[Activity]:
    """Blocks that the plan does not have, at the clock that the planned start of exercise leads to.

    They are on the devices and with the people of the same manoeuvre earlier in the bout; where there is none
    before, the sheet can name nobody.
    """
    never = never_reached(protocol)
    for number, step in enumerate(protocol.visit):
        bout = next((a for a in visit.activities if a.step == step.id and a.manoeuvre is None), None)
        if bout is None or step.takes is None or step.takes.is_known:
            continue
        placed = {(a.at_s, a.manoeuvre) for a in visit.activities if a.step == step.id}
        for entry, during in enumerate(step.during):
            for which, point in enumerate(during.time_points):
                missing = [name for name in during.measure if (point.at_s, name) not in placed]
                path = ("visit", number, "during", entry, "at", which)
                if during.if_reached and missing and path not in never:
                    yield from _blocks(protocol, visit, bout, missing, point.at_s)


def _blocks(
    protocol: Protocol, visit: PlacedVisit, bout: Activity, names: list[str], at_s: int
) -> Iterator[Activity]:
    start = later(bout.start, at_s - protocol.manoeuvres[names[0]].prepare_s)
    for name in names:
        manoeuvre = protocol.manoeuvres[name]
        same = [a for a in visit.activities if a.step == bout.step and a.manoeuvre == name]
        like = same[-1] if same else replace(bout, rigs=(), staff={}, watch=None, manoeuvre=name)
        end = later(start, manoeuvre.length_s(manoeuvre.at_least))
        yield replace(
            like,
            at_s=at_s,
            start=start,
            first_effort=later(start, manoeuvre.prepare_s),
            end=end,
            rig_free=end,
            planned_efforts=manoeuvre.at_least,
        )
        start = end
