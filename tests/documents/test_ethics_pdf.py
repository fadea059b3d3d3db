"""The ethics text as pages: what the text document says, and nothing cut."""

import io
import re

import docx
import pypdfium2
import pytest

from planner.documents.ethics import ethics_text
from planner.documents.ethics_pdf import ethics_pdf
from planner.protocol.model import Step


def words(text):
    """In the order in which they stand, whatever line they are on."""
    return re.sub(r"\s+", "", text.replace("\u00ad", "").replace("\u2010", "-").replace("\ufffe", "-"))


def pages_of(pdf):
    document = pypdfium2.PdfDocument(pdf)
    return [(page.get_size(), page.get_textpage().get_text_range()) for page in document]


def pieces_of(content):
    """Each paragraph, and each cell of each table, of the text document."""
    document = docx.Document(io.BytesIO(content))
    yield from (paragraph.text for paragraph in document.paragraphs)
    for table in document.tables:
        yield from (cell.text for row in table.rows for cell in row.cells)


@pytest.mark.parametrize(("paper", "size"), [("a4", (842, 595)), ("letter", (792, 612))])
def test_it_says_all_that_the_text_document_says(both, paper, size):
    pages = pages_of(ethics_pdf(*both, paper=paper))
    assert {tuple(map(round, on)) for on, _ in pages} == {size}
    foot = re.compile(r"Timing and burden of the measurements\s+plan 1.*page \d+ of \d+", re.DOTALL)
    said = words("\n".join(foot.sub("", text) for _, text in pages))
    pieces = [words(piece) for piece in pieces_of(ethics_text(*both))]
    assert len(pieces) > 100
    assert [piece for piece in pieces if piece and piece not in said] == []


def test_a_number_that_changes_in_the_study_changes_on_the_pages(make):
    for efforts in (2, 7):
        fvc = make.manoeuvre(at_least=efforts, at_most=efforts, enough=(), readings={})
        steps = (Step("before", "Measures", measure=("fvc",)),)
        protocol = make.rowing_protocol(visit=steps, priority=(), manoeuvres={"fvc": fvc})
        study = make.study({protocol.file: protocol})
        pdf = ethics_pdf(study, make.schedule([make.placed(protocol, make.at(9))]))
        assert words(f": {efforts} maximal efforts. It takes") in words("".join(t for _, t in pages_of(pdf)))


def test_the_same_study_prints_the_same_bytes(both):
    assert ethics_pdf(*both) == ethics_pdf(*both)
