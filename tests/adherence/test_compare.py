"""Hand-made deviations: each found with its size to the second, none invented."""

import json

import pytest

from planner.adherence.as_json import document
from planner.adherence.compare import compare


def judged(by_hand, visit, schedule="plan"):
    plan = by_hand.schedule if schedule == "plan" else schedule
    return compare(by_hand.study, plan, by_hand.happened_of(visit))


def kinds(found):
    return [(d.kind, d.step, d.at_s, d.manoeuvre, d.effort, d.size) for d in found.deviations]


def test_a_record_that_keeps_to_the_plan_has_no_deviation(by_hand):
    found = judged(by_hand, by_hand.kept())
    assert kinds(found) == []
    assert found.kept == (5, 5)
    assert found.counts == (22, 22, 22, 0, 0, 0)
    assert {line.off_s for line in found.efforts} == {0}
    assert {line.rest_before_s for line in found.efforts} == {None, 30}


def test_the_document_has_the_keys_that_are_fixed(by_hand):
    parsed = json.loads(json.dumps(document(judged(by_hand, by_hand.kept()))))
    assert {"efforts", "time_points", "summary"} <= set(parsed)
    assert {
        "participant", "visit", "condition", "step", "at_s", "manoeuvre", "effort", "planned", "happened",
        "off_s", "rest_before_s",
    } <= set(parsed["efforts"][0])  # fmt: skip
    assert {
        "participant", "visit", "condition", "step", "at_s", "planned_after_s", "happened_after_s", "on_time",
    } <= set(parsed["time_points"][0])  # fmt: skip
    assert {"on_time", "of", "share", "low", "high", "no_anchor", "stopped"} <= set(
        parsed["summary"]["time_points"]
    )
    assert {"planned", "recorded", "matched", "missing", "extra"} <= set(parsed["summary"]["efforts"])
    assert parsed["efforts"][0]["planned"] == "2027-03-01T09:12:00-04:00"


@pytest.mark.parametrize(
    ("seconds", "kept", "off_s"),
    [(0, "on time", 0), (30, "on time", 0), (31, "late", 1), (-1, "early", -1), (95, "late", 65)],
)
def test_a_time_point_counts_from_the_recorded_end_of_the_bout(by_hand, seconds, kept, off_s):
    """Both ends of the window 1 min to 1 min 30 s are on time; the whole bout may end later than planned."""
    visit = by_hand.kept()
    late = 420
    visit.marks["row", "end"] = by_hand.at(39, late)
    for label in [label for label in visit.efforts if label[0] == "after"]:
        visit.shift(label, late)
    visit.shift(("after", 60, "fvc"), seconds)
    found = judged(by_hand, visit)
    (point,) = [p for p in found.time_points if (p.step, p.at_s) == ("after", 60)]
    assert (point.happened_after_s, point.planned_after_s) == (60 + seconds, 60)
    assert (point.kept, point.off_s) == (kept, off_s)
    firsts = [
        line for line in found.efforts if (line.step, line.at_s, line.manoeuvre) == ("after", 60, "fvc")
    ]
    assert [line.off_s for line in firsts] == [late + seconds] * 3


def test_early_and_late_blocks_off_the_clock(by_hand):
    visit = by_hand.kept()
    visit.shift(("after", 900, "mep"), -37)
    found = judged(by_hand, visit)
    off = [line.off_s for line in found.efforts if (line.at_s, line.manoeuvre) == (900, "mep")]
    assert off[-3:] == [-37] * 3


@pytest.mark.parametrize(
    ("gap_s", "kept", "off_s"),
    [(180, "late", 60), (240, "on time", 0), (420, "on time", 0), (421, "early", -1), (300, "on time", 0)],
)
def test_a_gap_before_the_bout(by_hand, gap_s, kept, off_s):
    """From the end of the last effort to the start of rowing; wide is early: within [4 min, 7 min]."""
    visit = by_hand.kept()
    last_end = by_hand.at(12, 2 * 50 + 20)
    visit.shift(("ready", 300, "fvc"), 1140 - gap_s - round((last_end - by_hand.start).total_seconds()))
    found = judged(by_hand, visit)
    (point,) = [p for p in found.time_points if p.step == "ready"]
    assert (point.happened_after_s, point.kept, point.off_s) == (gap_s, kept, off_s)
    assert (point.low_s, point.high_s, point.planned_after_s) == (240, 420, 300)


