"""The judge: a correct plan passes, and for every rule a plan that breaks only that rule is named for it."""

from dataclasses import replace
from datetime import timedelta

from planner.clock import DaySpan, Interval, at_clock, later
from planner.schedule.model import Activity, Change, NotPlaced, PlacedVisit, PlacedWatch, RigTask
from planner.schedule.verify import verify
from planner.study.model import Wish

FVC = ("before", None, "fvc")
MIP = ("before", None, "mip")
MEP = ("before", None, "mep")
WELCOME = ("welcome", None, None)
ROW = ("row", None, None)


def rules(verdict):
    return {one.rule for one in verdict.broken}


def told(verdict, rule, participant, *visits):
    """Only this rule is broken, by these visits, in words that name them and a clock time or date."""
    assert rules(verdict) == {rule}, [str(one) for one in verdict.broken]
    assert {(one.participant, one.visit) for one in verdict.broken} == {(participant, v) for v in visits}
    for one in verdict.broken:
        assert participant in one.message
        assert one.visit in one.message
        assert any(letter.isdigit() for letter in one.message)


def test_a_correct_plan_keeps_every_rule(good, study, plans):
    verdict = verify(good, study, plans)
    assert verdict.broken == ()
    assert verdict.warnings == ()
    assert verdict.as_json()["checked"] == {"visits": 6, "activities": 54}


# -- what is asked for


def test_a_visit_that_nobody_asked_for(good, study, plans):
    start = at_clock(good.visits[0].date, good.visits[0].start.time().replace(hour=14), study.zone)
    alone = Activity("x", None, None, (), {}, start, None, later(start, 60), later(start, 60), None)
    stranger = PlacedVisit("ROW-09", "practice", None, None, (alone,))
    told(verify(replace(good, visits=(*good.visits, stranger)), study, plans), "known", "ROW-09", "practice")


def test_a_visit_placed_twice(good, study, plans, tools):
    again = tools.placed(study, plans, ("ROW-01", 0, tools.MON, tools.time(14), "S1"))
    told(verify(replace(good, visits=(*good.visits, again)), study, plans), "once", "ROW-01", "practice")


def test_an_asked_visit_left_out_in_silence(spoil, study, plans):
    verdict = verify(spoil.without("ROW-02", "rowing-2"), study, plans)
    assert rules(verdict) == {"all-asked"}
    assert (verdict.broken[0].participant, verdict.broken[0].visit) == ("ROW-02", "rowing-2")


def test_a_visit_placed_and_named_as_not_placed(good, study, plans):
    spoiled = replace(good, not_placed=(NotPlaced("ROW-01", "practice", "no room"),))
    assert rules(verify(spoiled, study, plans)) == {"all-asked"}


def test_a_wrong_number_of_asked_visits(good, study, plans):
    assert rules(verify(replace(good, asked=7), study, plans)) == {"asked"}


def test_conditions_exchanged(spoil, good, study, plans, tools):
    one = next(v for v in good.visits if (v.participant, v.file_id) == ("ROW-01", "rowing-1"))
    two = next(v for v in good.visits if (v.participant, v.file_id) == ("ROW-01", "rowing-2"))
    spoiled = spoil.visit("ROW-01", "rowing-1", condition=two.condition)
    spoiled = tools.Spoil(spoiled).visit("ROW-01", "rowing-2", condition=one.condition)
    verdict = verify(spoiled, study, plans)
    told(verdict, "condition-order", "ROW-01", "rowing-1", "rowing-2")
    assert not any("cold" in str(broken) for broken in verdict.broken), "a blind study shows no condition"


def test_practice_after_rowing(good, study, plans, tools):
    late = tools.placed(study, plans, ("ROW-01", 0, tools.FRI, tools.time(9), "S1"))
    task = tools.check(study, ("S1", "K1", tools.FRI, tools.time(8)))
    spoiled = replace(good, visits=(late, *good.visits[1:]), rig_tasks=(*good.rig_tasks, task))
    told(verify(spoiled, study, plans), "visit-order", "ROW-01", "practice")


def test_too_few_days_between(good, study, plans, tools):
    close = tools.placed(study, plans, ("ROW-01", 0, tools.TUE, tools.time(9), "S1"))
    told(
        verify(replace(good, visits=(close, *good.visits[1:])), study, plans),
        "days-between",
        "ROW-01",
        "rowing-1",
    )


def test_too_many_days_between(good, study_with, plans):
    study = study_with("study.yaml", "at_least: 1 d, at_most: 3 d", "at_least: 1 d, at_most: 1 d")
    verdict = verify(replace(good, fingerprint=study.fingerprint), study, plans)
    assert rules(verdict) == {"days-between"}
    assert {one.visit for one in verdict.broken} == {"rowing-2"}


