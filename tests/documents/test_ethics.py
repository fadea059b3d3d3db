"""The ethics text: every number worked out by hand here, from the protocol alone."""

import io
from dataclasses import replace
from datetime import timedelta
from importlib.resources import files
from pathlib import Path

import docx
import pytest
from docx.shared import Mm, Pt
from PIL import ImageFont

from planner.documents.docx_file import widths_mm
from planner.documents.ethics import burden_sentences, ethics_text
from planner.documents.ethics_parts import alone_after_exercise
from planner.documents.ethics_visits import figures
from planner.protocol.model import During, Length, Preparation, Step, TimePoint, Watch
from planner.protocol.read import read_protocol
from planner.timing.lay_out import lay_out

WALK = Path(__file__).parents[2] / "protocols" / "six-minute-walk.yaml"
FACE = str(files("planner.documents") / "fonts" / "NotoSans-SemiCondensedBold.ttf")


def opened(study, schedule):
    return docx.Document(io.BytesIO(ethics_text(study, schedule)))


def text_of(document):
    return "\n".join(p.text for p in document.paragraphs).replace("\u00a0", " ")


def table_rows(document, number):
    return [[cell.text.replace("\u00a0", " ") for cell in row.cells] for row in document.tables[number].rows]


def table_with(document, head):
    """The rows of the table that has a column of that name."""
    found = [[[cell.text for cell in row.cells] for row in table.rows] for table in document.tables]
    return next(rows for rows in found if head in rows[0])


def burden_table(document):
    return table_with(document, "Maximal efforts: least")


def test_least_and_most_efforts_of_each_visit(both):
    """Practice: FVC 3..8 + MEP 3..5. Rowing: those, 2..3 during, and three times (2..3 + 3..5)."""
    study, _ = both
    first, second, third = burden_sentences(figures(study))
    assert first.startswith("Visit practice: at least 6 and at most 13 maximal efforts")
    assert second.startswith("Visit rowing 1: at least 23 and at most 40 maximal efforts")
    assert third.startswith("Visit rowing 2: at least 23 and at most 40 maximal efforts")


def test_the_table_has_a_row_for_each_visit_and_the_sum(both):
    rows = burden_table(opened(*both))
    assert [(row[0], row[1], row[3]) for row in rows[1:]] == [
        ("practice", "6", "13"),
        ("rowing 1", "23", "40"),
        ("rowing 2", "23", "40"),
        ("All visits of one participant", "52", "93"),
    ]


def test_minutes_of_the_shortest_and_longest_practice(both):
    """10 min arriving, FVC 60 + 20 n + 30 (n - 1), MEP 45 + 10 n + 30 (n - 1) seconds."""
    row = burden_table(opened(*both))[1]
    shortest = (600 + 60 + 3 * 20 + 2 * 30 + 45 + 3 * 10 + 2 * 30) / 60
    longest = (600 + 60 + 8 * 20 + 7 * 30 + 45 + 5 * 10 + 4 * 30) / 60
    assert row[4] == f"{shortest:.1f}"
    assert row[6] == f"{longest:.1f}"
    assert float(row[4]) <= float(row[5]) <= float(row[6])


def test_expected_efforts_agree_with_the_closed_form(make):
    """Two largest of three normal values lie within 1.796 sd with chance 0.90 (computed).

    0.150 L at 4.80 L * 2 % = 0.096 L is 1.56 sd, and both FVC and FEV1 must agree, so the mean of
    FVC lies above three and well below the eight allowed.
    """
    protocol = make.rowing_protocol(visit=(Step("before", "Measures", measure=("fvc",)),), priority=())
    study = make.study({protocol.file: protocol})
    sentence = burden_sentences(figures(study))[0]
    expected = float(sentence.split(" maximal efforts, ")[1].split(" expected")[0])
    assert 3.0 < expected < 4.0


