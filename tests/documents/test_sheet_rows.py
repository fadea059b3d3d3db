"""A visit down the page: order, bars, due times."""

from dataclasses import replace

import pytest

from planner.clock import later
from planner.documents.sheet_rows import rows
from planner.protocol.model import Due, During, Length, Step, TimePoint, Watch


def sheet(make, protocol, **how):
    return rows(protocol, make.placed(protocol, make.at(9, 3), **how))


def plain(value):
    return str(value).replace("\u00a0", " ").replace("\\xa0", " ")


def kinds(found):
    return [row["kind"] for row in found]


def test_the_parts_stand_in_the_order_of_the_visit(make):
    found = sheet(make, make.rowing_protocol())
    assert kinds(found) == [
        "part", "group", "block", "block", "part", "group", "block", "bar",
        *["group", "block", "block"] * 3, "part",
    ]  # fmt: skip
    assert [row["words"] for row in found if row["kind"] == "bar"] == ["EXERCISE ENDED AT"]


def test_after_the_bar_each_time_point_has_its_blanks_and_its_planned_clock(make):
    found = sheet(make, make.rowing_protocol())
    after = found[kinds(found).index("bar") + 1 :]
    groups = [row for row in after if row["kind"] == "group"]
    assert [plain(g["due"]) for g in groups] == [
        "['1 min after = [:]', 'not after 1 min 30 s = [:]']",
        "['10 min after = [:]', 'not after 12 min = [:]']",
        "['30 min after = [:]', 'not after 32 min = [:]', 'not before 29 min']",
    ]
    bar = found[kinds(found).index("bar")]
    # planned: 9:03 + 10 min + FVC 60+3*20+2*30 s + MEP 45+3*10+2*30 s + 20 min = 9:38:15, shown cut
    assert bar["planned"] == "planned 09:38"
    assert groups[0]["clock"] == "09:39"
    # 15 minutes of watching by plan: the first two time points begin within them
    assert [g["beside"] for g in groups] == ["lead K1 stays", "lead K1 stays", ""]


def test_who_stays_is_named_with_the_code_and_the_time(make):
    bar = next(row for row in sheet(make, make.rowing_protocol()) if row["kind"] == "bar")
    assert (
        plain(bar["stays"]) == "Stays with the participant until 15 min after = [:] (planned 09:53): lead K1"
    )


def test_nobody_named_leaves_a_blank_to_fill(make):
    protocol = make.rowing_protocol()
    alone = [replace(step, watch=None) for step in protocol.visit]
    bar = next(row for row in sheet(make, replace(protocol, visit=tuple(alone))) if row["kind"] == "bar")
    assert "Nobody is named to stay" in bar["stays"]


def test_a_block_names_devices_people_and_boxes(make):
    block = [row for row in sheet(make, make.rowing_protocol()) if row["kind"] == "block"][1]
    assert (block["name"], block["clock"], block["ready"]) == ("MEP efforts", "09:16", "ready 09:16")
    assert block["who"] == "M1 · operator K1, cheek support K2"
    assert (block["least"], block["most"]) == (3, 5)
    assert block["readings"] == [["MEP", "cmH2O"]]


def test_what_to_say_stands_once(make):
    said = [row["say"] for row in sheet(make, make.rowing_protocol()) if row["kind"] == "block"]
    assert sum("blast it out" in text for text in said) == 1


def test_during_counts_from_the_start_that_is_written_down(make):
    found = sheet(make, make.rowing_protocol())
    bout = next(row for row in found if row["kind"] == "part" and row["name"] == "Rowing in the cold room")
    assert bout["started"] == "started at"
    during = found[found.index(bout) + 1]
    assert plain(during["due"]) == "['10 min after start = [:]', 'not after 11 min = [:]']"


def before_visit(make):
    measured = Step(
        "before", "Measures", measure=("fvc",), due=Due("row", "before", "start", (TimePoint(300, 60, 120),))
    )
    row = Step("row", "Rowing", takes=Length(600, 600, 600), exercise=True, watch=Watch(("lead",), 600))
    return make.rowing_protocol(visit=(measured, row), priority=())


def test_before_names_the_planned_start_and_the_gap(make):
    """On time within [at - late, at + early] before the start (the formats' own rule)."""
    group = sheet(make, before_visit(make))[0]
    # 9:03 + 60 + 3 * 20 + 2 * 30 s: the bout is planned at 9:06, laid at once after the block
    assert plain(group["due"]) == (
        "['finish the last effort 5 min before Rowing starts (planned 09:06), by 09:01 (at least 3 min, at most 6 min before)']"  # noqa: E501
    )


def test_a_bout_of_unknown_length_says_its_range(make):
    row = Step("row", "Rowing", takes=Length(1080, 480, 1800), exercise=True)
    part = sheet(make, make.rowing_protocol(visit=(row,), priority=()))[0]
    assert plain(part["words"]) == "about 18 min, at least 8 min, at most 30 min"


def test_blocks_that_a_bout_may_not_reach_say_so(make):
    part = During(("fvc-after",), (TimePoint(120, 0, 60),), if_reached=True)
    row = Step("row", "Rowing", takes=Length(1080, 480, 1800), exercise=True, during=(part,))
    block = sheet(make, make.rowing_protocol(visit=(row,), priority=()))[2]
    assert block["ready"].endswith(" · if reached")