def test_days_count_from_the_last_placed_visit_where_one_is_missing(good, study_with, plans, tools):
    study = study_with(
        "study.yaml", "since_last: {at_least: 1 d}", "since_last: {at_least: 1 d, at_most: 1 d}"
    )
    spoiled = tools.Spoil(good).without("ROW-01", "rowing-1")
    spoiled = replace(spoiled, not_placed=(NotPlaced("ROW-01", "rowing-1", "ill"),))
    assert verify(spoiled, study, plans).broken == (), "no upper end towards a visit that never was"


def test_a_visit_added_by_a_mend_where_the_one_before_it_has_no_place(spoil, study, plans):
    left = NotPlaced("ROW-01", "practice", "no day takes it")
    added = Change("ROW-01", "rowing-1", "ROW-01, rowing-1: visit added", "added")
    without = replace(
        spoil.without("ROW-01", "practice"), version=2, replaces=1, not_placed=(left,), stages=()
    )
    assert verify(without, study, plans).broken == (), "one that was told already may stay"
    told(verify(replace(without, changes=(added,)), study, plans), "visit-order", "ROW-01", "rowing-1")


def test_another_time_of_day(good, study, plans, tools):
    late = tools.placed(study, plans, ("ROW-01", 1, tools.TUE, tools.time(13, 30), "S1"))
    spoiled = replace(good, visits=(good.visits[0], late, *good.visits[2:]))
    told(verify(spoiled, study, plans), "same-time-of-day", "ROW-01", "rowing-1")


def test_too_many_visits_a_day(good, study, plans):
    verdict = verify(good, replace(study, at_most_visits_a_day=1), plans)
    assert rules(verdict) == {"visits-a-day"}
    assert len(verdict.broken) == 3


# -- within a visit


def test_a_missing_activity(good, spoil, study, plans):
    visit = good.visits[1]
    kept = tuple(one for one in visit.activities if one.step != "sit")
    told(
        verify(spoil.visit("ROW-01", "rowing-1", activities=kept), study, plans),
        "activities",
        "ROW-01",
        "rowing-1",
    )


def test_an_activity_twice(good, spoil, study, plans):
    visit = good.visits[1]
    sit = next(one for one in visit.activities if one.step == "sit")
    spoiled = spoil.visit("ROW-01", "rowing-1", activities=(*visit.activities, sit))
    assert "activities" in rules(verify(spoiled, study, plans))


def test_an_activity_that_the_protocol_does_not_have(good, spoil, study, plans):
    visit = good.visits[1]
    last = visit.activities[-1]
    extra = Activity(
        "dance", None, None, (), {}, last.end, None, later(last.end, 60), later(last.end, 60), None
    )
    spoiled = spoil.visit("ROW-01", "rowing-1", activities=(*visit.activities, extra))
    told(verify(spoiled, study, plans), "activities", "ROW-01", "rowing-1")


def test_a_block_that_is_too_short(spoil, study, plans):
    spoiled = spoil.activity("ROW-01", "rowing-1", FVC, end=lambda one: later(one.end, -1))
    told(verify(spoiled, study, plans), "length", "ROW-01", "rowing-1")


def test_a_rest_that_is_too_short(spoil, study, plans):
    short = lambda one: later(one.end, -1)  # noqa: E731
    spoiled = spoil.activity("ROW-01", "rowing-1", ("sit", None, None), end=short, rig_free=short)
    told(verify(spoiled, study, plans), "length", "ROW-01", "rowing-1")


def test_a_rest_may_last_longer(spoil, study, plans, tools):
    longer = lambda one: later(one.end, 60)  # noqa: E731
    spoiled = spoil.activity("ROW-01", "rowing-1", ("sit", None, None), end=longer, rig_free=longer)
    spoiled = tools.Spoil(spoiled).moved("ROW-01", "rowing-1", 60, since="farewell/None")
    verdict = verify(spoiled, study, plans)
    assert verdict.broken == ()
    assert verdict.warnings == ()


def test_a_first_effort_before_everything_is_ready(spoil, study, plans):
    spoiled = spoil.activity("ROW-01", "rowing-1", FVC, first_effort=lambda one: later(one.start, 59))
    told(verify(spoiled, study, plans), "first-effort", "ROW-01", "rowing-1")


def test_a_block_without_its_first_effort(spoil, study, plans):
    told(
        verify(spoil.activity("ROW-01", "rowing-1", FVC, first_effort=None), study, plans),
        "first-effort",
        "ROW-01",
        "rowing-1",
    )


def test_a_task_with_efforts(spoil, study, plans):
    spoiled = spoil.activity("ROW-01", "rowing-1", WELCOME, first_effort=lambda one: one.start)
    told(verify(spoiled, study, plans), "first-effort", "ROW-01", "rowing-1")