def test_no_start_of_exercise_takes_what_counts_from_it(by_hand):
    visit = by_hand.kept()
    del visit.marks["row", "start"]
    found = judged(by_hand, visit)
    kept = {(p.step, p.at_s): p.kept for p in found.time_points}
    assert kept["ready", 300] == kept["row", 300] == "anchor not recorded"
    assert kept["after", 60] == "on time"
    assert document(found)["summary"]["time_points"]["no_anchor"] == 3
    assert [note.kind for note in found.notes] == ["anchor not recorded"]


def test_no_end_of_exercise_is_said_and_not_guessed(by_hand):
    visit = by_hand.kept()
    del visit.marks["row", "end"]
    found = judged(by_hand, visit)
    after = [p for p in found.time_points if p.step == "after"]
    assert [(p.kept, p.happened_after_s, p.on_time) for p in after] == [
        ("anchor not recorded", None, None)
    ] * 2
    counts = document(found)["summary"]["time_points"]
    assert (counts["of"], counts["no_anchor"], counts["on_time"]) == (3, 2, 3)
    assert [note.words for note in found.notes] == [
        "the end of row is not recorded; what is due from it is not judged"
    ]


def test_a_rest_cut_short_is_found_with_its_size(by_hand):
    visit = by_hand.kept()
    moments = visit.efforts["ready", 300, "fvc"]
    visit.efforts["ready", 300, "fvc"] = [moments[0], by_hand.at(12, 39), moments[2]]
    found = judged(by_hand, visit)
    assert kinds(found) == [("rest cut short", "ready", 300, "fvc", 2, -11)]
    rests = document(found)["summary"]["rests"]
    assert (rests["cut_short"], rests["of"], rests["shortest_s"]) == (1, 15, 19)  # 22 efforts in 7 blocks


def test_efforts_that_lack_to_the_least_are_missing(by_hand):
    visit = by_hand.kept()
    visit.efforts["after", 60, "mep"] = visit.efforts["after", 60, "mep"][:1]
    found = judged(by_hand, visit)
    assert kinds(found) == [("missing efforts", "after", 60, "mep", None, -2)]
    lost = [line for line in found.efforts if line.fate == "missing"]
    assert [(line.effort, line.happened, line.off_s, line.rest_before_s) for line in lost] == [
        (2, None, None, None),
        (3, None, None, None),
    ]
    assert [line.planned for line in lost] == [by_hand.at(42, 45 + 40), by_hand.at(42, 45 + 80)]
    assert found.counts == (22, 20, 20, 2, 0, 0)
    assert found.deviations[0].important


def test_a_hole_in_the_numbers_is_the_effort_that_is_missing(by_hand):
    visit = by_hand.kept()
    visit.efforts["after", 60, "mep"][1] = None
    found = judged(by_hand, visit)
    assert [line.effort for line in found.efforts if line.fate == "missing"] == [2]


def test_at_least_counts_acceptable_efforts(by_hand):
    visit = by_hand.kept()
    visit.values["ready", 300, "fvc"] = by_hand.fvc("4.80", "4.80", "4.80", acceptable=[True, False, True])
    found = judged(by_hand, visit)
    assert kinds(found) == [
        ("missing efforts", "ready", 300, "fvc", None, -1),
        ("ended too early", "ready", 300, "fvc", None, -5),
    ]
    (line,) = [line for line in found.efforts if line.fate == "missing"]
    assert (line.effort, line.planned) == (4, None)