def test_what_only_longer_exercise_reaches_has_its_boxes_too(make):
    """The plan holds 2 min; who rows on is measured at 25 min as well, and nobody can be at 40 min."""
    points = (TimePoint(120, 0, 60), TimePoint(1500, 0, 60), TimePoint(2400, 0, 60))
    part = During(("fvc-after",), points, if_reached=True)
    row = Step("row", "Rowing", takes=Length(1080, 480, 1800), exercise=True, during=(part,))
    after = Step("after", "After", measure=("mep",), due=Due("row", "after", "end", (TimePoint(60, 0, 60),)))
    protocol = make.rowing_protocol(visit=(row, after), priority=())
    visit = make.placed(protocol, make.at(9, 3))
    planned = replace(visit, activities=tuple(a for a in visit.activities if a.at_s not in (1500, 2400)))
    found = rows(protocol, planned)
    assert kinds(found) == ["part", "group", "block", "group", "block", "bar", "group", "block"]
    later_one, block = found[3], found[4]
    assert plain(later_one["due"]).startswith("['25 min after start = [:]', 'not after 26 min")
    assert (later_one["clock"], later_one["beside"]) == ("09:28", "")
    assert plain(block["ready"]) == "ready 09:27 · if reached"
    assert (block["name"], block["who"]) == (found[2]["name"], found[2]["who"])
    assert found[5]["planned"] == "planned 09:21"  # the end of exercise stays as planned


def test_a_visit_without_exercise_has_no_bar(make):
    step = Step("before", "Measures", measure=("fvc",))
    assert kinds(sheet(make, make.rowing_protocol(visit=(step,), priority=()))) == ["group", "block"]


def test_a_task_that_others_count_from_has_its_own_bar(make):
    drug = Step("drug", "Inhaling", takes=Length(60, 60, 60))
    after = Step(
        "after", "Measures", measure=("fvc",), due=Due("drug", "after", "end", (TimePoint(900, 0, 300),))
    )
    found = sheet(make, make.rowing_protocol(visit=(drug, after), priority=()))
    assert [row["words"] for row in found if row["kind"] == "bar"] == ["Inhaling ENDED AT"]


def test_a_warm_up_that_leads_into_the_bout_has_no_bar(make):
    warm = Step("warm", "Easy rowing", takes=Length(180, 180, 180), exercise=True)
    row = Step("row", "Rowing", takes=Length(600, 600, 600), exercise=True, starts_within_s=0)
    after = Step(
        "after", "Measures", measure=("fvc",), due=Due("row", "after", "end", (TimePoint(900, 0, 300),))
    )
    found = sheet(make, make.rowing_protocol(visit=(warm, row, after), priority=()))
    assert [row["words"] for row in found if row["kind"] == "bar"] == ["EXERCISE ENDED AT (Rowing)"]
    assert [row["words"] for row in found if row["kind"] == "part"][
        1
    ] == "takes 10\u00a0min · at once after the part before"


@pytest.mark.parametrize("rest_s", [0, 600])
def test_a_rest_says_may_never_must(make, rest_s):
    rest = Step("sit", "Seated recovery", rest_s=rest_s)
    words = sheet(make, make.rowing_protocol(visit=(rest,), priority=()))[0]["words"]
    assert "may start again when the participant is ready" in words


def test_important_time_points_are_marked(make):
    protocol = make.rowing_protocol()
    steps = [replace(s, due=replace(s.due, important=True)) if s.due else s for s in protocol.visit]
    found = sheet(make, replace(protocol, visit=tuple(steps)))
    assert [row["beside"] for row in found if row["kind"] == "group"][-1] == "important"


def test_a_task_that_comes_again_stands_where_it_comes(make):
    """Questions and a block, each at 5 and 20 minutes after exercise, take turns on the sheet."""
    points = (TimePoint(300, 0, 60), TimePoint(1200, 0, 60))
    row = Step("row", "Rowing", takes=Length(600, 600, 600), exercise=True)
    ask = Step("ask", "Questions", takes=Length(60, 60, 60), due=Due("row", "after", "end", points))
    begins = make.at(9)
    protocol = make.rowing_protocol(visit=(row, ask), priority=())
    (bout,) = make.lay(replace(protocol, visit=(row,)), begins)
    asked = [
        replace(
            bout, step="ask", at_s=p.at_s, start=later(bout.end, p.at_s), end=later(bout.end, p.at_s + 60)
        )
        for p in points
    ]
    rest = replace(bout, step="sit", start=later(bout.end, 500), end=later(bout.end, 900))
    protocol = replace(protocol, visit=(*protocol.visit, Step("sit", "Seated recovery", rest_s=400)))
    visit = replace(make.placed(protocol, begins), activities=(bout, *asked, rest))
    found = rows(protocol, visit)
    assert [row["name"] for row in found if row["kind"] == "part"] == [
        "Rowing",
        "Questions",
        "Seated recovery",
        "Questions",
    ]
    assert plain([row["due"][0] for row in found if row["kind"] == "part" and row["due"]]) == (
        "['5 min after = [:]', '20 min after = [:]']"
    )


def test_a_bout_with_its_own_due_time_and_measures_during_it(make):
    """A second bout, due after the first: its due time is not mistaken for one of its blocks."""
    part = During(("fvc-after",), (TimePoint(120, 0, 60),))
    first = Step("one", "First row", takes=Length(600, 600, 600), exercise=True)
    due = Due("one", "after", "end", (TimePoint(600, 0, 60),))
    second = Step("two", "Second row", takes=Length(900, 900, 900), exercise=True, during=(part,), due=due)
    protocol = make.rowing_protocol(visit=(first, second), priority=())
    visit = make.placed(protocol, make.at(9))
    timed = tuple(
        replace(a, at_s=600) if a.step == "two" and a.manoeuvre is None else a for a in visit.activities
    )
    found = rows(protocol, replace(visit, activities=timed))
    bouts = [row for row in found if row["kind"] == "part"]
    assert plain(bouts[1]["due"][0]) == "10 min after = [:]"
    assert plain(next(row for row in found if row["kind"] == "group")["due"][0]) == "2 min after start = [:]"