def test_another_number_of_efforts(spoil, study, plans):
    told(
        verify(spoil.activity("ROW-02", "rowing-1", FVC, planned_efforts=2), study, plans),
        "planned-efforts",
        "ROW-02",
        "rowing-1",
    )


def test_a_step_before_the_one_before_it_has_ended(spoil, study, plans):
    spoiled = spoil.activity(
        "ROW-01", "rowing-1", ("sit", None, None), start=lambda one: later(one.start, -1)
    )
    told(verify(spoiled, study, plans), "order", "ROW-01", "rowing-1")


def test_a_step_that_follows_too_late(spoil, study, plans):
    spoiled = spoil.moved("ROW-01", "rowing-1", 601, since="farewell/None")
    told(verify(spoiled, study, plans), "starts-within", "ROW-01", "rowing-1")
    assert verify(spoil.moved("ROW-01", "rowing-1", 600, since="farewell/None"), study, plans).broken == ()


def test_a_time_point_that_is_late(spoil, study, plans):
    assert verify(spoil.moved("ROW-01", "rowing-1", 180, since="after/900"), study, plans).broken == ()
    spoiled = spoil.moved("ROW-01", "rowing-1", 181, since="after/900")
    told(verify(spoiled, study, plans), "window", "ROW-01", "rowing-1")


def test_a_time_point_that_is_early(spoil, study, plans):
    assert verify(spoil.moved("ROW-01", "rowing-1", -60, since="after/900"), study, plans).broken == ()
    spoiled = spoil.moved("ROW-01", "rowing-1", -61, since="after/900")
    told(verify(spoiled, study, plans), "window", "ROW-01", "rowing-1")


def test_a_time_point_during_the_bout_that_is_late(good, spoil, study, plans):
    key = ("row", 360, "fvc-short")
    move = {
        name: (lambda one, name=name: later(getattr(one, name), 61))
        for name in ("start", "first_effort", "end", "rig_free")
    }
    told(
        verify(spoil.activity("ROW-01", "rowing-1", key, **move), study, plans),
        "window",
        "ROW-01",
        "rowing-1",
    )


def test_a_block_that_outlasts_its_bout(study_with, plans, tools):
    from planner.schedule.plans import visit_plans

    study = study_with(
        "rowing.yaml", "early: 30 s, late: 1 min", "early: 30 s, late: 9 min",
        "rowing.yaml", "late: [1 min, 3 min]", "late: [3 min, 3 min]",
    )  # fmt: skip
    changed = visit_plans(study)
    good = tools.good_plan(study, changed)
    assert verify(good, study, changed).broken == ()
    key = ("row", 360, "fvc-short")
    move = {
        name: (lambda one, name=name: later(getattr(one, name), 291))
        for name in ("start", "first_effort", "end", "rig_free")
    }
    later_after = tools.Spoil(good).moved("ROW-02", "rowing-1", 65, since="after/120")
    assert verify(later_after, study, changed).broken == ()
    spoiled = tools.Spoil(later_after).activity("ROW-02", "rowing-1", key, **move)
    told(verify(spoiled, study, changed), "inside", "ROW-02", "rowing-1")


# -- who and what serves


def test_a_block_on_a_rig_of_another_class(spoil, study, plans):
    told(
        verify(spoil.activity("ROW-01", "rowing-1", FVC, rigs=("E1",)), study, plans),
        "rig-class",
        "ROW-01",
        "rowing-1",
    )


def test_a_block_without_a_rig_and_a_task_with_one(spoil, study, plans):
    none = spoil.activity("ROW-01", "rowing-1", ("row", 360, "fvc-short"), rigs=())
    told(verify(none, study, plans), "rig-class", "ROW-01", "rowing-1")
    one = spoil.activity("ROW-01", "rowing-1", WELCOME, rigs=("M1",))
    told(verify(one, study, plans), "rig-class", "ROW-01", "rowing-1")


def test_an_unknown_rig(spoil, study, plans):
    told(
        verify(spoil.activity("ROW-01", "practice", ("learn", None, "mep"), rigs=("M9",)), study, plans),
        "rig-class",
        "ROW-01",
        "practice",
    )


def test_a_person_without_the_role(spoil, study, plans):
    told(
        verify(spoil.activity("ROW-01", "rowing-1", MIP, staff={"operator": "K3"}), study, plans),
        "role",
        "ROW-01",
        "rowing-1",
    )


def test_nobody_in_a_role_and_an_unknown_person(spoil, study, plans):
    nobody = spoil.activity("ROW-01", "rowing-1", MEP, staff={"operator": "K1"})
    told(verify(nobody, study, plans), "role", "ROW-01", "rowing-1")
    unknown = spoil.activity("ROW-01", "rowing-1", MIP, staff={"operator": "K9"})
    told(verify(unknown, study, plans), "role", "ROW-01", "rowing-1")


