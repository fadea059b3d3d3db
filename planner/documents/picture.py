"""A picture in black on white, with its words and its data; saved as SVG, PNG and PDF."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Mapping, Sequence
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
    dressed = (
        chart.properties(description=words)
        .configure(font=FACE, background="white")
        .configure_axis(
            labelFontSize=11,
            titleFontSize=12,
            titleFontWeight="normal",
            gridColor="#dddddd",
            domainColor=INK,
            tickColor=INK,
            labelColor=INK,
            titleColor=INK,
            labelExpr=PLAIN_MINUS,
        )
        .configure_header(labelFontSize=11, labelColor=INK, labelFontWeight="bold", labelPadding=2)
        .configure_view(stroke=None)
        .configure_point(opacity=1)
        .configure_facet(spacing=8)
    )
    return Picture(name, title, words, dressed.to_dict(), tuple(rows))
