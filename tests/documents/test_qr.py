"""The code on a sheet says who, which visit and which plan, and is read back by another program."""

import shutil
import subprocess

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.documents.qr import Code, code_svg, code_text, read_code


def test_a_code_reads_back():
    assert read_code(code_text("ROW-07", "rowing-2", 3)) == Code("ROW-07", "rowing-2", 3)
    assert read_code("  testday:1:ROW-07:rowing-2:3\n") == Code("ROW-07", "rowing-2", 3)


IDENTIFIERS = st.from_regex(r"[A-Za-z0-9][A-Za-z0-9_-]{0,39}", fullmatch=True)


@given(IDENTIFIERS, IDENTIFIERS, st.integers(0, 10**9 - 1))
def test_every_code_reads_back_to_what_it_was_made_of(participant, visit, version):
    assert read_code(code_text(participant, visit, version)) == Code(participant, visit, version)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "ROW-07",
        "testday:2:ROW-07:rowing-2:3",
        "testday:1:ROW 07:rowing-2:3",
        "testday:1:R:v:x",
        "testday:1:R:v:1:1",
    ],
)
def test_other_texts_are_refused_with_an_example(text):
    with pytest.raises(ValueError, match="testday:1:ROW-07:rowing-2:3"):
        read_code(text)


def test_the_picture_is_an_svg():
    assert code_svg("testday:1:ROW-07:rowing-2:3").startswith("<svg ")


@pytest.mark.skipif(
    not (shutil.which("zbarimg") and shutil.which("pdftoppm")),
    reason="apt-get install zbar-tools poppler-utils",
)
def test_a_scanner_reads_the_printed_sheet(one_day, tmp_path):
    from planner.documents.run_sheet import run_sheet

    study, schedule = one_day
    (tmp_path / "sheet.pdf").write_bytes(run_sheet(study, schedule, schedule.visits[0]))
    page = tmp_path / "page"
    subprocess.run(
        ["pdftoppm", "-r", "100", "-gray", "-png", "-f", "1", "-l", "1", tmp_path / "sheet.pdf", page],
        check=True,
    )
    picture = next(tmp_path.glob("page*.png"))
    read = subprocess.run(
        ["zbarimg", "--quiet", "--raw", picture], check=True, capture_output=True, text=True
    )
    assert read_code(read.stdout) == Code("ROW-07", "rowing-2", 3)