def test_a_role_that_is_not_asked_for(spoil, study, plans):
    spoiled = spoil.activity("ROW-01", "rowing-1", MIP, staff={"operator": "K2", "cheek support": "K3"})
    told(verify(spoiled, study, plans), "role", "ROW-01", "rowing-1")


def test_one_person_in_two_roles(spoil, study, plans):
    both = {"operator": "K2", "cheek support": "K2"}
    told(
        verify(spoil.activity("ROW-01", "rowing-1", MEP, staff=both), study, plans),
        "two-persons",
        "ROW-01",
        "rowing-1",
    )


def test_another_rig_within_a_run(study_with, tools):
    from planner.schedule.plans import visit_plans

    study = study_with("study.yaml", "mouth-pressure meter: [M1]", "mouth-pressure meter: [M1, M2]")
    plans = visit_plans(study)
    spoiled = tools.Spoil(tools.good_plan(study, plans)).activity("ROW-01", "rowing-1", MEP, rigs=("M2",))
    told(verify(spoiled, study, plans), "rig-kept", "ROW-01", "rowing-1")


def test_no_time_for_clearing(spoil, study, plans):
    spoiled = spoil.activity("ROW-01", "rowing-1", FVC, rig_free=lambda one: later(one.end, 119))
    told(verify(spoiled, study, plans), "clearing", "ROW-01", "rowing-1")


def test_clearing_where_none_is_asked_for(spoil, study, plans):
    spoiled = spoil.activity("ROW-01", "rowing-1", WELCOME, rig_free=lambda one: later(one.end, 60))
    told(verify(spoiled, study, plans), "clearing", "ROW-01", "rowing-1")


def test_nobody_clears(study_with, tools):
    from planner.schedule.plans import visit_plans

    study = study_with("practice.yaml", "clear: 2 min", "clear: {takes: 2 min, staff: [lead]}")
    plans = visit_plans(study)
    spoiled = tools.good_plan(study, plans)
    verdict = verify(spoiled, study, plans)
    assert rules(verdict) == {"role"}
    key = ("learn", None, "mep")
    for who in ("ROW-01", "ROW-02"):
        spoiled = tools.Spoil(spoiled).activity(who, "practice", key, clear_staff={"lead": "K1"})
    assert verify(spoiled, study, plans).broken == ()


def test_one_person_clears_in_two_roles_at_once(study_with, tools):
    """Who serves the block as operator clears as operator; the lead who clears besides is somebody else."""
    from planner.schedule.plans import visit_plans

    clear = "clear: {takes: 2 min, staff: [operator, lead]}"
    study = study_with("practice.yaml", "clear: {takes: 2 min, staff: [operator]}", clear)
    people = tuple(replace(one, roles=("operator", "lead", "cheek support")) for one in study.people)
    study = replace(study, people=people)
    plans = visit_plans(study)
    key, plan = ("learn", None, "fvc"), tools.good_plan(study, plans)
    (block,) = (a for a in plan.visits[0].activities if (a.step, a.at_s, a.manoeuvre) == key)
    who, same = plan.visits[0].participant, block.staff["operator"]
    spoiled = tools.Spoil(plan).activity(who, "practice", key, clear_staff={"lead": same})
    (found,) = (one for one in verify(spoiled, study, plans).broken if one.rule == "two-persons")
    assert (found.participant, found.visit) == (who, "practice")
    assert f"clearing after fvc of step learn at 09:05: {same} serves in two roles at once" in found.message
    other = next(one.id for one in study.people if one.id not in block.staff.values())
    kept = tools.Spoil(plan).activity(who, "practice", key, clear_staff={"lead": other})
    assert "two-persons" not in rules(verify(kept, study, plans))


def test_nobody_stays_after_the_bout(spoil, study, plans):
    told(
        verify(spoil.activity("ROW-01", "rowing-1", ROW, watch=None), study, plans),
        "watch",
        "ROW-01",
        "rowing-1",
    )


def test_somebody_stays_too_short(spoil, study, plans):
    short = lambda one: PlacedWatch(one.watch.staff, later(one.watch.end, -1))  # noqa: E731
    told(
        verify(spoil.activity("ROW-01", "rowing-1", ROW, watch=short), study, plans),
        "watch",
        "ROW-01",
        "rowing-1",
    )


def test_who_stays_must_have_the_role(spoil, study, plans):
    other = lambda one: PlacedWatch({"lead": "K2"}, one.watch.end)  # noqa: E731
    spoiled = spoil.activity("ROW-01", "rowing-1", ROW, watch=other)
    verdict = verify(spoiled, replace(study, keep_same_within=()), plans)
    told(verdict, "role", "ROW-01", "rowing-1")


# -- nobody and nothing in two places