def test_what_cannot_differ_is_one_number(make):
    """Two efforts of 20 s with 30 s between, 60 s to get ready: 130 s, 2.2 min, whatever happens."""
    fvc = make.manoeuvre(at_least=2, at_most=2, enough=(), readings={})
    steps = (Step("before", "Measures", measure=("fvc",)),)
    protocol = make.rowing_protocol(visit=steps, priority=(), manoeuvres={"fvc": fvc})
    study = make.study({protocol.file: protocol})
    sentence = burden_sentences(figures(study))[0]
    assert sentence.endswith(": 2 maximal efforts. It takes 2.2 min.")


def test_the_schedule_table_has_the_shape_that_guidance_asks_for(both):
    """SPIRIT 2013, item 13 (read): enrolment, interventions, assessments down; -t1, t1 … across; X marks."""
    rows = table_with(opened(*both), "Enrolment")
    assert rows[0] == ["", "Enrolment", "practice", "rowing 1", "rowing 2", "Close-out"]
    assert rows[1] == ["Time point", "-t1", "t1", "t2", "t3", "t4"]
    heads = [row[0] for row in rows]
    assert [h for h in heads if h.isupper()] == ["ENROLMENT", "INTERVENTIONS", "ASSESSMENTS"]
    rowing = next(row for row in rows if row[0].startswith("Rowing in the cold room, 20 min"))
    assert rowing[1:] == ["", "", "X", "X", ""]
    arrival = next(row for row in rows if row[0] == "Arrival and questions")
    assert arrival[1:] == ["", "X", "X", "X", ""]


def test_a_visit_is_told_in_its_order_with_times_lengths_and_who_is_there(both):
    """By hand, of the rowing protocol: 10 min arriving; FVC 60 s + 3..8 efforts of 20 s with 30 s between;
    the first effort after rowing comes 1 min after it, its 60 s to get ready before that."""
    rows = table_rows(opened(*both), 1)
    assert rows[0][:4] == ["Part of the visit", "Starts, h:min", "Takes", "Due"]
    assert rows[1][:3] + rows[1][8:] == ["Arrival and questions", "0:00", "10 min", "lead"]
    fvc = rows[2]
    assert fvc[0] == "Forced vital capacity: Measures before rowing"
    assert fvc[2] == "3 min to 7 min 10 s"  # 60 + 3 * 20 + 2 * 30; 60 + 8 * 20 + 7 * 30
    assert fvc[6:] == ["3 to 8", "30 s", "operator"]
    row = next(row for row in rows if row[0] == "Rowing in the cold room")
    assert row[2:] == ["20 min", "", "", "", "", "", "lead; then lead for 15 min"]
    order = [row[0].split(":")[0] + " " + row[3] for row in rows if "after the end of" in row[3]]
    assert [line.split(" after")[0].rsplit(" ", 2)[1:] for line in order] == [
        [at, "min"] for at in ("1", "1", "10", "10", "30", "30")
    ]
    stayed = {
        row[3].partition(" min")[0]: row[8] for row in rows if "maximal exp" in row[0].lower() and row[3]
    }
    assert stayed["1"] == "operator, cheek support and lead"  # over by 8 min, the lead stays for 15
    assert stayed["30"] == "operator and cheek support"
    assert rows[-1][0] == "Seated recovery"
    assert rows[-1][8] == "nobody named"


def test_windows_of_every_time_point(both):
    rows = table_rows(opened(*both), 1)
    after = [row for row in rows if row[3].startswith("30 min after the end of")]
    assert after[0][4:7] == ["29 min", "32 min", "2 to 3"]
    assert after[1][4:7] == ["follows", "", "3 to 5"]
    during = next(row for row in rows if "10 min after the start of" in row[3])
    assert during[4:6] == ["10 min", "11 min"]


