"""How many can we take? Places a day as found and as proven, by what is changed: picture, words, rows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import altair as alt

Line = Mapping[str, Any]  # change, found, at_most: as `testday pack --capacity --json` gives each line


def capacity_chart(lines: Sequence[Line]) -> alt.LayerChart:
    """A row for each change: a solid bar to what was found, a pale one to what cannot be exceeded."""
    order = [str(line["change"]) for line in lines]
    marks = [
        {"change": line["change"], "found": line["found"], "most": line["at_most"], "places": places(line)}
        for line in lines
    ]
    base = alt.Chart(alt.Data(values=marks)).encode(
        y=alt.Y(
            "change:N", title=None, sort=order, scale=alt.Scale(domain=order), axis=alt.Axis(labelLimit=320)
        ),
        tooltip=[alt.Tooltip("change:N"), alt.Tooltip("places:N")],
    )
    axis = alt.Axis(tickMinStep=1, format="d")
    found = base.mark_bar(color="#56B4E9", stroke="black").encode(
        x=alt.X("found:Q", title="Participants a day", axis=axis, scale=alt.Scale(domainMin=0))
    )
    open_end = base.mark_bar(color="#56B4E9", opacity=0.35).encode(x=alt.X("found:Q"), x2=alt.X2("most:Q"))
    names = base.mark_text(align="left", dx=5, fontWeight="bold", color="black").encode(
        x=alt.value(0),  # at the start of each bar: a bar of no length has no other end to write at
        text=alt.Text("places:N"),
    )
    return (open_end + found + names).properties(width="container", height=alt.Step(26))


def places(line: Line) -> str:
    """`9`, or `9 to 13` where more than 9 are not ruled out."""
    found, most = line["found"], line["at_most"]
    return str(found) if found == most else f"{found} to {most}"


def capacity_words(lines: Sequence[Line]) -> str:
    """What each change makes of the day, in sentences: `a second meter: 9 to 13 a day; ...`."""
    if not lines:
        return "There is no open day and no visit to count places for."
    base = lines[0]
    told = [f"{line['change']}: {_effect(line, base)}" for line in lines[1:]]
    return f"As it is: {places(base)} participants a day. " + "; ".join(told) + ("." if told else "")


def _effect(line: Line, base: Line) -> str:
    same = (line["found"], line["at_most"]) == (base["found"], base["at_most"])
    if same and base["found"] == base["at_most"]:
        return "nothing"
    return f"{places(line)} a day" + (", no difference found" if same else "")