def test_planned_efforts_after_a_block_ended_by_its_rule_are_neither_listed_nor_missing(by_hand):
    """Four are planned at +15 min, three were enough."""
    visit = by_hand.kept()
    visit.efforts["after", 900, "fvc"].pop()
    visit.values["after", 900, "fvc"] = by_hand.fvc("4.80", "4.75", "4.40")
    found = judged(by_hand, visit)
    assert kinds(found) == []
    assert found.counts == (22, 21, 21, 0, 0, 0)
    assert [line.effort for line in found.efforts if (line.at_s, line.manoeuvre) == (900, "fvc")] == [1, 2, 3]


def test_an_effort_beyond_those_planned_is_no_extra_one_up_to_the_most(by_hand):
    visit = by_hand.kept()
    visit.block("after", 60, "fvc", by_hand.at(40), 4, 50)
    visit.values["after", 60, "fvc"] = by_hand.fvc("4.80", "4.60", "4.40", "4.70")
    for label in [("after", 60, "mep")]:
        visit.shift(label, 60)
    found = judged(by_hand, visit)
    beyond = [line for line in found.efforts if line.planned is None]
    assert [(line.effort, line.fate, line.off_s, line.rest_before_s) for line in beyond] == [
        (4, "matched", None, 30)
    ]
    assert kinds(found) == []


def test_an_effort_beyond_the_most_is_extra(by_hand):
    visit = by_hand.kept()
    visit.block("after", 900, "mep", by_hand.at(58, 15), 4, 40)
    found = judged(by_hand, visit)
    assert kinds(found) == [("extra efforts", "after", 900, "mep", 4, 1)]
    assert found.counts == (22, 23, 22, 0, 1, 0)


def test_when_blocks_with_a_rule_ended(by_hand):
    """As soon as it held (+1 min), too late by two (before), too early (+15 min)."""
    visit = by_hand.kept()
    visit.block("ready", 300, "fvc", by_hand.at(11), 5, 50)
    visit.values["ready", 300, "fvc"] = by_hand.fvc("4.80", "4.75", "4.00", "4.10", "4.20")
    visit.block("after", 900, "fvc", by_hand.at(54), 3, 50)
    visit.values["after", 900, "fvc"] = by_hand.fvc("4.80", "4.64", "4.40")
    found = judged(by_hand, visit)
    assert kinds(found) == [
        ("went on too long", "ready", 300, "fvc", None, 2),
        ("ended too early", "after", 900, "fvc", None, -5),
    ]
    words = "ended after 3 efforts, still too far apart (FVC: 0.16 L, within 0.15 L asked for); 5 more were"
    assert found.deviations[1].words.startswith(words)
    rule = document(found)["summary"]["stop_rule"]
    assert (rule["as_soon_as_it_held"], rule["too_late"], rule["too_early"], rule["of"]) == (1, 1, 1, 3)


def test_the_most_efforts_without_agreement_is_an_end_of_its_own(by_hand):
    """Eight adult efforts, no two largest within 0.150 L (Graham 2019, read in a quotation of it)."""
    visit = by_hand.kept()
    visit.block("after", 900, "fvc", by_hand.at(54), 8, 50)
    visit.values["after", 900, "fvc"] = by_hand.fvc("4.0", "4.2", "4.4", "4.6", "4.8", "5.0", "5.2", "5.4")
    visit.shift(("after", 900, "mep"), 300)
    found = judged(by_hand, visit)
    assert kinds(found) == []
    rule = document(found)["summary"]["stop_rule"]
    assert (rule["without_agreement"], rule["kept"], rule["of"]) == (1, 3, 3)


def test_times_without_readings_are_judged_as_times(by_hand):
    visit = by_hand.kept()
    for label, moments in visit.efforts.items():
        visit.values[label] = [()] * len(moments)
    found = judged(by_hand, visit)
    assert kinds(found) == []
    assert document(found)["summary"]["stop_rule"]["no_readings"] == 3


def test_a_time_point_never_measured_counts(by_hand):
    visit = by_hand.kept()
    del visit.efforts["after", 60, "fvc"], visit.efforts["after", 60, "mep"]
    found = judged(by_hand, visit)
    (point,) = [p for p in found.time_points if (p.step, p.at_s) == ("after", 60)]
    assert (point.happened_after_s, point.on_time, point.kept) == (None, False, "never measured")
    assert found.kept == (4, 5)
    assert found.counts.missing == 6
    assert kinds(found) == [
        ("time point never measured", "after", 60, "fvc", None, None),
        ("missing efforts", "after", 60, "fvc", None, -3),
        ("missing efforts", "after", 60, "mep", None, -3),
    ]