def test_a_time_point_that_short_exercise_does_not_reach_is_told_all_the_same(both):
    study, schedule = both
    protocol = study.protocols["cold-air-rowing.yaml"]
    part = During(("fvc-after",), (TimePoint(300, 0, 60), TimePoint(1500, 0, 60)), if_reached=True)
    steps = tuple(
        replace(s, takes=Length(1200, 600, 1800), during=(part,)) if s.exercise else s for s in protocol.visit
    )
    changed = replace(study, protocols={**study.protocols, protocol.file: replace(protocol, visit=steps)})
    rows = table_rows(opened(changed, schedule), 1)
    starts = {row[3]: row[1] for row in rows if "after the start of" in row[3]}
    assert starts["25 min after the start of Rowing in the cold room"] == "if reached"
    assert starts["5 min after the start of Rowing in the cold room"] != "if reached"


def test_where_nobody_is_asked_to_be_with_the_participant_after_exercise(both):
    """The lead stays for 15 min; MEP of the second time point ends soon after, the third begins at 29 min.

    After it nobody is asked for, while the participant sits for 10 min.
    """
    study, schedule = both
    protocol = study.protocols["cold-air-rowing.yaml"]
    alone = list(alone_after_exercise(lay_out(protocol, study.plan_on)))
    (first, second) = [line for line in alone if line[0] == "row"]
    assert 15 * 60 <= first[1] < 20 * 60
    assert first[2] == 29 * 60
    assert second[2] - second[1] == 600  # Seated recovery
    text = text_of(opened(study, schedule)).replace("\u00a0", " ")
    assert f"from about {round(first[1] / 60)} to 29 min after the end of Rowing in the cold room" in text
    watched = replace(
        protocol,
        visit=tuple(replace(s, watch=Watch(("lead",), 7200)) if s.watch else s for s in protocol.visit),
    )
    assert list(alone_after_exercise(lay_out(watched, study.plan_on))) == []


def test_what_a_committee_asks_first_stands_first(both):
    """How often, what, how long, at worst, who, when to stop; 93 = 13 + 2 * 40 efforts, as counted above.

    Shortest: 600 s arriving, FVC 180, MEP 135, rowing 1200, first effort 29 min later, FVC 70, MEP 135 and
    600 s of sitting: 4660 s, cut 1 h 17 min. Longest: 600, 430, 215, 1200, 32 min, 120, 215, 600: 5300 s.
    """
    document = opened(*both)
    headings = [p.text for p in document.paragraphs if p.style.name == "Heading 1"]
    assert headings[:4] == [
        "In short",
        "What happens at each visit, in order",
        "Number of maximal efforts and time",
        "Stopping",
    ]
    text = text_of(document).replace("\u00a0", " ")
    short = text[: text.index("What happens at each visit, in order")]
    for words in (
        "Each participant comes three times: practice, rowing 1 and rowing 2.",
        "What happens at a visit (rowing): Arrival and questions, 10 min; Measures before rowing; Rowing in "
        "the cold room, 20 min, measures 10 min after its start; Measures after rowing, 1 min, 10 min and "
        "30 min after the end of Rowing in the cold room; Seated recovery, 10 min.",
        "A visit (rowing) takes 1 h 17 min to 1 h 29 min and has 23 to 40 maximal efforts.",
        "At worst, over all visits: 93 maximal efforts and",
        "For 15 min after Rowing in the cold room the participant is not left alone; with them: lead.",
        "A participant may stop at any time",
        "chest pain, faintness",
    ):
        assert words in short, words


def test_waits_come_on_top_and_their_longest_is_told(both):
    """One visit of the plan, made half an hour longer than it is alone, waits half an hour."""
    study, schedule = both
    found = figures(study)
    (visit,) = schedule.visits
    alone = timedelta(seconds=found.plans["cold-air-rowing.yaml"].alone_s)
    *before, last = visit.activities
    end = visit.start + alone + timedelta(minutes=30)
    late = replace(visit, activities=(*before, replace(last, start=end - timedelta(minutes=10), end=end)))
    text = text_of(opened(study, replace(schedule, visits=(late,)))).replace("\u00a0", " ")
    assert "The study sets no limit to them. In the plan in use the longest is 30 min." in text
    limited = replace(study, at_most_waiting_s=2400)
    assert "allows waits of 40 min a visit at most." in text_of(opened(limited, schedule))


