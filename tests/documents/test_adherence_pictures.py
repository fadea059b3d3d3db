"""Pictures of adherence: what they were drawn from, what they say, and that they can be drawn."""

import csv
import io
import re
from collections import Counter
from datetime import timedelta
from statistics import median
from types import SimpleNamespace
from xml.etree import ElementTree

import pytest

from planner.adherence.compare import compare
from planner.adherence.numbers import EffortNumber
from planner.adherence.scores import forecasts
from planner.adherence.timeline import timeline
from planner.documents.adherence_counts import numbers_heads
from planner.documents.adherence_pictures import pictures, save, visit_picture
from planner.record.effort import Effort, Happened, Mark, VisitKey


def play(schedule, late_s=lambda visit, activity: 0, rest_s=lambda visit: 30, without=()):
    """The plan as it was kept: blocks so many seconds late, rests so long; no readings."""
    efforts, marks = [], []
    for visit in schedule.visits:
        key = VisitKey(visit.participant, visit.visit, visit.number)
        for a in visit.activities:
            if a.first_effort is None:
                marks += [Mark(key, a.step, None, "start", a.start), Mark(key, a.step, None, "end", a.end)]
                continue
            if (a.step, a.at_s, a.manoeuvre) in without:
                continue
            length = 10 if a.manoeuvre == "mep" else 20
            first = a.first_effort + timedelta(seconds=late_s(visit, a))
            for n in range(a.planned_efforts):
                moment = first + timedelta(seconds=n * (length + rest_s(visit)))
                efforts.append(Effort(key, a.step, a.at_s, a.manoeuvre, n + 1, moment))
    return Happened(tuple(efforts), tuple(marks), rehearsed=True)


@pytest.fixture(scope="module")
def judged(make):
    """Six participants; the third is 45 s late at +1 min, the fourth rests 24 s, all else as planned."""
    protocol = make.rowing_protocol()
    names = [f"ROW-{n:02d}" for n in range(1, 7)]
    visits = [
        make.placed(protocol, make.at(9) + timedelta(days=3 * n), participant=name, number=1)
        for n, name in enumerate(names)
    ]
    study = make.study({protocol.file: protocol}, participants=names)
    schedule = make.schedule(visits)

    def late_s(visit, activity):
        return 45 if (visit.participant, activity.step, activity.at_s) == ("ROW-03", "after", 60) else 0

    happened = play(schedule, late_s, lambda visit: 24 if visit.participant == "ROW-04" else 30)
    found = compare(study, schedule, happened)
    ahead = forecasts(study)
    drawn = {picture.name: picture for picture in pictures(study, found, ahead)}
    return SimpleNamespace(
        study=study, schedule=schedule, happened=happened, found=found, ahead=ahead, drawn=drawn
    )


def rows_of(picture):
    return list(csv.DictReader(io.StringIO(picture.data(), newline="")))


def test_every_time_point_has_a_mark(judged):
    rows = rows_of(judged.drawn["time-points"])
    assert len(rows) == judged.found.kept.of == 24
    late = [row for row in rows if row["kept"] == "late"]
    assert [(row["participant"], row["off_at_s"], row["late_s"]) for row in late] == [("ROW-03", "45", "30")]
    assert (
        "1 min after the end of exercise, Forced vital capacity: 5 of 6 on time"
        in judged.drawn["time-points"].words
    )


def test_the_numbers_of_the_weeks_add_up(judged):
    rows = rows_of(judged.drawn["weeks"])
    assert [(row["week"], row["label"]) for row in rows] == [
        ("2027-W09", "11/12"),  # 1, 4 and 7 March, the last a Sunday
        ("2027-W10", "8/8"),
        ("2027-W11", "4/4"),
    ]
    assert sum(int(row["on_time"]) for row in rows) == judged.found.kept.kept