def test_a_stop_takes_what_follows_out_of_every_share(by_hand):
    """Stopped 10 min after rowing: +1 min was kept, +15 min is neither missed nor late."""
    visit = by_hand.kept()
    visit.stopped = by_hand.at(49)
    for manoeuvre in ("fvc", "mep"):
        del visit.efforts["after", 900, manoeuvre]
    found = judged(by_hand, visit)
    assert kinds(found) == []
    counts = document(found)["summary"]["time_points"]
    assert (counts["on_time"], counts["of"], counts["stopped"]) == (4, 4, 1)
    assert found.counts.missing == 0
    assert [visit.presence for visit in found.visits] == ["stopped"]


def test_a_stop_does_not_excuse_what_was_missed_before_it(by_hand):
    visit = by_hand.kept()
    visit.stopped = by_hand.at(49)
    for at_s in (60, 900):
        for manoeuvre in ("fvc", "mep"):
            del visit.efforts["after", at_s, manoeuvre]
    found = judged(by_hand, visit)
    assert [(p.at_s, p.kept) for p in found.time_points if p.step == "after"] == [
        (60, "never measured"),
        (900, "visit stopped"),
    ]


def test_a_stop_in_a_block_is_no_early_end(by_hand):
    visit = by_hand.kept()
    visit.block("after", 60, "fvc", by_hand.at(40), 1, 50)
    for label in [label for label in visit.efforts if label[0] == "after" and label != ("after", 60, "fvc")]:
        del visit.efforts[label]
    visit.stopped = by_hand.at(40, 25)
    found = judged(by_hand, visit)
    assert kinds(found) == []
    assert [block.ended for block in found.blocks if block.step == "after"] == ["visit stopped"]


def test_a_stop_during_the_bout_leaves_out_all_that_was_due_after_it(by_hand):
    visit = by_hand.kept()
    visit.stopped = by_hand.at(27)
    visit.marks = {mark: moment for mark, moment in visit.marks.items() if moment < visit.stopped}
    visit.efforts = {
        label: moments for label, moments in visit.efforts.items() if moments[-1] < visit.stopped
    }
    found = judged(by_hand, visit)
    assert kinds(found) == []
    assert [p.kept for p in found.time_points] == ["on time"] * 2 + ["visit stopped"] * 3


def test_an_effort_after_the_stop_is_said(by_hand):
    visit = by_hand.kept()
    visit.stopped = by_hand.at(59)
    found = judged(by_hand, visit)
    assert ("after the stop", "after", 900, "mep", 3, 35) in kinds(found)


def test_a_time_point_that_the_bout_did_not_reach_falls_away(by_hand):
    """Ten minutes of rowing reach +5 min, not +15 min: neither planned nor missed."""
    visit = by_hand.kept()
    visit.marks["row", "end"] = by_hand.at(29)
    del visit.efforts["row", 900, "mep"]
    for label in [label for label in visit.efforts if label[0] == "after"]:
        visit.shift(label, -600)
    found = judged(by_hand, visit)
    assert kinds(found) == []
    assert [(p.step, p.at_s) for p in found.time_points] == [
        ("ready", 300), ("row", 300), ("after", 60), ("after", 900)
    ]  # fmt: skip
    assert found.counts == (19, 19, 19, 0, 0, 0)


def test_swapped_blocks_are_found_and_not_forced(by_hand):
    """MEP before FVC at +1 min: the time point is the first effort of the block listed first."""
    visit = by_hand.kept()
    visit.block("after", 60, "mep", by_hand.at(40), 3, 40)
    visit.block("after", 60, "fvc", by_hand.at(43), 3, 50)
    found = judged(by_hand, visit)
    assert ("time point late", "after", 60, "fvc", None, 240 - 90) in kinds(found)
    assert [kind for kind, *_ in kinds(found)].count("order of blocks") == 1
    assert found.counts == (22, 22, 22, 0, 0, 0)


