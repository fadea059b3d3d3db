"""The plan of one visit at a quantile: `lay_out(protocol, plan_on) -> VisitPlan`.

NumPy is imported only where a stop rule makes the number of efforts random.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal

from planner.faults import Fault
from planner.protocol.model import Clearing, KeyPath, Length, Manoeuvre, Protocol
from planner.timing.bounds import bounds, longest_s, shortest_s
from planner.timing.expand import Outline, Spot, expand, kept_rigs
from planner.timing.learned import Estimate, Learned
from planner.timing.plan import PlannedActivity, VisitPlan
from planner.timing.sequence import Lengths, Pick, end_of_visit, routine, start_times, written


def lay_out(protocol: Protocol, plan_on: Decimal, learned: Learned | None = None) -> VisitPlan:
    """The visit with every block at its planned efforts and every bout at `about`.

    Time points that a bout of unknown length reaches only when it lasts longer than `about` are not
    in the plan. `plan_on` is a share, such as Decimal("0.80").
    """
    efforts = planned_efforts(protocol, plan_on, learned)
    outline, lengths, starts = _reached(protocol, efforts, learned)
    known = learned or Learned()
    activities = tuple(_activity(outline, spot, lengths, efforts, known) for spot in outline.spots)
    least, most = bounds(protocol)
    return VisitPlan(
        protocol=protocol,
        plan_on=plan_on,
        activities=activities,
        links=outline.links,
        starts_s=tuple(starts),
        alone_s=end_of_visit(outline, starts, lengths, Pick()),
        shortest_s=least,
        longest_s=most,
    )


def planned_efforts(protocol: Protocol, plan_on: Decimal, learned: Learned | None = None) -> dict[str, int]:
    """For each manoeuvre the smallest number of efforts by which its block has ended with that chance."""
    used = {name for step in protocol.visit for name in _measured(step)}
    fixed = {m.id: m.at_least for m in protocol.manoeuvres.values() if not _is_random(m)}
    drawn = [m for m in protocol.manoeuvres.values() if m.id in used and _is_random(m)]
    if drawn:
        from planner.timing.planned import enough_efforts

        fixed.update({m.id: enough_efforts(m, float(plan_on), protocol.name, learned) for m in drawn})
    return {name: fixed[name] for name in protocol.manoeuvres if name in fixed}


def _measured(step: object) -> tuple[str, ...]:
    during = getattr(step, "during", ())
    return (*getattr(step, "measure", ()), *(name for entry in during for name in entry.measure))


def _is_random(manoeuvre: Manoeuvre) -> bool:
    return bool(manoeuvre.enough) and manoeuvre.at_least < manoeuvre.at_most


def _reached(
    protocol: Protocol, efforts: Mapping[str, int], learned: Learned | None
) -> tuple[Outline, Lengths, list[int]]:
    """The outline without the time points that do not fit into bouts at `about`, and its layout."""
    left_out: frozenset[KeyPath] = frozenset()
    while True:
        outline = expand(protocol, left_out)
        lengths = planned_lengths(outline, efforts, learned)
        starts = start_times(routine(outline), lengths, written, Pick())
        missed = _first_missed(outline, lengths, starts)
        if missed is None:
            return outline, lengths, starts
        left_out |= {missed}


def _first_missed(outline: Outline, lengths: Lengths, starts: list[int]) -> KeyPath | None:
    for spot in outline.spots:
        if spot.inside is not None and spot.falls_away:
            end = starts[spot.index] + lengths.whole[spot.index]
            if end > starts[spot.inside] + lengths.whole[spot.inside]:
                return spot.path
    return None


def planned_lengths(outline: Outline, efforts: Mapping[str, int], learned: Learned | None) -> Lengths:
    """Whole seconds of each spot with these efforts and bouts at `about`, or as the record has taught."""
    name = outline.protocol.name
    known = learned or Learned()
    prepare, whole, delay = [], [], []
    firsts = {spot.occurrence: spot.index for spot in reversed(outline.spots)}
    for spot in outline.spots:
        late = known.delay_s.get((name, spot.step.id))
        delay.append(seconds(late, 0) if firsts[spot.occurrence] == spot.index else 0)
        if spot.manoeuvre is None:
            prepare.append(0)
            whole.append(about_s(spot.step.takes, spot, known.bout_s.get((name, spot.step.id))))
            continue
        timed = learned_times(spot.manoeuvre, name, known)
        prepare.append(timed[0])
        count = efforts[spot.manoeuvre.id]
        whole.append(timed[0] + count * timed[1] + (count - 1) * timed[2])
    return Lengths(prepare, whole, delay)


def learned_times(manoeuvre: Manoeuvre, protocol: str, learned: Learned) -> tuple[int, int, int]:
    """Seconds of preparing, of one effort, and of a rest, as taught by the record or as written.

    The rest that is written is the least: people who cut it short teach no plan to do so.
    """
    key = (protocol, manoeuvre.id)
    return (
        seconds(learned.prepare_s.get(key), manoeuvre.prepare_s),
        seconds(learned.effort_s.get(key), manoeuvre.effort_s),
        max(seconds(learned.rest_s.get(key), manoeuvre.rest_s), manoeuvre.rest_s),
    )


def learned_clearing(manoeuvre: Manoeuvre, protocol: str, learned: Learned) -> Clearing | None:
    """Clearing, as long as the record has taught where that is longer than written: it is never shortened."""
    clear = manoeuvre.clear
    if clear is None or (found := learned.clear_s.get((protocol, manoeuvre.id))) is None:
        return clear
    return replace(clear, takes_s=max(clear.takes_s, seconds(found, clear.takes_s)))


def seconds(estimate: Estimate | None, otherwise: int) -> int:
    """An estimate in whole seconds, the value as written where there is none."""
    return otherwise if estimate is None else max(0, round(estimate.learned))


def about_s(takes: Length | None, spot: Spot, estimate: Estimate | None) -> int:
    """`about`, or the learned mean: of a task, and of a bout of unknown length between its bounds.

    A bout of known length is what the protocol prescribes, however long people took.
    """
    if takes is None:
        return spot.step.rest_s or 0
    if estimate is None:
        return takes.about_s
    if takes.is_known:
        return takes.about_s if spot.step.exercise else seconds(estimate, takes.about_s)
    return min(max(seconds(estimate, takes.about_s), takes.shortest_s), takes.longest_s)


def _activity(
    outline: Outline, spot: Spot, lengths: Lengths, efforts: Mapping[str, int], learned: Learned
) -> PlannedActivity:
    manoeuvre, step = spot.manoeuvre, spot.step
    keeps = kept_rigs(outline, spot.index)
    clear = learned_clearing(manoeuvre, outline.protocol.name, learned) if manoeuvre else step.clear
    # Where only some of the rigs go on, the others are cleared here; the kept ones after their last use.
    stays = bool(keeps) and set(keeps) == set(spot.rigs)
    return PlannedActivity(
        index=spot.index,
        step=step.id,
        kind=spot.kind,
        at_s=spot.at_s,
        manoeuvre=manoeuvre.id if manoeuvre else None,
        rigs=spot.rigs,
        staff=manoeuvre.staff if manoeuvre else step.staff,
        prepare_s=lengths.prepare[spot.index],
        length_s=lengths.whole[spot.index],
        shortest_s=shortest_s(spot),
        longest_s=longest_s(spot),
        planned_efforts=efforts[manoeuvre.id] if manoeuvre else None,
        clear=None if stays else clear,
        keeps=keeps,
        watch=None if manoeuvre else step.watch,
        inside=spot.inside,
        path=spot.path,
    )


def cannot_be_kept(plan: VisitPlan) -> Fault | None:
    """Why the plan's own lengths cannot keep every window, None where they can.

    The fault names the block, its planned efforts with the quantile they stand for, and the window.
    """
    from planner.timing.network import first_collision_of_plan

    return first_collision_of_plan(plan)
