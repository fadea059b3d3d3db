"""Differences between plans: none between a plan and itself, each one named once otherwise."""

from dataclasses import replace

import pytest

from planner.clock import later
from planner.schedule.changes import changes
from planner.schedule.repacked import verify_repacked, waiting_in
from planner.schedule.verify import verify

ROW = ("row", None, None)
MEP = ("before", None, "mep")


def kinds(before, after):
    return [(c.participant, c.visit, c.kind, c.step, c.manoeuvre) for c in changes(before, after)]


def test_the_same_plan_has_no_changes(good):
    assert changes(good, good) == ()
    assert changes(good, replace(good, version=9)) == ()


def test_a_visit_moved_as_a_whole_is_one_change(good, spoil):
    assert kinds(good, spoil.moved("ROW-01", "rowing-1", 600)) == [
        ("ROW-01", "rowing-1", "moved", None, None)
    ]


def test_each_moved_activity_is_one_change(good, spoil):
    found = kinds(good, spoil.moved("ROW-01", "rowing-1", 60, since="sit/None"))
    assert found == [
        ("ROW-01", "rowing-1", "moved", "sit", None),
        ("ROW-01", "rowing-1", "moved", "farewell", None),
    ]


def test_other_rigs_and_people(good, spoil):
    spoiled = spoil.activity(
        "ROW-02", "practice", ("learn", None, "fvc"), rigs=("S1",), staff={"operator": "K2"}
    )
    found = changes(good, spoiled)
    assert [(c.kind, c.before, c.after) for c in found] == [
        ("other rig", "S2", "S1"),
        ("other person", "K1", "K2"),
    ]
    assert all("ROW-02, practice, fvc of learn" in c.message for c in found)


def test_who_stays_is_a_person_too(good, spoil):
    def other(one):
        return replace(one.watch, staff={"lead": "K1"})

    found = changes(good, spoil.activity("ROW-01", "rowing-1", ROW, watch=other))
    assert [(c.kind, c.before, c.after) for c in found] == [("other person", "K3", "K1")]


def test_dropped_and_added(good, spoil):
    less = spoil.without("ROW-02", "rowing-2")
    assert kinds(good, less) == [("ROW-02", "rowing-2", "dropped", None, None)]
    assert kinds(less, good) == [("ROW-02", "rowing-2", "added", None, None)]
    (one,) = changes(less, good)
    visit = next(v for v in good.visits if (v.participant, v.file_id) == ("ROW-02", "rowing-2"))
    when = f"{visit.start:%Y-%m-%d %H:%M}-{visit.end:%H:%M}"
    assert one.message == f"ROW-02, rowing-2: visit added ({when})"


def test_a_block_that_is_added_or_dropped_says_when(good):
    visit = next(v for v in good.visits if v.file_id == "rowing-2")
    *rest, last = visit.activities
    others = tuple(v for v in good.visits if v is not visit)
    less = replace(good, visits=(*others, replace(visit, activities=tuple(rest))))
    when = f"{last.start:%Y-%m-%d %H:%M:%S}-{last.end:%H:%M:%S}"
    (added,), (dropped,) = changes(less, good), changes(good, less)
    assert (added.before, added.after, dropped.before, dropped.after) == (None, when, when, None)
    assert added.message.endswith(f"added ({when})")
    assert dropped.message.endswith(f"dropped ({when})")


def test_checks_of_rigs(good):
    first = good.rig_tasks[0]
    moved = replace(first, start=later(first.start, 60), end=later(first.end, 60))
    assert [c.kind for c in changes(good, replace(good, rig_tasks=(moved, *good.rig_tasks[1:])))] == ["moved"]
    assert [c.kind for c in changes(good, replace(good, rig_tasks=good.rig_tasks[1:]))] == ["dropped"]
    assert [c.kind for c in changes(replace(good, rig_tasks=good.rig_tasks[1:]), good)] == ["added"]


# -- the judge of a mended plan


@pytest.fixture
def mended(good, spoil):
    """The good plan with one visit moved, as repacking would hand it over."""
    after = spoil.moved("ROW-01", "rowing-2", 600)
    return replace(after, version=2, replaces=1, changes=changes(good, after))


def rules(found):
    return [one.rule for one in found]


def test_a_mended_plan_passes(good, mended, study, plans):
    now = good.visits[1].start
    assert verify_repacked(good, mended, now) == ()
    assert verify(mended, study, plans).broken == ()


def test_what_has_begun_must_stay(good, mended):
    now = later(good.visits[2].start, 1)
    found = verify_repacked(good, mended, now)
    assert rules(found) == ["begun"]
    assert (found[0].participant, found[0].visit) == ("ROW-01", "rowing-2")
    assert "10:00" in found[0].message