def test_a_block_taken_up_again_is_repeated(by_hand):
    visit = by_hand.kept()
    visit.efforts["after", 60, "fvc"].append(by_hand.at(46))
    visit.values["after", 60, "fvc"] = by_hand.fvc("4.8", "4.6", "4.4", "4.7")
    found = judged(by_hand, visit)
    assert kinds(found) == [("block repeated", "after", 60, "fvc", None, 1)]


def test_efforts_in_another_order_than_their_numbers(by_hand):
    visit = by_hand.kept()
    first, second, third = visit.efforts["after", 60, "mep"]
    visit.efforts["after", 60, "mep"] = [second, first, third]
    found = judged(by_hand, visit)
    assert kinds(found) == [("order of efforts", "after", 60, "mep", None, 1)]
    assert [line.rest_before_s for line in found.efforts if (line.at_s, line.manoeuvre) == (60, "mep")] == [
        None, 30, 30
    ]  # fmt: skip


def test_without_a_plan_time_points_are_judged_all_the_same(by_hand):
    visit = by_hand.kept()
    visit.shift(("after", 60, "fvc"), 40)
    found = judged(by_hand, visit, schedule=None)
    assert {line.planned for line in found.efforts} == {None}
    (point,) = [p for p in found.time_points if (p.step, p.at_s) == ("after", 60)]
    assert (point.planned_after_s, point.happened_after_s, point.off_s) == (60, 100, 10)
    assert found.counts == (0, 22, 22, 0, 0, 0)


def test_a_visit_without_a_record_is_listed_and_in_no_share(by_hand):
    asked = [("ROW-01", 1, "mild air"), ("ROW-02", 1, "mild air"), ("ROW-03", 1, "mild air")]
    study = by_hand.study_of(asked)
    starts = [by_hand.days(0), by_hand.days(1), by_hand.days(2)]
    plan = by_hand.schedule_of(
        *(by_hand.placed(*visit, start) for visit, start in zip(asked, starts, strict=True))
    )
    found = compare(study, plan, by_hand.happened_of(by_hand.kept("ROW-02", 1, starts[1])))
    assert [line.presence for line in found.visits] == [
        "passed by without a record", "recorded", "still to come"
    ]  # fmt: skip
    assert found.kept == (5, 5)
    assert found.counts == (22, 22, 22, 0, 0, 0)
    assert [(d.kind, d.key.participant) for d in found.deviations] == [("visit without a record", "ROW-01")]


def test_rules_between_visits(by_hand):
    """Six days after the first where at most five are asked for, 2 h 10 min later in the day, a day late."""
    asked = [("ROW-01", 1, "mild air"), ("ROW-01", 2, "cold air")]
    study = by_hand.study_of(asked, same_time_of_day_s=7200)
    later_start = by_hand.days(6).replace(hour=11, minute=10)
    plan = by_hand.schedule_of(
        by_hand.placed(*asked[0], by_hand.start), by_hand.placed(*asked[1], by_hand.days(5))
    )
    record = by_hand.happened_of(by_hand.kept(), by_hand.kept("ROW-01", 2, later_start))
    found = compare(study, plan, record)
    assert [(d.kind, d.size, d.unit, d.key.number) for d in found.deviations] == [
        ("other day", 1, "d", 2),
        ("days between visits", 1, "d", 2),
        ("time of day", 600, "s", 2),
    ]


def test_conditions_in_another_order(by_hand):
    asked = [("ROW-01", 1, "mild air"), ("ROW-01", 2, "cold air")]
    record = by_hand.happened_of(by_hand.kept("ROW-01", 1, by_hand.days(4)), by_hand.kept("ROW-01", 2))
    found = compare(by_hand.study_of(asked), None, record)
    assert ("condition order", 2, -1) in [(d.kind, d.key.number, d.size) for d in found.deviations]