MORE = (
    "staff.csv",
    "K3,lead;cheek support",
    "K3,lead;cheek support\nK4,operator;lead;cheek support\nK5,operator;lead;cheek support\nK6,cheek support",
)
SHIFTS = (
    "shifts.csv",
    "K1,mon-fri",
    "K4,mon-fri,08:00,17:00,\nK5,mon-fri,08:00,17:00,\nK6,mon-fri,08:00,17:00,\nK1,mon-fri",
)
OTHERS = {
    ("welcome", None): {"lead": "K4"},
    ("learn", "fvc"): {"operator": "K4"},
    ("learn", "mep"): {"operator": "K5", "cheek support": "K6"},
}


def crowd(study_with, tools, *changes):
    from planner.schedule.plans import visit_plans

    study = study_with(*MORE, *SHIFTS, *changes)
    plans = visit_plans(study)
    return study, plans, tools.good_plan(study, plans)


def in_crowd(study, plans, good, tools, clock, spirometer, crew):
    """The second participant's practice moved into the first one's."""
    moved = tools.placed(study, plans, ("ROW-02", 0, tools.MON, clock, spirometer), {**tools.CREW, **crew})
    visits = tuple(moved if (v.participant, v.file_id) == ("ROW-02", "practice") else v for v in good.visits)
    return replace(good, visits=visits)


def both_told(verdict, rule):
    assert rules(verdict) == {rule}, [str(one) for one in verdict.broken]
    assert {one.participant for one in verdict.broken} == {"ROW-01", "ROW-02"}


def test_a_rig_that_is_still_being_cleared(study_with, tools):
    study, plans, good = crowd(
        study_with, tools, "study.yaml", "across_visits: [spirometer]", "across_visits: []"
    )
    fine = in_crowd(study, plans, good, tools, tools.time(9, 5, 0), "S2", OTHERS)
    assert verify(fine, study, plans).broken == ()
    assert (
        verify(in_crowd(study, plans, good, tools, tools.time(9, 5, 0), "S1", OTHERS), study, plans).broken
        == ()
    )
    spoiled = in_crowd(study, plans, good, tools, tools.time(9, 4, 59), "S1", OTHERS)
    both_told(verify(spoiled, study, plans), "rig-busy")


def test_a_person_in_two_places(study_with, tools):
    study, plans, good = crowd(study_with, tools)
    crew = {**OTHERS, ("welcome", None): {"lead": "K3"}}
    spoiled = in_crowd(study, plans, good, tools, tools.time(9, 5), "S2", crew)
    both_told(verify(spoiled, study, plans), "person-busy")


def test_a_person_who_is_still_clearing(study_with, tools):
    study, plans, good = crowd(study_with, tools)
    crew = {**OTHERS, ("welcome", None): {"lead": "K1"}}
    spoiled = in_crowd(study, plans, good, tools, tools.time(9, 9, 59), "S2", crew)
    both_told(verify(spoiled, study, plans), "person-busy")
    fine = in_crowd(study, plans, good, tools, tools.time(9, 10), "S2", crew)
    assert verify(fine, study, plans).broken == ()


def test_who_stays_with_one_serves_another(study_with, tools):
    study, plans, good = crowd(study_with, tools)
    free = {**tools.CREW, ("after", "mep"): {"operator": "K2", "cheek support": "K5"}}
    rowing = tools.placed(study, plans, ("ROW-01", 1, tools.TUE, tools.time(10), "S1"), free)
    visits = (good.visits[0], rowing, *good.visits[2:])
    assert verify(replace(good, visits=visits), study, plans).broken == ()
    end = next(one for one in rowing.activities if one.step == "row" and one.manoeuvre is None).end
    task = RigTask("S2", {"operator": "K4"}, later(end, 60), later(end, 660))
    old = [one for one in good.rig_tasks if (one.rig, one.start.date()) != ("S2", tools.TUE)]
    watching = tools.Spoil(replace(good, visits=visits, rig_tasks=(*old, task)))
    spoiled = watching.activity(
        "ROW-01", "rowing-1", ROW, staff={"lead": "K4"}, watch=PlacedWatch({"lead": "K4"}, later(end, 600))
    )
    verdict = verify(spoiled, replace(study, keep_same_within=()), plans)
    told(verdict, "watch", "ROW-01", "rowing-1")


def test_a_participant_in_two_places(study_with, tools):
    study, plans, good = crowd(
        study_with, tools, "study.yaml", "since_last: {at_least: 1 d}", "since_last: {at_least: 0 d}"
    )
    crew = {**tools.CREW, **OTHERS}
    close = tools.placed(study, plans, ("ROW-01", 0, tools.TUE, tools.time(9, 49, 46), "S1"), crew)
    spoiled = replace(good, visits=(close, *good.visits[1:]))
    verdict = verify(spoiled, replace(study, keep_same_across=(), before_first_use={}), plans)
    assert rules(verdict) == {"one-place"}
    assert {(one.participant, one.visit) for one in verdict.broken} == {
        ("ROW-01", "practice"),
        ("ROW-01", "rowing-1"),
    }


