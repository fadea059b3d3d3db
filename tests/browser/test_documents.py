"""The Documents page as a committee member reads it: nothing cut, the same address opens the same paper."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from playwright.sync_api import expect

pytestmark = pytest.mark.browser
# How many pixels of each table lie beyond what its place shows.
CUT = """() => [...document.querySelectorAll('[data-testid="stTable"]')].map(place => {
  const table = place.querySelector("table").getBoundingClientRect();
  let seen = innerWidth;
  for (let e = place.querySelector("table").parentElement; e; e = e.parentElement)
    if (getComputedStyle(e).overflowX !== "visible") seen = Math.min(seen, e.getBoundingClientRect().right);
  return Math.max(0, Math.round(table.right - seen));
})"""


@pytest.mark.parametrize("width", [768, 1280])
def test_no_table_of_the_ethics_text_is_cut(demo_app, station, picture, width: int):
    page = station(demo_app.page("documents", "kind=ethics"), width=width)
    expect(page.get_by_role("heading", name="In short")).to_be_visible()
    page.evaluate("settled()")
    cut = page.evaluate(CUT)
    assert len(cut) >= 4
    assert set(cut) == {0}
    picture(page, f"documents-ethics-{width}")


def test_the_ethics_text_comes_as_pages_too(demo_app, station, tmp_path: Path):
    page = station(demo_app.page("documents", "kind=ethics&paper=letter"))
    with page.expect_download() as coming:
        page.get_by_role("button", name="Download ethics-text.pdf").click()
    assert coming.value.suggested_filename == "ethics-text.pdf"
    coming.value.save_as(tmp_path / "ethics.pdf")
    assert (tmp_path / "ethics.pdf").read_bytes().startswith(b"%PDF")


def test_what_is_looked_at_is_there_again_after_a_reload(demo_app, station):
    page = station(demo_app.page("documents"))
    page.get_by_text("Ethics text", exact=True).click()
    expect(page).to_have_url(re.compile("kind=ethics"))
    page.reload()
    expect(page.get_by_role("heading", name="In short")).to_be_visible()
