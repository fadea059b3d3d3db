"""A picture in black on white, with its words and its data; saved as SVG, PNG and PDF."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import altair as alt
import vl_convert

from planner.record.efforts_file import safe

FONTS = Path(__file__).parent / "fonts"
FACE = "Noto Sans"
Row = Mapping[str, Any]
INK = "#000000"
PAGE_INK = "currentColor"  # black on a light page, white on a dark one
PLAIN_MINUS = "replace(datum.label, '\\u2212', '-')"  # the shipped face has no other


@dataclass(frozen=True)
class Picture:
    """A drawing (Vega-Lite), its title, the words that stand in for it, and the rows it was drawn from."""

    name: str
    title: str
    words: str
    spec: Mapping[str, Any]
    rows: tuple[Row, ...]

    def svg(self) -> str:
        """The drawing for a page or a paper."""
        _faces()
        return str(vl_convert.vegalite_to_svg(json.dumps(self.spec)))

    def png(self) -> bytes:
        """The drawing at 200 dots an inch."""
        _faces()
        return bytes(vl_convert.vegalite_to_png(json.dumps(self.spec), ppi=200))

    def pdf(self) -> bytes:
        """The drawing with its face embedded."""
        _faces()
        return bytes(vl_convert.vegalite_to_pdf(json.dumps(self.spec)))

    def data(self) -> str:
        """The rows as CSV; text that a spreadsheet would take for a formula gets an apostrophe."""
        out = io.StringIO()
        columns = list(dict.fromkeys(column for row in self.rows for column in row))
        writer = csv.DictWriter(out, columns, lineterminator="\r\n")
        writer.writeheader()
        for row in self.rows:
            writer.writerow({k: safe(v) if isinstance(v, str) else v for k, v in row.items()})
        return out.getvalue()


@cache
def _faces() -> None:
    vl_convert.register_font_directory(str(FONTS))


def picture(name: str, title: str, words: str, chart: alt.TopLevelMixin, rows: Sequence[Row]) -> Picture:
    """The chart in the one face and ink of all pictures, with its words as its description."""
    return Picture(name, title, words, _dressed(chart.properties(description=words)).to_dict(), tuple(rows))


def screen_spec(
    draw: Callable[[], alt.TopLevelMixin], rows: Mapping[str, Sequence[Row]] | None = None
) -> str:
    """The drawing as JSON for a page, black on white like all pictures; `rows` are what its named data hold.

    Rows that are given apart cost nothing: the drawing is copied and looked through several times.
    It is not checked against the schema again, which would take most of the time; its marks have no names of
    their own for screen readers, since the words beneath it say what it shows.
    """
    with alt.utils.schemapi.debug_mode(False):
        spec = _dressed(draw()).to_dict(validate=False)
    spec["config"] |= _ON_SCREEN
    if rows is not None:
        spec["datasets"] = rows
    return json.dumps(spec)


def page_axis(**what: Any) -> alt.Axis:
    """An axis in the ink of the page: the grey that a page lends to axes is too pale (below 4.5 to 1)."""
    return alt.Axis(labelColor=PAGE_INK, titleColor=PAGE_INK, **what)


# A page lends its own colours to what names none, which in the dark would be white on white.
_ON_SCREEN: Mapping[str, Any] = {
    "aria": False,
    "font": f"{FACE}, Source Sans, sans-serif",
    "mark": {"aria": False},
    "legend": {"labelColor": INK, "titleColor": INK, "labelFontSize": 11},
    "title": {"color": INK},
    "text": {"color": INK},
}


def _dressed(chart: alt.TopLevelMixin) -> alt.TopLevelMixin:
    """The one face and ink of all pictures; in one step, since each copies the whole picture."""
    return chart.configure(
        font=FACE,
        background="white",
        axis=alt.AxisConfig(
            labelFontSize=11,
            titleFontSize=12,
            titleFontWeight="normal",
            gridColor="#dddddd",
            domainColor=INK,
            tickColor=INK,
            labelColor=INK,
            titleColor=INK,
            labelExpr=PLAIN_MINUS,
        ),
        header=alt.HeaderConfig(labelFontSize=11, labelColor=INK, labelFontWeight="bold", labelPadding=2),
        view=alt.ViewConfig(stroke=None),
        point=alt.MarkConfig(opacity=1),
        facet=alt.CompositionConfig(spacing=8),
    )