def test_rests_cut_short_are_counted(judged):
    words = judged.drawn["rests"].words
    assert (
        "Maximal expiratory pressure: 8 of 48 cut short, median 30 s, least 30 s." in words
    )  # four blocks, two rests each, six people
    assert len(rows_of(judged.drawn["rests"])) == len(judged.found.rests)


def test_efforts_stand_against_the_forecast(judged):
    rows = rows_of(judged.drawn["efforts"])
    for name in {row["measure"] for row in rows}:
        own = [row for row in rows if row["measure"] == name]
        assert sum(int(row["seen"]) for row in own) == int(own[0]["of"])
        assert sum(float(row["forecast"]) for row in own) == pytest.approx(1)


def told_from_data(name, rows):
    """What the words of a picture must say, counted from its exported data alone."""
    if name == "time-points":
        own = Counter(row["time_point"] for row in rows)
        kept = Counter(row["time_point"] for row in rows if row["kept"] == "on time")
        return [f"{point}: {kept[point]} of {own[point]} on time" for point in own]
    if name == "weeks":
        return [
            f"{r['week']}: {r['on_time']}/{r['of']} ({100 * int(r['on_time']) / int(r['of']):.0f} %)."
            for r in rows
        ]
    if name == "rests":
        by = {one: [r for r in rows if r["measure"] == one] for one in {r["measure"] for r in rows}}
        return [
            f"{one}: {sum(int(r['rest_s']) < int(r['asked_s']) for r in own)} of {len(own)} cut short, "
            f"median {median(int(r['rest_s']) for r in own):g} s"
            for one, own in by.items()
        ]
    if name == "efforts":
        return [
            f"{r['measure']}: {r['efforts']} efforts in {r['seen']} of {r['of']} measures, "
            f"forecast {100 * float(r['forecast']):.0f} of 100."
            for r in rows
        ]
    return [f"Forecast {r['bin']}: {r['kept']} of {r['of']} kept." for r in rows]


@pytest.mark.parametrize("name", ["time-points", "weeks", "rests", "efforts", "forecasts"])
def test_the_words_of_a_picture_say_what_its_data_hold(judged, name):
    drawn = judged.drawn[name]
    told = told_from_data(name, rows_of(drawn))
    assert told
    assert [one for one in told if one not in drawn.words] == []
    assert drawn.spec["description"] == drawn.words


def test_the_words_of_a_visit_name_each_window_once(judged):
    for visit in judged.schedule.visits[:3]:
        key = VisitKey(visit.participant, visit.visit, visit.number)
        drawn = visit_picture(
            judged.study, timeline(judged.study, judged.schedule, judged.happened, judged.found, key)
        )
        windows = [row for row in rows_of(drawn) if row["is"] == "window"]
        assert drawn.words.count("measured ") == len(windows) > 0
        for kept in ("on time", "late"):
            assert drawn.words.count(f"({kept}).") == sum(row["kept"] == kept for row in windows)


def test_only_numbers_that_may_differ_are_drawn_unless_none_may():
    fvc = [EffortNumber("rowing", "fvc", n, 5, 10, 0.5) for n in (3, 4)]
    during = EffortNumber("rowing", "fvc-during", 1, 10, 10, 1.0)
    rest = EffortNumber("practice", "mip", 3, 10, 10, 1.0)
    names = {
        ("rowing", "fvc"): "Vital capacity",
        ("rowing", "fvc-during"): "In the bout",
        ("practice", "mip"): "M",
    }
    assert numbers_heads([*fvc, during], names) == {("rowing", "fvc"): "Vital capacity (10\nmeasures)"}
    assert numbers_heads([during], names) == {("rowing", "fvc-during"): "In the bout (10\nmeasures)"}
    assert numbers_heads([*fvc, rest], names) == {("rowing", "fvc"): "Vital capacity (10\nmeasures)"}