def test_a_block_that_outlasts_its_bout(by_hand):
    """The bout ends 30 s after the first of three MEP efforts, which take 90 s: 60 s outside."""
    visit = by_hand.kept()
    visit.marks["row", "end"] = by_hand.at(34, 30)
    for label in [label for label in visit.efforts if label[0] == "after"]:
        visit.shift(label, -270)
    assert kinds(judged(by_hand, visit)) == [("outside the bout", "row", 900, "mep", None, 60)]


def test_a_step_that_starts_later_than_within(by_hand):
    """`sit` would be asked to start within 30 s; it begins 25 s after that."""
    steps = [
        by_hand.replace(step, starts_within_s=30) if step.id == "sit" else step
        for step in by_hand.protocol.visit
    ]
    protocol = by_hand.replace(by_hand.protocol, visit=tuple(steps))
    study = by_hand.replace(by_hand.study, protocols={"rowing.yaml": protocol})
    visit = by_hand.kept()
    last_end = 58 * 60 + 15 + 2 * 40 + 10
    visit.marks["sit", "start"] = by_hand.at(0, last_end + 55)
    visit.marks["sit", "end"] = by_hand.at(11, last_end)
    found = compare(study, by_hand.schedule, by_hand.happened_of(visit))
    assert kinds(found) == [("started too late", "sit", None, None, None, 25)]
    visit.marks["sit", "start"] = by_hand.at(0, last_end + 30)
    assert kinds(compare(study, by_hand.schedule, by_hand.happened_of(visit))) == []


def test_a_block_that_begins_before_its_bout(by_hand):
    visit = by_hand.kept()
    visit.shift(("row", 300, "mep"), -300 - 20)
    assert kinds(judged(by_hand, visit)) == [
        ("time point early", "row", 300, "mep", None, -290),
        ("outside the bout", "row", 300, "mep", None, -20),
    ]


def test_a_due_step_that_starts_later_than_within_counts_its_preparing(by_hand):
    """Prepared from 20 s after rowing on, so that the first effort is at 1 min 20 s, in its window."""
    steps = [
        by_hand.replace(step, starts_within_s=5) if step.id == "after" else step
        for step in by_hand.protocol.visit
    ]
    protocol = by_hand.replace(by_hand.protocol, visit=tuple(steps))
    study = by_hand.replace(by_hand.study, protocols={"rowing.yaml": protocol})
    visit = by_hand.kept()
    visit.shift(("after", 60, "fvc"), 20)
    found = compare(study, by_hand.schedule, by_hand.happened_of(visit))
    assert kinds(found) == [("started too late", "after", None, None, None, 15)]
    del visit.efforts["after", 60, "fvc"]
    found = compare(study, by_hand.schedule, by_hand.happened_of(visit))
    assert "started too late" not in [kind for kind, *_ in kinds(found)]


def test_what_a_bout_may_not_have_reached_is_not_missed_where_its_end_is_not_recorded(by_hand):
    """`about` is 20 min: +5 min and +15 min are missed, a third at +25 min was never in the plan."""
    text = by_hand.protocol
    row = text.step("row")
    later_on = by_hand.replace(row.during[0].time_points[1], at_s=1500)
    points = (*row.during[0].time_points, later_on)
    during = (by_hand.replace(row.during[0], time_points=points),)
    steps = tuple(by_hand.replace(s, during=during) if s.id == "row" else s for s in text.visit)
    protocols = {"rowing.yaml": by_hand.replace(text, visit=steps)}
    study = by_hand.replace(by_hand.study, protocols=protocols)
    visit = by_hand.kept()
    visit.efforts = {label: found for label, found in visit.efforts.items() if label[0] == "ready"}
    visit.marks = {("row", "start"): by_hand.at(19)}
    found = compare(study, by_hand.schedule, by_hand.happened_of(visit))
    assert [(p.at_s, p.kept) for p in found.time_points if p.side == "during"] == [
        (300, "never measured"), (900, "never measured")
    ]  # fmt: skip
    missing = [e for e in found.efforts if e.fate == "missing" and e.step == "row"]
    assert {(e.at_s, e.manoeuvre) for e in missing} == {(300, "mep"), (900, "mep")}