# -- hours


def test_a_day_that_is_closed(good, study, plans, tools):
    closed = tools.placed(study, plans, ("ROW-01", 2, tools.WED, tools.time(10), "S1"))
    spoiled = replace(good, visits=(*good.visits[:2], closed, *good.visits[3:]))
    told(verify(spoiled, replace(study, before_first_use={}), plans), "open-day", "ROW-01", "rowing-2")


def test_outside_opening_hours_counting_clearing(good, study, plans, tools):
    visit = next(v for v in good.visits if (v.participant, v.file_id) == ("ROW-02", "practice"))
    cleared = max(one.rig_free for one in visit.activities)
    assert cleared > visit.end
    hours = study.open[tools.MON][0]
    just = replace(study, open={**study.open, tools.MON: (Interval(hours.start, cleared),)})
    assert verify(good, just, plans).broken == ()
    short = replace(study, open={**study.open, tools.MON: (Interval(hours.start, later(cleared, -1)),)})
    told(verify(good, short, plans), "opening-hours", "ROW-02", "practice")


def test_outside_availability(good, study, plans, tools):
    visit = good.visits[0]
    late = Interval(later(visit.start, 1), later(visit.end, 3600))
    line = {tools.MON: late}
    fitted = {**study.available, "ROW-01": ((Interval(visit.start, visit.end), "practice"),)}
    assert verify(good, replace(study, available=fitted), plans).broken == (), "clearing need not lie inside"
    spoiled = replace(study, available={**study.available, "ROW-01": ((line[tools.MON], "practice"),)})
    told(verify(good, spoiled, plans), "availability", "ROW-01", "practice")


def test_two_lines_of_availability_are_not_one(good, study, plans):
    visit = good.visits[0]
    half = later(visit.start, 300)
    lines = ((Interval(visit.start, half), "practice"), (Interval(half, visit.end), "practice"))
    spoiled = replace(study, available={**study.available, "ROW-01": lines})
    told(verify(good, spoiled, plans), "availability", "ROW-01", "practice")


def test_a_start_outside_its_range(good, study_with, plans):
    study = study_with("study.yaml", 'start: "08:00-15:00"', 'start: "10:00-11:00"')
    told(verify(good, study, plans), "start", "ROW-02", "rowing-1", "rowing-2")


def test_outside_the_shift(good, study_with, plans):
    study = study_with(
        "shifts.csv", "K3,mon-thu,08:00", "K3,2027-03-01,09:00,17:00,13:00-13:30\nK3,mon-thu,08:00"
    )
    assert verify(good, study, plans).broken == ()


def test_before_the_shift(good, study, plans):
    k3 = study.person("K3")
    on = good.visits[0].date
    late = {**k3.works, on: (Interval(later(good.visits[0].start, 1), k3.works[on][-1].end),)}
    people = tuple(replace(one, works=late) if one.id == "K3" else one for one in study.people)
    told(verify(good, replace(study, people=people), plans), "shift", "ROW-01", "practice")


def test_in_a_break(good, study_with, plans):
    study = study_with(
        "shifts.csv", "K3,mon-thu,08:00,17:00,13:00-13:30", "K3,mon-thu,08:00,17:00,09:04-09:10;13:00-13:30"
    )
    verdict = verify(good, study, plans)
    assert "09:04" in str(verdict.broken[0])
    told(verdict, "break", "ROW-01", "practice")


def test_while_absent(good, study_with, plans):
    study = study_with(
        "absences.csv", "person,from,to", "person,from,to\nK3,2027-03-01T09:04,2027-03-01T09:05"
    )
    told(verify(good, study, plans), "absence", "ROW-01", "practice")


def test_on_a_rig_that_is_out_of_use(good, study_with, plans):
    study = study_with("outages.csv", "rig,from,to", "rig,from,to\nS1,2027-03-01T09:00,2027-03-01T09:06")
    told(verify(good, study, plans), "outage", "ROW-01", "practice")


def test_clearing_must_be_over_before_an_outage(good, study_with, plans):
    study = study_with("outages.csv", "rig,from,to", "rig,from,to\nS1,2027-03-01T09:09,2027-03-01T09:30")
    told(verify(good, study, plans), "outage", "ROW-01", "practice")


def test_an_outage_from_the_end_of_clearing_on_is_no_matter(good, study_with, plans):
    study = study_with("outages.csv", "rig,from,to", "rig,from,to\nS1,2027-03-01T09:10,2027-03-01T09:30")
    assert verify(good, study, plans).broken == ()


