"""PDFs: tagged, every font embedded, the same bytes again, any text printed as text."""

import io
from dataclasses import replace

import pypdf
import pytest

from planner.documents.run_sheet import run_sheet


def pdf_of(study, schedule, paper="a4"):
    return run_sheet(study, schedule, schedule.visits[0], paper=paper)


def read(pdf):
    return pypdf.PdfReader(io.BytesIO(pdf))


def text_of(pdf):
    return "\n".join(page.extract_text() for page in read(pdf).pages)


def with_title(make, title):
    """A study whose only manoeuvre bears that title."""
    protocol = make.rowing_protocol()
    named = {
        key: replace(m, title=title, readings={}, enough=(), stop_if=())
        for key, m in protocol.manoeuvres.items()
    }
    protocol = replace(protocol, manoeuvres=named)
    return make.study({protocol.file: protocol}), make.schedule([make.placed(protocol, make.at(9))])


def test_the_same_plan_gives_the_same_bytes(one_day):
    assert pdf_of(*one_day) == pdf_of(*one_day)


def test_it_is_tagged_and_names_its_language_and_title(one_day):
    root = read(pdf_of(*one_day)).trailer["/Root"]
    assert bool(root["/MarkInfo"]["/Marked"])
    assert root["/Lang"] == "en-GB"
    assert read(pdf_of(*one_day)).metadata.title == "Run sheet ROW-07, rowing 2, Monday 1 March 2027"


def test_every_font_is_embedded(one_day):
    found = {}
    for page in read(pdf_of(*one_day)).pages:
        for font in page["/Resources"]["/Font"].values():
            for inner in font.get_object().get("/DescendantFonts", [font]):
                described = inner.get_object()["/FontDescriptor"]
                found[described["/FontName"]] = any(key.startswith("/FontFile") for key in described)
    assert found
    assert all(found.values())
    ours = ("NotoSans-SemiCondensed", "DejaVuSansCondensed", "Unifont")
    assert all(name.split("+")[-1].startswith(ours) for name in found)


@pytest.mark.parametrize(("paper", "size"), [("a4", (595, 842)), ("letter", (612, 792))])
def test_both_papers(one_day, paper, size):
    box = read(pdf_of(*one_day, paper=paper)).pages[0].mediabox
    assert (round(box.width), round(box.height)) == size


@pytest.mark.parametrize(
    "title",
    [
        "Ångström Øvre Żółć",
        "Ανάσα",
        "Дыхание",
        "נשימה",
        "სუნთქვა",
        "Շնչառություն",
        "呼吸测试",
        "호흡",
        "こきゅう",
    ],
)
def test_letters_of_many_scripts_print_from_our_own_faces(make, title):
    """Printed within the archive standard, which refuses a letter without a glyph."""
    pdf = pdf_of(*with_title(make, title))
    assert b"pdfaid" in pdf
    text = text_of(pdf).replace("\u200f", "")
    assert (
        title in text or title[::-1] in text
    )  # right-to-left letters are stored in the order they are drawn


def test_a_letter_that_no_face_holds_does_not_stop_the_sheet(make):
    assert len(read(pdf_of(*with_title(make, "sign \U00013000\U000e0fff"))).pages) >= 1


def test_markup_in_a_text_prints_as_text(make):
    title = '<*_#evil() $x$ [_ \\ "q" @ref'
    assert "#evil() $x$" in text_of(pdf_of(*with_title(make, title)))