def test_rows_of_the_schedule_keep_the_order_of_each_visit(make):
    """A part that two visits share stands after what is before it in either."""
    rowing = make.rowing_protocol()
    first, *_ = rowing.visit
    end = replace(first, id="leave", title="Leaving")
    rowing = replace(rowing, visit=(*rowing.visit, end))
    practice = make.rowing_protocol(
        name="practice", file="practice.yaml", visit=(replace(first, title="Showing"), end), priority=()
    )
    study = make.study({rowing.file: rowing, "practice.yaml": practice})
    heads = [row[0] for row in table_with(opened(study, make.schedule([])), "Enrolment")]
    assert heads.index("Showing") < heads.index("Arrival and questions") < heads.index("Leaving")


def test_what_is_missing_is_marked_and_nothing_is_claimed(both):
    text = text_of(opened(*both))
    assert text.count("TO BE COMPLETED BY THE INVESTIGATOR") >= 8
    for word in ("complies", "certified", "is safe"):
        assert word not in text.replace("does not say that the study is safe", "")


def test_rules_to_finish_and_to_stop(both):
    text = text_of(opened(*both)).replace("\u00a0", " ")
    assert (
        "Finish when the two largest FVC and the two largest FEV1 are within 0.150 L. At most 8 efforts"
        in text
    )
    assert "if FEV1 falls below 80 % of its first value" in text
    assert "chest pain, faintness" in text
    assert "within an hour of exercise on purpose, at the times that the protocol sets" in text
    assert "Every effort is counted, also" not in text


def test_who_stays_or_that_nobody_does(both, make):
    study, schedule = both
    assert (
        "For 15 min after Rowing in the cold room the participant is not left alone; with them: lead."
        in text_of(opened(study, schedule))
    )
    protocol = study.protocols["cold-air-rowing.yaml"]
    alone = replace(protocol, visit=tuple(replace(s, watch=None) for s in protocol.visit))
    changed = replace(study, protocols={**study.protocols, protocol.file: alone})
    assert "No one is named to stay with the participant" in text_of(opened(changed, schedule))
    two = replace(
        protocol,
        visit=tuple(
            replace(s, watch=Watch(("lead", "operator"), 60)) if s.watch else s for s in protocol.visit
        ),
    )
    changed = replace(study, protocols={**study.protocols, protocol.file: two})
    assert "with them: lead and operator." in text_of(opened(changed, schedule))


def test_important_time_points(both):
    study, schedule = both
    assert "No time point is marked as important" in text_of(opened(study, schedule))
    protocol = study.protocols["cold-air-rowing.yaml"]
    steps = tuple(replace(s, due=replace(s.due, important=True)) if s.due else s for s in protocol.visit)
    changed = replace(study, protocols={**study.protocols, protocol.file: replace(protocol, visit=steps)})
    assert "regarded as important: 1 min, 10 min and 30 min after the end of" in text_of(
        opened(changed, schedule)
    )


def test_preparation_says_for_how_long_first_and_for_which_visits(make):
    """Some texts are whole clauses: what follows them would belong to their last words."""
    only = "your inhaler, only if the study doctor told you so in writing"
    own = (
        Preparation("avoid", only, 8 * 3600),
        Preparation("avoid", "hard exercise", 24 * 3600, "Graham 2019"),
    )
    rowing = make.rowing_protocol(preparation=own)
    practice = make.rowing_protocol(name="practice", file="practice.yaml", preparation=own[:1])
    study = make.study({rowing.file: rowing, practice.file: practice})
    text = text_of(opened(study, make.schedule([])))
    assert f"Avoid for 8 hours before the visit: {only}.\n" in text
    assert "Avoid for 24 hours before the visit (rowing): hard exercise. Source: Graham 2019." in text


