"""The run sheet as the technician holds it."""

import io
import re
from dataclasses import replace

import pypdf
import pytest

from planner.documents.run_sheet import (
    fitted_run_sheet,
    pages,
    rests_words,
    run_sheet,
    run_sheet_values,
    short_of_time,
)
from planner.protocol.model import Due, Length, Step, TimePoint


def read(pdf):
    return pypdf.PdfReader(io.BytesIO(pdf))


def words_of(pdf):
    text = "\n".join(page.extract_text() for page in read(pdf).pages)
    return " ".join(text.replace("\u00a0", " ").split())


def sizes_of(pdf, needle):
    """The sizes in points of the pieces of text that hold the needle."""
    found = []

    def visit(text, _cm, tm, _font, size):
        if needle in text.replace("\u00a0", " "):
            found.append(round(abs(tm[3]) * size if abs(tm[3]) != 1 else size, 1))

    for page in read(pdf).pages:
        page.extract_text(visitor_text=visit)
    return found


def twenty_blocks(make, most):
    """Two manoeuvres before a bout and at nine time points after it."""
    protocol = make.rowing_protocol()
    points = tuple(TimePoint(60 * minute, 0, 60) for minute in (1, 12, 24, 36, 48, 60, 72, 84, 96))
    steps = [replace(step, during=()) for step in protocol.visit]
    steps[3] = replace(steps[3], due=Due("row", "after", "end", points))
    known = {name: replace(m, at_most=max(most, m.at_least)) for name, m in protocol.manoeuvres.items()}
    return replace(protocol, visit=tuple(steps), manoeuvres=known)


def made(make, protocol, **changes):
    return make.study({protocol.file: protocol}, **changes), make.schedule(
        [make.placed(protocol, make.at(9, 3))]
    )


@pytest.mark.parametrize(("most", "paper"), [(3, "a4"), (5, "a4"), (8, "a4"), (3, "letter"), (8, "letter")])
def test_twenty_blocks_fit_on_two_pages(make, most, paper):
    study, schedule = made(make, twenty_blocks(make, most))
    visit = schedule.visits[0]
    assert sum(a.manoeuvre is not None for a in visit.activities) == 20
    assert pages(run_sheet(study, schedule, visit, paper=paper)) == 2


def test_one_block_takes_one_page(make):
    step = Step("before", "Measures", measure=("fvc",))
    study, schedule = made(make, make.rowing_protocol(visit=(step,), priority=()))
    assert pages(run_sheet(study, schedule, schedule.visits[0])) == 1


@pytest.mark.parametrize("most", [3, 8])
def test_what_is_read_while_working_is_twelve_points_at_least(make, most):
    study, schedule = made(make, twenty_blocks(make, most))
    fitted = fitted_run_sheet(study, schedule, schedule.visits[0])
    for needle in (
        "Finish when",
        "operator K1",
        "min after",
        "chest pain",
        "A participant who is unwell",
        "Say:",
    ):
        sizes = sizes_of(fitted.pdf, needle)
        assert sizes, needle
        assert min(sizes) >= 12, needle


def test_the_code_is_28_points_and_times_are_14(one_day):
    study, schedule = one_day
    pdf = run_sheet(study, schedule, schedule.visits[0])
    assert max(sizes_of(pdf, "ROW-07")) == 28
    assert max(sizes_of(pdf, "09:03")) == 14


def test_the_band_says_who_what_when_and_which_plan(one_day):
    study, schedule = one_day
    words = words_of(run_sheet(study, schedule, schedule.visits[0]))
    for text in ("ROW-07", "rowing 2", "Monday 1 March 2027", "Arrival 09:03", "plan 3", "2027-02-20 14:05"):
        assert text in words


def test_every_page_has_code_page_number_and_footer(make):
    study, schedule = made(make, twenty_blocks(make, 5))
    for number, page in enumerate(read(run_sheet(study, schedule, schedule.visits[0])).pages, 1):
        text = " ".join(page.extract_text().split())
        assert "ROW-07 · rowing 2" in text
        assert f"page {number} of 2" in text
        assert "follow local rules; a licensed person decides" in text
        assert "paper stays valid if the app stops" in text


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_nothing_of_a_blind_condition_is_in_the_file(make, paper):
    protocol = make.rowing_protocol(title="Rowing", cautions=())
    study, schedule = made(make, protocol, blind=True)
    visit = replace(schedule.visits[0], condition="secret condition")
    pdf = run_sheet(study, replace(schedule, visits=(visit,)), visit, paper=paper)
    assert "secret" not in words_of(pdf)
    assert b"secret" not in pdf
    assert "secret" not in repr(run_sheet_values(study, schedule, visit))


def test_an_open_condition_is_named(make):
    study, schedule = made(make, make.rowing_protocol(), blind=False)
    assert "rowing 2: cold air" in words_of(run_sheet(study, schedule, schedule.visits[0]))


