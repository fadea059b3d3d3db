"""The rule for when to finish as a small ruler: each value a mark, the width they may differ by a bracket."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal

import altair as alt

from planner.documents.picture import PAGE_INK, page_axis
from planner.protocol.agreement import allowed, line_state, plain
from planner.protocol.model import EnoughLine, Manoeuvre

Efforts = Sequence[Mapping[str, Decimal]]


def strip_chart(manoeuvre: Manoeuvre, line: EnoughLine, efforts: Efforts) -> alt.LayerChart:
    """Values of the line's reading by size; filled marks lie inside the bracket, hollow ones outside."""
    low, high = bracket(line, efforts)
    values = [
        {"value": float(size), "effort": str(number), "inside": low <= size <= high}
        for number, size in _sizes(line, efforts)
    ]
    unit = manoeuvre.readings[line.reading].unit
    spread = max(float(high - low), 1e-9)
    sizes = [float(size) for _, size in _sizes(line, efforts)]
    domain = [min([*sizes, float(low)]) - 0.3 * spread, max([*sizes, float(high)]) + 0.3 * spread]
    x = alt.X(
        "value:Q",
        title=f"{line.reading}, {unit}",
        scale=alt.Scale(domain=domain, nice=False),
        axis=page_axis(tickCount=6),
    )
    base = alt.Chart(alt.Data(values=values)).encode(x=x)
    edges = alt.Chart(
        alt.Data(values=[{"value": float(low), "edge": "["}, {"value": float(high), "edge": "]"}])
    ).encode(x=x)
    ink = alt.value(PAGE_INK)
    return alt.layer(
        edges.mark_text(fontSize=34, fontWeight="bold").encode(text="edge:N", color=ink),
        base.transform_filter("datum.inside").mark_point(size=160, filled=True, opacity=1).encode(
            color=ink, tooltip=["effort:N", "value:Q"]
        ),
        base.transform_filter("!datum.inside").mark_point(size=160, filled=False, strokeWidth=2).encode(
            color=ink, tooltip=["effort:N", "value:Q"]
        ),
        base.mark_text(dy=-18, fontSize=13).encode(text="effort:N", color=ink),
    ).properties(height=70)  # fmt: skip


def strip_words(manoeuvre: Manoeuvre, line: EnoughLine, efforts: Efforts) -> str:
    """What the strip shows, for eyes that can't use it."""
    unit = manoeuvre.readings[line.reading].unit
    sizes = ", ".join(f"effort {n} {plain(size)}" for n, size in _sizes(line, efforts))
    low, high = bracket(line, efforts)
    state = line_state(line, efforts)
    which = f"the {line.count} largest" if line.kind == "largest" else f"any {line.count}"
    held = "they do" if state.holds else "not yet"
    return (
        f"{line.reading} in {unit}: {sizes}. {which.capitalize()} must lie within "
        f"{plain(high - low)} {unit} of each other ({plain(low)} to {plain(high)}): {held}."
    )


def bracket(line: EnoughLine, efforts: Efforts) -> tuple[Decimal, Decimal]:
    """From the largest value that counts down to the smallest that still agrees with it."""
    sizes = sorted((size for _, size in _sizes(line, efforts)), reverse=True)
    top = 0
    if line.kind == "any" and len(sizes) >= line.count:
        ends = range(len(sizes) - line.count + 1)
        top = min(ends, key=lambda i: sizes[i] - sizes[i + line.count - 1] - allowed(line, sizes[i]))
    return sizes[top] - allowed(line, sizes[top]), sizes[top]


def _sizes(line: EnoughLine, efforts: Efforts) -> list[tuple[int, Decimal]]:
    """Effort number and magnitude of each acceptable value."""
    return [(n, abs(one[line.reading])) for n, one in enumerate(efforts, 1) if line.reading in one]