# -- what the study asks for besides


def test_a_visit_that_waits_too_long(spoil, study, plans):
    spoiled = spoil.moved("ROW-01", "rowing-1", 300, since="farewell/None")
    assert verify(spoiled, replace(study, at_most_waiting_s=300), plans).broken == ()
    told(verify(spoiled, replace(study, at_most_waiting_s=299), plans), "waiting", "ROW-01", "rowing-1")


def test_another_person_within_a_visit(spoil, study, plans):
    spoiled = spoil.activity("ROW-01", "rowing-1", WELCOME, staff={"lead": "K1"})
    told(verify(spoiled, study, plans), "keep-same-within", "ROW-01", "rowing-1")


def test_somebody_else_may_stay_afterwards(spoil, study, plans):
    other = lambda one: PlacedWatch({"lead": "K1"}, one.watch.end)  # noqa: E731
    assert verify(spoil.activity("ROW-01", "rowing-1", ROW, watch=other), study, plans).broken == ()


def test_another_rig_in_another_visit(good, study, plans, tools):
    other = tools.placed(study, plans, ("ROW-01", 2, tools.THU, tools.time(10), "S2"))
    spoiled = replace(good, visits=(*good.visits[:2], other, *good.visits[3:]))
    told(verify(spoiled, study, plans), "keep-same-across", "ROW-01", "rowing-2")


def test_fixed_visits(good, study, plans, tools):
    start = good.visits[0].start
    kept = Wish("ROW-01", "practice", date=tools.MON, start=start, rig="S1")
    assert verify(good, replace(study, wishes=(kept,)), plans).broken == ()
    for rule, wish in {
        "fixed-date": Wish("ROW-01", "practice", date=tools.TUE),
        "fixed-start": Wish("ROW-01", "practice", start=start + timedelta(minutes=1)),
        "fixed-rig": Wish("ROW-01", "practice", rig="S2"),
        "fixed-person": Wish("ROW-01", "practice", person="K1"),
    }.items():
        told(verify(good, replace(study, wishes=(wish,)), plans), rule, "ROW-01", "practice")


def test_a_wish_without_a_visit_holds_for_all(good, study, plans):
    verdict = verify(good, replace(study, wishes=(Wish("ROW-02", None, rig="S1"),)), plans)
    told(verdict, "fixed-rig", "ROW-02", "practice", "rowing-1", "rowing-2")


# -- before first use


def with_check(good, study, tools, **fields):
    """The good plan with Monday's check of S1 changed."""
    first = good.rig_tasks[0]
    return replace(good, rig_tasks=(replace(first, **fields), *good.rig_tasks[1:]))


def test_a_rig_that_was_not_checked(good, study, plans):
    told(verify(replace(good, rig_tasks=good.rig_tasks[1:]), study, plans), "first-use", "ROW-01", "practice")


def test_a_check_that_is_short_or_late_or_wrongly_staffed(good, study, plans, tools):
    task = good.rig_tasks[0]
    use = next(one for one in good.visits[0].activities if one.manoeuvre == "fvc").start
    for fields in (
        {"end": later(task.end, -1)},
        {"start": later(use, 1200), "end": later(use, 1800)},
        {"staff": {"operator": "K3"}},
        {"staff": {}},
    ):
        told(
            verify(with_check(good, study, tools, **fields), study, plans), "first-use", "ROW-01", "practice"
        )


def test_a_check_before_opening(good, study, plans, tools):
    task = good.rig_tasks[0]
    early = with_check(
        good, study, tools, start=later(task.start, -1), end=later(task.end, -1), staff={"operator": "K4"}
    )
    from planner.study.model import Person

    k4 = Person("K4", ("operator",), {tools.MON: (Interval(later(task.start, -3600), task.end),)})
    told(verify(early, replace(study, people=(*study.people, k4)), plans), "first-use", "ROW-01", "practice")


def test_a_check_while_its_person_serves(good, study, plans, tools):
    start = next(one for one in good.visits[0].activities if one.manoeuvre == "fvc").start
    spoiled = replace(
        good,
        rig_tasks=(
            good.rig_tasks[0],
            replace(good.rig_tasks[1], start=start, end=later(start, 600)),
            *good.rig_tasks[2:],
        ),
    )
    told(verify(spoiled, study, plans), "person-busy", "ROW-01", "practice")


def test_a_check_while_its_person_is_not_there(good, study, plans, tools):
    k1 = study.person("K1")
    works = {
        **k1.works,
        tools.MON: (Interval(later(good.rig_tasks[0].start, 1), k1.works[tools.MON][-1].end),),
    }
    people = tuple(replace(one, works=works) if one.id == "K1" else one for one in study.people)
    assert rules(verify(good, replace(study, people=people), plans)) == {"shift"}