def test_on_site_blanks_and_the_warning(one_day):
    study, schedule = one_day
    values = run_sheet_values(study, schedule, schedule.visits[0])
    assert values["site-missing"].startswith("Write all of these in")
    some = replace(study, on_site={"person in charge": "K1", "emergency number": "112"})
    values = run_sheet_values(some, schedule, schedule.visits[0])
    assert values["site-missing"].endswith("nearest defibrillator, oxygen and reliever inhaler.")
    words = words_of(run_sheet(some, schedule, schedule.visits[0]))
    assert "Emergency number: 112" in words
    assert "Has the responsible person cleared this participant today?" in words


def test_stop_if_is_a_sum_for_a_person_and_decides_nothing(one_day):
    study, schedule = one_day
    words = words_of(run_sheet(study, schedule, schedule.visits[0]))
    assert "Stop. Ask the responsible person." in words
    assert "Forced vital capacity: if FEV1 falls below 80 % of its first value: first × 80 % = L" in words


def test_care_on_the_sheet(one_day):
    study, schedule = one_day
    words = words_of(run_sheet(study, schedule, schedule.visits[0]))
    for text in (
        "heart attack within 1 week",
        "eardrum, hernia",
        "the participant asks",
        "May leave: name",
        "Initials",
    ):
        assert text in words
    assert words.count("Keep the participant in sight") == 1


def test_what_to_leave_out(make):
    protocol = make.rowing_protocol()
    assert short_of_time(protocol) == "Short of time: leave out MEP rather than FVC (Measures after rowing)."
    three = replace(protocol, priority=("after/fvc-after", "after/mep", "before"))
    assert short_of_time(three) == (
        "Short of time: leave out the last of these first: FVC, MEP (Measures after rowing), Measures before rowing."  # noqa: E501
    )
    assert short_of_time(replace(protocol, priority=("after",))) == (
        "Short of time: keep Measures after rowing; leave out the rest first."
    )
    assert "ask the person in charge" in short_of_time(replace(protocol, priority=()))


def test_rests_are_named_once(make):
    protocol = make.rowing_protocol()
    assert rests_words(protocol).replace("\u00a0", " ") == "Rest between efforts, at least: 30 s."
    known = {**protocol.manoeuvres, "mep": make.mep(rest_s=60)}
    words = rests_words(replace(protocol, manoeuvres=known)).replace("\u00a0", " ")
    assert words.endswith("Forced vital capacity 30 s, Maximal expiratory pressure 1 min.")


def test_short_names_in_the_rows_are_told_once_with_the_titles_that_the_page_shows(one_day):
    study, schedule = one_day
    words = words_of(run_sheet(study, schedule, schedule.visits[0]))
    for short, title in (("FVC", "Forced vital capacity"), ("MEP", "Maximal expiratory pressure")):
        assert f"{short} efforts" in words
        assert words.count(f"{short}: {title}") == 1


@pytest.mark.parametrize("most", [5, 8])
def test_what_a_reading_is_called_lies_over_no_other_line(make, most):
    """On the tightest sheet a reading's unit stood below it, and pushed it into the row above."""
    study, schedule = made(make, twenty_blocks(make, most))
    found = fitted_run_sheet(study, schedule, schedule.visits[0])
    assert found.level >= 3
    text = "\n".join(page.extract_text() for page in read(found.pdf).pages)
    assert "MEP cmH2O" in text.replace("\u00a0", " ")
    assert not re.search(r"MEP\s*\n\s*cmH2O", text)


def test_no_effort_has_a_grade_or_a_colour(one_day):
    """Black on white only: no colour operator of the page sets anything but grey."""
    study, schedule = one_day
    for page in read(run_sheet(study, schedule, schedule.visits[0])).pages:
        content = page.get_contents().get_data()
        for line in content.split(b"\n"):
            parts = line.split()
            if parts and parts[-1] in (b"rg", b"RG", b"scn", b"SCN") and len(parts) == 4:
                assert len(set(parts[:3])) == 1, line


def test_the_longest_names_still_fit_on_two_pages(make):
    long = "Blowing out against a closed tube with a hand on both cheeks"
    protocol = make.rowing_protocol(cautions=tuple(f"Caution {n} as long as they come" for n in range(10)))
    protocol = replace(
        protocol,
        manoeuvres={k: replace(m, title=long) for k, m in protocol.manoeuvres.items()},
        visit=tuple(replace(s, title=(s.id + " " + long)[:60]) for s in protocol.visit),
    )
    code = "PARTICIPANT-WITH-A-CODE-OF-FORTY-LETTERS"
    study = make.study({protocol.file: protocol}, participants=(code,))
    schedule = make.schedule([make.placed(protocol, make.at(9), participant=code)])
    pdf = run_sheet(study, schedule, schedule.visits[0])
    assert pages(pdf) == 2
    assert code in words_of(pdf).replace("- ", "-")


def test_a_page_count_that_is_not_there_is_said():
    with pytest.raises(ValueError, match="how many pages"):
        pages(b"%PDF")


def test_times_are_cut_not_rounded(make):
    step = Step("wait", "Waiting", takes=Length(59, 59, 59))
    protocol = make.rowing_protocol(visit=(step,), priority=())
    study, schedule = made(make, protocol)
    assert run_sheet_values(study, schedule, schedule.visits[0])["end"] == "planned end 09:03"