def test_what_waits_has_not_begun(good, mended):
    now = later(good.visits[2].start, 1)
    assert verify_repacked(good, mended, now, {("ROW-01", "rowing-2", "welcome")}) == ()


def test_changes_are_listed_once_and_truly(good, mended):
    now = good.visits[1].start
    silent = replace(mended, changes=())
    assert rules(verify_repacked(good, silent, now)) == ["changes"]
    twice = replace(mended, changes=mended.changes * 2)
    assert rules(verify_repacked(good, twice, now)) == ["changes"]


def test_the_version_follows(good, mended):
    now = good.visits[1].start
    assert rules(verify_repacked(good, replace(mended, version=3), now)) == ["version"]
    assert rules(verify_repacked(good, replace(mended, replaces=None), now)) == ["version"]


def test_a_missed_window_that_is_listed_is_a_warning(good, spoil, study, plans):
    from planner.schedule.model import Change

    late = spoil.moved("ROW-01", "rowing-1", 240, since="after/900")
    assert rules(verify(late, study, plans).broken) == ["window"]
    named = Change("ROW-01", "rowing-1", "FVC comes late", "window missed", "after", 900)
    listed = replace(late, version=2, replaces=1, changes=(named,))
    verdict = verify(listed, study, plans)
    assert verdict.broken == ()
    assert rules(verdict.warnings) == ["window"]
    first = replace(listed, version=1, replaces=None)
    assert rules(verify(first, study, plans).broken) == ["window"], "only a mended plan may miss windows"


def test_what_cannot_be_kept_any_more_is_named_by_kind(good, spoil, study, plans, tools):
    """A bout that ended after 5 min, its block inside that fell away, and a visit that waits."""
    from planner.schedule.model import Change

    def ends(one):
        return later(one.start, 300)

    short = spoil.activity("ROW-01", "rowing-1", ROW, end=ends, rig_free=lambda one: later(one.start, 480))
    visit = next(v for v in short.visits if (v.participant, v.file_id) == ("ROW-01", "rowing-1"))
    kept = tuple(a for a in visit.activities if (a.step, a.manoeuvre) != ("row", "fvc-short"))
    short = tools.Spoil(short).visit("ROW-01", "rowing-1", activities=kept)
    short = tools.Spoil(short).moved("ROW-01", "rowing-1", -420, since="after/120")
    strict = replace(study, at_most_waiting_s=0)
    waits = tools.Spoil(short).moved("ROW-01", "rowing-1", 540, since="farewell/None")
    assert sorted(rules(verify(waits, strict, plans).broken)) == ["activities", "length", "waiting"]
    named = (
        Change("ROW-01", "rowing-1", "rowing ended after 5 min", "ended early", "row"),
        Change("ROW-01", "rowing-1", "no FVC during rowing", "dropped", "row", 360, "fvc-short"),
        Change("ROW-01", "rowing-1", "two minutes of waiting", "waits longer"),
    )
    assert verify(replace(waits, version=2, replaces=1, changes=named), strict, plans).broken == ()


def test_what_an_earlier_step_held_up_is_seen_from_the_two_plans(good, spoil):
    """The bout ends 10 min later than planned: what follows had not begun, though planned before now."""
    first = next(v for v in good.visits if (v.participant, v.file_id) == ("ROW-01", "rowing-1"))
    bout = next(a for a in first.activities if a.step == "row")
    longer = spoil.activity("ROW-01", "rowing-1", ROW, end=later(bout.end, 600))
    later_on = [replace(a, start=later(a.start, 600), end=later(a.end, 600)) for a in first.activities]
    moved = tuple(
        later_on[n] if a.start >= bout.end else a
        for n, a in enumerate(next(v for v in longer.visits if v.file_id == first.file_id).activities)
    )
    visits = tuple(replace(v, activities=moved) if v == first else v for v in good.visits)
    after = replace(good, visits=visits, version=2, replaces=1)
    now = later(bout.end, 300)
    held = waiting_in(good, after)
    assert held
    assert {step for _, _, step in held}.isdisjoint({"welcome", "row"})
    assert [one.rule for one in verify_repacked(good, after, now) if one.rule == "begun"]
    assert not [one for one in verify_repacked(good, after, now, held) if one.rule == "begun"]


def test_who_is_known_to_be_late_had_not_begun(good, mended):
    assert rules(verify_repacked(good, mended, later(good.visits[2].start, 1), waiting_in(good, mended))) == [
        "begun"
    ]
    late = waiting_in(good, mended, ["ROW-01"])
    assert verify_repacked(good, mended, later(good.visits[2].start, 1), late) == ()