def test_an_unknown_rig_in_a_check(good, study, plans):
    start = later(good.rig_tasks[0].start, 10_000)
    task = RigTask("S9", {}, start, later(start, 60))
    verdict = verify(replace(good, rig_tasks=(*good.rig_tasks, task)), study, plans)
    assert rules(verdict) == {"first-use"}


# -- warnings


def test_a_changed_study_is_a_warning(good, study, plans):
    verdict = verify(replace(good, fingerprint="other"), study, plans)
    assert verdict.broken == ()
    assert [one.rule for one in verdict.warnings] == ["fingerprint"]


def test_longer_than_needed_is_a_warning(spoil, study, plans):
    more = lambda one: later(one.end, 60)  # noqa: E731
    spoiled = spoil.activity("ROW-01", "rowing-1", ("farewell", None, None), end=more, rig_free=more)
    verdict = verify(spoiled, study, plans)
    assert verdict.broken == ()
    assert [one.rule for one in verdict.warnings] == ["longer"]


def test_a_visit_without_the_one_before_it_is_warned_of(spoil, study, plans):
    """Nobody is to exercise in silence who has not practised; a later visit without a place is no matter."""

    def skipped(gone: str) -> list[str]:
        left = NotPlaced("ROW-01", gone, "no room")
        plan = replace(spoil.without("ROW-01", gone), not_placed=(left,))
        return [one.message for one in verify(plan, study, plans).warnings if one.rule == "skipped"]

    first, second = skipped("practice")
    words = "it is planned, and practice, which must come before it, has no place"
    assert first == f"ROW-01, rowing-1 on 2027-03-02: {words}"
    assert second == f"ROW-01, rowing-2 on 2027-03-04: {words}"
    assert skipped("rowing-2") == []


def test_no_watch_and_no_clearing_are_warned_of(study_with, tools):
    from planner.schedule.plans import visit_plans

    study = study_with(
        "rowing.yaml",
        "    watch: {staff: [lead], for: 10 min}\n",
        "",
        "rowing.yaml",
        "    clear: 3 min\n",
        "",
    )
    plans = visit_plans(study)
    verdict = verify(tools.good_plan(study, plans), study, plans)
    assert verdict.broken == ()
    assert {one.rule for one in verdict.warnings} == {"unwatched", "uncleared"}


def test_days_span_without_upper_end_is_open(study):
    assert study.asked["ROW-01"][1].gap == DaySpan(1, None)


def test_a_night_on_which_the_clocks_change(tools, study_with):
    """On 4 April 2027 Chatham clocks go back from 03:45 to 02:45 (IANA time zone database).

    A visit from 03:30 summer time on lasts its real 615 s, although the wall clock says otherwise.
    """
    from datetime import UTC, date, datetime

    from planner.schedule.plans import visit_plans

    study = study_with(
        "study.yaml", "from: 2027-03-01, to: 2027-03-05", "from: 2027-04-04, to: 2027-04-04",
        "study.yaml", 'mon-fri: "08:00-17:00"', 'sun: "00:00-06:00"',
        "shifts.csv", "K1,mon-fri,08:00,16:30,12:00-12:30", "K1,sun,00:00,06:00,",
        "shifts.csv", "K2,mon-fri,08:00,17:00,12:30-13:00;15:00-15:15", "K2,sun,00:00,06:00,",
        "shifts.csv", "K3,mon-thu,08:00,17:00,13:00-13:30", "K3,sun,00:00,06:00,",
    )  # fmt: skip
    plans = visit_plans(study)
    start = datetime(2027, 4, 3, 13, 40, tzinfo=UTC).astimezone(study.zone)
    assert f"{start:%H:%M}" == "03:25"
    visit = tools.placed(study, plans, ("ROW-01", 0, date(2027, 4, 4), start.time(), "S1"))
    late = replace(visit, activities=tuple(tools.shifted(one, 900) for one in visit.activities))
    assert f"{late.start:%H:%M} {late.end:%H:%M}" == "03:40 02:50", "ends before it began, on the wall clock"
    task = RigTask("S1", {"operator": "K1"}, later(start, -1200), later(start, -600))
    plan = replace(tools.good_plan(study, {**plans}, ()), visits=(late,), rig_tasks=(task,))
    named = tuple(
        NotPlaced(one.participant, one.file_id, "only one night")
        for own in study.asked.values()
        for one in own
        if (one.participant, one.file_id) != ("ROW-01", "practice")
    )
    assert verify(replace(plan, not_placed=named), study, plans).broken == ()
    stretched = replace(late, activities=(*late.activities[:-1], tools.shifted(late.activities[-1], 1801)))
    verdict = verify(replace(plan, visits=(stretched,), not_placed=named), study, plans)
    assert rules(verdict) == {"waiting"}
    assert "40 min 16 s" in str(verdict.broken[0])
