"""The ethics text: every number worked out by hand here, from the protocol alone."""

import io
from dataclasses import replace
from importlib.resources import files

import docx
import pytest
from docx.shared import Mm, Pt
from PIL import ImageFont

from planner.documents.docx_file import widths_mm
from planner.documents.ethics import burden_sentences, ethics_text
from planner.documents.ethics_visits import asked_visits
from planner.protocol.model import Step, Watch

FACE = str(files("planner.documents") / "fonts" / "NotoSans-SemiCondensedBold.ttf")


def opened(study, schedule):
    return docx.Document(io.BytesIO(ethics_text(study, schedule)))


def text_of(document):
    return "\n".join(p.text for p in document.paragraphs)


def table_rows(document, number):
    return [[cell.text for cell in row.cells] for row in document.tables[number].rows]


@pytest.fixture
def both(make):
    rowing = make.rowing_protocol()
    practice = make.rowing_protocol(
        name="practice", title="Learning", file="practice.yaml", visit=rowing.visit[:2], priority=()
    )
    study = make.study({rowing.file: rowing, practice.file: practice})
    return study, make.schedule([make.placed(rowing, make.at(9))])


def test_least_and_most_efforts_of_each_visit(both):
    """Practice: FVC 3..8 + MEP 3..5. Rowing: those, 2..3 during, and three times (2..3 + 3..5)."""
    study, _ = both
    first, second, third = burden_sentences(study, asked_visits(study))
    assert first.startswith("Visit practice: at least 6 and at most 13 maximal efforts")
    assert second.startswith("Visit rowing 1: at least 23 and at most 40 maximal efforts")
    assert third.startswith("Visit rowing 2: at least 23 and at most 40 maximal efforts")


def test_the_table_has_a_row_for_each_visit_and_the_sum(both):
    rows = table_rows(opened(*both), 3)
    assert [(row[0], row[1], row[3]) for row in rows[1:]] == [
        ("practice", "6", "13"),
        ("rowing 1", "23", "40"),
        ("rowing 2", "23", "40"),
        ("All visits of one participant", "52", "93"),
    ]


def test_minutes_of_the_shortest_and_longest_practice(both):
    """10 min arriving, FVC 60 + 20 n + 30 (n - 1), MEP 45 + 10 n + 30 (n - 1) seconds."""
    row = table_rows(opened(*both), 3)[1]
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
    sentence = burden_sentences(study, asked_visits(study))[0]
    expected = float(sentence.split(" maximal efforts, ")[1].split(" expected")[0])
    assert 3.0 < expected < 4.0


def test_what_cannot_differ_is_one_number(make):
    """Two efforts of 20 s with 30 s between, 60 s to get ready: 130 s, 2.2 min, whatever happens."""
    fvc = make.manoeuvre(at_least=2, at_most=2, enough=(), readings={})
    steps = (Step("before", "Measures", measure=("fvc",)),)
    protocol = make.rowing_protocol(visit=steps, priority=(), manoeuvres={"fvc": fvc})
    study = make.study({protocol.file: protocol})
    sentence = burden_sentences(study, asked_visits(study))[0]
    assert sentence.endswith(": 2 maximal efforts. It takes 2.2 min.")


def test_the_schedule_table_has_the_shape_that_guidance_asks_for(both):
    """SPIRIT 2013, item 13 (read): enrolment, interventions, assessments down; -t1, t1 … across; X marks."""
    rows = table_rows(opened(*both), 0)
    assert rows[0] == ["", "Enrolment", "practice", "rowing 1", "rowing 2", "Close-out"]
    assert rows[1] == ["Time point", "-t1", "t1", "t2", "t3", "t4"]
    heads = [row[0] for row in rows]
    assert [h for h in heads if h.isupper()] == ["ENROLMENT", "INTERVENTIONS", "ASSESSMENTS"]
    rowing = next(row for row in rows if row[0].startswith("Rowing in the cold room, 20 min"))
    assert rowing[1:] == ["", "", "X", "X", ""]
    arrival = next(row for row in rows if row[0] == "Arrival and questions")
    assert arrival[1:] == ["", "X", "X", "X", ""]


def test_windows_of_every_time_point(both):
    rows = table_rows(opened(*both), 2)
    after = [row for row in rows if row[1].startswith("30 min after the end of")]
    assert after[0][2:5] == ["29 min", "32 min", "2 to 3"]
    during = next(row for row in rows if "10 min after the start of" in row[1])
    assert during[2:4] == ["10 min", "11 min"]


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
    assert "within an hour of hard exercise on purpose" in text


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
    assert "regarded as important: 1 min after the end of" in text_of(opened(changed, schedule))


def test_groups_with_visits_of_their_own_have_their_own_sums(make):
    rowing = make.rowing_protocol()
    short = make.rowing_protocol(file="short.yaml", name="short", visit=rowing.visit[:2], priority=())
    study = make.study({rowing.file: rowing, "short.yaml": short}, participants=("A", "B"))
    kind = replace(study.kinds[0], id="test", conditions=(), protocols={"x": rowing.file, "y": "short.yaml"})
    visit = replace(study.asked["A"][0], kind="test", number=None, condition=None)
    asked = {"A": (visit,), "B": (replace(visit, participant="B", protocol="short.yaml"),)}
    study = replace(study, kinds=(kind,), groups={"A": "x", "B": "y"}, asked=asked)
    rows = table_rows(opened(study, make.schedule([])), 3)
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
                for word in run.text.split():
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
