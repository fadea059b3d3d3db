"""What looks like a person is warned of, and never repeated."""

import pytest

from planner.study.privacy import looks_like, speaks_of


@pytest.mark.parametrize(
    "code", ["ROW-07", "K2", "P001", "T1", "A-12", "row_7", "20271", "S3b", "KA", "Q02", "P-0412"]
)
def test_a_code_is_a_code(code):
    assert looks_like(code) is None


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("Anna", "a name"), ("Anna-Maria", "a name"), ("AnnaBerg", "a name"), ("anna_berg", "a name"),
        ("19851203", "a birth date"), ("1985-12-03", "a birth date"), ("P19851203", "a birth date"),
        ("03121985", "a birth date"),
        ("someone@example.org", "an address"), ("5551234567", "an address"),
    ],
)  # fmt: skip
def test_what_looks_like_a_person(text, what):
    assert looks_like(text) == what


def test_warnings_name_the_line_and_never_the_content(folder):
    folder.write("participants.csv", "participant,e-mail\nAnna,anna@example.org\nROW-02,\n")
    folder.replace("availability.csv", "ROW-02,mon-fri", "Anna,mon-fri")
    warnings = [one for one in folder.study().warnings if one.code == "personal"]
    assert {(one.place.file, one.place.line) for one in warnings} == {
        ("participants.csv", 1),
        ("participants.csv", 2),
        ("availability.csv", 2),
    }
    assert not any("nna" in str(one) for one in warnings)


def test_a_list_of_names_is_told_of_ten_times_at_most(folder):
    names = "\n".join(f"Anna{'abcdefghijklmnopqrstuvwxyz'[i]}" for i in range(26))
    folder.write("participants.csv", f"participant\nROW-02\n{names}\n")
    assert len([one for one in folder.study().warnings if one.code == "personal"]) == 10


@pytest.mark.parametrize(
    ("note", "what"),
    [
        ("coughed once, drank water", None),
        ("effort 3 leaked, mouthpiece changed at 09:42", None),
        ("told Anna Example to wait", "a name"),
        ("called Dr. Example", "a name"),
        ("born in May", "a name"),
        ("date of birth 1985-12-03", "a birth date"),
        ("write to anna@example.org", "an address"),
    ],
)
def test_what_a_note_speaks_of(note, what):
    assert speaks_of(note) == what
