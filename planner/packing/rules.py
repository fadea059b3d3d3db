"""Every rule that a day must keep, a line each; nothing here is only for the solver's sake."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from itertools import combinations

from ortools.sat.python import cp_model

from planner.packing.core import Wants, stretched
from planner.packing.intervals import Intervals, closed_times, taken_times
from planner.packing.variables import Variables, holding_spans

Watches = list[cp_model.IntervalVar]


def add_rules(v: Variables, i: Intervals) -> None:
    """Every rule, a line each."""
    order_windows_and_stretch(v)
    no_more_visits_than_the_laboratory_takes(v)
    one_line_of_availability(v)
    one_of_each_class_and_role(v)
    two_roles_two_people(v)
    one_at_a_time(v, i)
    blocks_in_a_bout_share_only_its_own(v, i)
    who_watches_serves_nobody_else(v, i)
    keep_same_within_visit(v)
    served_by_the_person_wished(v)
    visits_of_one_participant_in_turn(v)
    first_task_before_first_use(v)


def order_windows_and_stretch(v: Variables) -> None:
    """Order, windows, what lies inside a bout, `starts_within`, and how far a visit may be stretched."""
    for job, starts in zip(v.core.jobs, v.start, strict=True):
        for gap in stretched(job) if starts else ():
            if gap.earlier == gap.later:
                continue
            distance = starts[gap.later] - starts[gap.earlier]
            if gap.high is None:
                v.model.add(distance >= gap.low)
            else:
                v.model.add_linear_constraint(distance, gap.low, gap.high)


def no_more_visits_than_the_laboratory_takes(v: Variables) -> None:
    """The study's own limit of visits a day."""
    if v.core.most is not None:
        v.model.add(sum(v.placed[j] for j in v.core.visits()) <= v.core.most)


def one_line_of_availability(v: Variables) -> None:
    """A visit lies inside one span of its participant's time, start included in what may start."""
    for j, job in enumerate(v.core.jobs):
        if not v.start[j]:
            continue
        spans = holding_spans(job)
        for span, chosen in zip(spans, v.line[j] or [v.placed[j]], strict=True):
            v.model.add(v.start[j][job.first] >= span[0]).only_enforce_if(chosen)
            v.model.add(v.end(j, job.last) <= span[1]).only_enforce_if(chosen)
        if v.line[j]:
            v.model.add(sum(v.line[j]) == v.placed[j])


def one_of_each_class_and_role(v: Variables) -> None:
    """Each use has exactly one of its choices where its visit comes."""
    for number, use in v.uses():
        literals = v.given[use.job][number]
        if len(literals) != 1:
            v.model.add(sum(literals.values()) == v.placed[use.job])


def two_roles_two_people(v: Variables) -> None:
    """One person serves at most one role, one rig at most one class, of one activity.

    Who clears may stay with the participant meanwhile, but clears, and stays, in one role.
    """
    at: dict[tuple[int, int, Wants | None, int], list[cp_model.IntVar]] = defaultdict(list)
    for number, use in v.uses():
        afterwards = use.wants if use.from_end else None
        for r, literal in v.given[use.job][number].items():
            at[use.job, use.first, afterwards, r].append(literal)
    for literals in at.values():
        if len(literals) > 1:
            v.model.add_at_most_one(literals)


def one_at_a_time(v: Variables, i: Intervals) -> None:
    """A rig or person is in one place at a time, within its free time; clearing and guard count."""
    for r in range(len(v.core.resources)):
        plain = [one for its in i.plain[r].values() for one in its]
        closed, many = closed_times(v, r), v.core.resources[r].many
        if plain and many == 1:
            v.model.add_no_overlap([*plain, *closed])
        elif plain:
            taken = taken_times(v, r)
            demands = [1] * (len(plain) + len(taken)) + [many] * len(closed)
            v.model.add_cumulative([*plain, *taken, *closed], demands, many)


def blocks_in_a_bout_share_only_its_own(v: Variables, i: Intervals) -> None:
    """What serves a bout may serve the blocks inside it, one after another."""
    for by_job in i.shared.values():
        for blocks in by_job.values():
            if len(blocks) > 1:
                v.model.add_no_overlap(blocks)


def who_watches_serves_nobody_else(v: Variables, i: Intervals) -> None:
    """From the end of the bout, who watches serves this participant only, within the shift."""
    for r, by_job in i.watches.items():
        closed = closed_times(v, r)
        for one, two in _of_two_visits(list(by_job.values())):
            v.model.add_no_overlap([*one, *two])
        for job, watches in by_job.items():
            others = [one for j, its in i.plain[r].items() if j != job for one in its]
            for watch in watches:
                v.model.add_no_overlap([watch, *others, *closed])


def _of_two_visits(watches: list[Watches]) -> Iterator[tuple[Watches, Watches]]:
    """Which watches keep each other out: all at once, or two and two where one visit has several.

    The watches of one visit may overlap each other.
    """
    if all(len(its) == 1 for its in watches):
        yield [one for its in watches for one in its], []
        return
    for its, others in combinations(watches, 2):
        yield from (([one], [other]) for one in its for other in others)


def keep_same_within_visit(v: Variables) -> None:
    """One rig of a class, or one person of a role, for a whole visit."""
    for uses in v.core.same:
        if not v.start[uses[0][0]]:
            continue
        (job, number), *others = uses
        for other_job, other in others:
            one, two = v.given[job][number], v.given[other_job][other]
            for r in one.keys() | two.keys():
                v.model.add(one.get(r, v.no) == two.get(r, v.no))


def served_by_the_person_wished(v: Variables) -> None:
    """A visit fixed to a person: each activity that the person can serve is served by them."""
    for uses, person in v.core.served_by:
        job = uses[0][0]
        if v.start[job]:
            v.model.add(sum(v.given[job][number][person] for job, number in uses) == v.placed[job])


def visits_of_one_participant_in_turn(v: Variables) -> None:
    """Two visits of one participant on one day: one after the other, no further apart than they may be.

    The second comes only if the first does, unless it must come anyway.
    """
    for a, b in v.core.in_turn:
        if v.start[a] and v.start[b]:
            if not v.core.jobs[b].must:
                v.model.add_implication(v.placed[b], v.placed[a])
            both = [v.placed[a], v.placed[b]]
            end = v.end(a, v.core.jobs[a].last)
            v.model.add(end <= v.start[b][v.core.jobs[b].first]).only_enforce_if(both)
    for a, b, most in v.core.near:
        if v.start[a] and v.start[b]:
            both = [v.placed[a], v.placed[b]]
            starts = [v.start[j][v.core.jobs[j].first] for j in (a, b)]
            v.model.add(starts[1] - starts[0] <= most).only_enforce_if(both)


def first_task_before_first_use(v: Variables) -> None:
    """A rig that is used at all has its task of the day first."""
    for j, job in enumerate(v.core.jobs):
        if job.prepares is None:
            continue
        for number, use in v.uses():
            literal = v.given[use.job][number].get(job.prepares)
            if literal is None or v.core.jobs[use.job].prepares is not None:
                continue
            if not v.start[j]:
                v.model.add(literal == 0)
                continue
            v.model.add_implication(literal, v.placed[j])
            v.model.add(v.end(j, 0) <= v.start[use.job][use.first] - use.lead).only_enforce_if(literal)