def test_groups_with_visits_of_their_own_have_their_own_sums(make):
    rowing = make.rowing_protocol()
    short = make.rowing_protocol(file="short.yaml", name="short", visit=rowing.visit[:2], priority=())
    study = make.study({rowing.file: rowing, "short.yaml": short}, participants=("A", "B"))
    kind = replace(study.kinds[0], id="test", conditions=(), protocols={"x": rowing.file, "y": "short.yaml"})
    visit = replace(study.asked["A"][0], kind="test", number=None, condition=None)
    asked = {"A": (visit,), "B": (replace(visit, participant="B", protocol="short.yaml"),)}
    study = replace(study, kinds=(kind,), groups={"A": "x", "B": "y"}, asked=asked)
    rows = burden_table(opened(study, make.schedule([])))
    assert [(row[0], row[1], row[3]) for row in rows[1:]] == [
        ("test (x)", "23", "40"),
        ("test (y)", "6", "13"),
        ("All visits of one participant (x)", "23", "40"),
        ("All visits of one participant (y)", "6", "13"),
    ]


def test_styles_can_be_restyled_and_heads_repeat(both):
    document = opened(*both)
    assert {"Title", "Heading 1", "Caption", "List Bullet"} <= {p.style.name for p in document.paragraphs}
    assert all(table.style.name == "Table Grid" for table in document.tables)
    assert all("tblHeader" in table.rows[0]._tr.xml for table in document.tables)


def test_no_word_of_a_table_is_broken(both):
    """Cells have 1.9 mm at each side (from memory); a wide serif is 1.2 times our bold face (measured)."""
    face = ImageFont.truetype(FACE, 100)
    measured = 0
    for table in opened(*both).tables:
        for row in table.rows:
            for cell, column in zip(row.cells, table.columns, strict=True):
                (run,) = cell.paragraphs[0].runs
                assert cell.width >= column.width > 0  # word processors read one or the other
                for word in run.text.split(" "):  # a length is one word: no break inside it
                    letters = Pt(1.2 * face.getlength(word) / 100 * run.font.size.pt)
                    assert letters <= cell.width - 2 * Mm(1.9), word
                    measured += 1
    assert measured > 200


def test_a_table_is_as_wide_as_the_text_and_gives_long_texts_the_room():
    widths = widths_mm([["a", "a text that needs a line of its own", "b"], ["1", "2", "3"]], 9)
    assert sum(widths) == pytest.approx(257)
    assert widths[1] > 3 * widths[0]
    assert sum(widths_mm([["extraordinarily" * 3] * 12], 8)) == pytest.approx(257)


def test_the_same_study_gives_the_same_bytes(both):
    assert ethics_text(*both) == ethics_text(*both)


def test_a_measure_finished_by_two_rules_says_where_each_holds(both):
    """The protocol asks for three to eight FVC before rowing and for two or three after it."""
    lines = [line for line in text_of(opened(*both)).split("\n") if "Finish when the two largest FVC" in line]
    titles = [line.split(":")[0] for line in lines]
    assert len(lines) > 1
    assert len(set(titles)) == len(lines)
    assert all("(" in title for title in titles)


def test_a_source_that_names_none_is_not_in_the_list_of_sources(make):
    rowing = make.rowing_protocol(source=("common practice, no source", "Larson 1993 (read)"))
    study = make.study({rowing.file: rowing})
    text = text_of(opened(study, make.schedule([make.placed(rowing, make.at(9))])))
    assert "Larson 1993 (read)" in text
    assert "common practice, no source" not in text.split("\n")


def test_of_a_walk_with_signs_from_a_finger_nothing_false_is_said(make):
    """By hand: the breaths come before both walks, and pulse and oxygen are no hard breaths."""
    protocol = replace(read_protocol(WALK), file="cold-air-rowing.yaml")
    study = make.study({protocol.file: protocol})
    document = opened(study, make.schedule([make.placed(protocol, make.at(9))]))
    text = text_of(document)
    assert "within an hour of exercise on purpose" not in text
    assert "also those of measures that are no hard breath" in text
    assert "as far as the protocol tells: Pulse, oxygen and breathlessness." in text
    before = next(row for row in table_rows(document, 0) if row[3].startswith("1 min before the start of"))
    assert before[4:6] == ["0 s", "2 min"]  # 1 min, late by 2 min at most: no time is below nothing