def test_no_short_name_of_the_protocol_file_stands_in_a_picture(judged):
    """Their data keep it, beside the title: for who reads on with a program."""
    short = {m for p in judged.study.protocols.values() for m in p.manoeuvres}
    for name in ("rests", "efforts"):
        assert short & {row["manoeuvre"] for row in rows_of(judged.drawn[name])}
        assert not short & set(re.findall(r"[\w-]+", judged.drawn[name].words))


def test_a_picture_is_saved_with_its_data_and_its_words(judged, tmp_path):
    paths = save(judged.drawn["weeks"], tmp_path)
    assert [path.suffix for path in paths] == [".svg", ".png", ".pdf", ".csv", ".txt"]
    root = ElementTree.fromstring(paths[0].read_text(encoding="utf-8"))
    text = " ".join(root.itertext())
    assert "2027-W09" in text
    assert paths[1].read_bytes().startswith(b"\x89PNG")
    assert paths[2].read_bytes().startswith(b"%PDF")
    assert judged.drawn["weeks"].words in paths[4].read_text(encoding="utf-8")


def test_all_pictures_are_black_grey_or_white(judged):
    for picture in judged.drawn.values():
        colours = {
            value.lower()
            for element in ElementTree.fromstring(picture.svg()).iter()
            for name in ("fill", "stroke")
            if (value := element.get(name)) and value.startswith("#")
        }
        assert colours
        for colour in colours:
            digits = colour[1:] if len(colour) == 7 else "".join(2 * digit for digit in colour[1:])
            assert digits[:2] == digits[2:4] == digits[4:], colour
        assert picture.spec["description"] == picture.words


def test_no_condition_of_a_blind_visit_is_shown(judged):
    everything = " ".join(p.svg() + p.words + p.data() for p in judged.drawn.values())
    assert "mild" not in everything
    assert "cold air" not in everything


def test_one_visit_counts_from_its_own_end_of_exercise(judged):
    key = VisitKey("ROW-03", "rowing", 1)
    line = timeline(judged.study, judged.schedule, judged.happened, judged.found, key)
    assert (line.zero, line.zero_recorded) == ("row", True)
    first = next(
        one for one in line.stretches if not one.planned and one.row == "fvc-after" and one.start_s > 0
    )
    assert first.start_s == 60 + 45
    bout = [one for one in line.stretches if one.what == "row" and one.row == "" and not one.planned]
    assert [(one.start_s, one.end_s) for one in bout] == [(-1200, 0)]
    window = next(one for one in line.windows if one.at_s == 60)
    assert (window.low_s, window.high_s, window.happened_s, window.kept) == (60, 90, 105, "late")
    picture = visit_picture(judged.study, line)
    assert picture.name == "visit_ROW-03_rowing-1"
    assert (
        "due 1 min after to 1 min 30 s after the end of exercise, measured 1 min 45 s after (late)"
        in picture.words
    )
    assert "Maximal expiratory pressure, kept" in picture.svg()


def test_no_mark_is_drawn_over_the_ends_of_a_window(judged):
    """Where all lie at the window's start, its bracket is still to be seen."""
    drawn = ElementTree.fromstring(judged.drawn["time-points"].svg()).iter()
    kinds = [kind.split()[0] for element in drawn if "role-mark " in (kind := element.get("class", ""))]
    marks = [n for n, kind in enumerate(kinds) if kind == "mark-symbol"]
    assert len(marks) > 1
    for mark in marks:
        assert kinds[mark:].count("mark-rule") >= 6, kinds
        after = kinds[mark + 1 :]
        row = after[: after.index("mark-symbol")] if "mark-symbol" in after else after
        assert row[1:7] == ["mark-rule"] * 6, "two ends with two arms each, after the marks and their words"


def test_an_empty_record_still_has_pictures(judged):
    found = compare(judged.study, judged.schedule, Happened((), ()))
    for picture in pictures(judged.study, found, judged.ahead):
        assert picture.svg().startswith("<svg")
        assert picture.rows == ()
