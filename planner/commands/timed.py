"""The timed plan of one visit in words, for the terminal."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from planner.clock import duration_words

Document = Mapping[str, Any]


def timed_words(found: Document) -> str:
    """Length, parts of the visit in order, numbers of efforts and burden, a line each."""
    return "\n".join(
        [
            f"{found['protocol']} {found['version']}: {_lengths(found['length_s'])}",
            "",
            f"{'starts':>9} {'ends':>9}  what",
            *(_part(part) for part in _in_order(found)),
            "",
            *(_efforts(name, efforts) for name, efforts in found["efforts"].items()),
            *burden_lines(found["burden"]),
        ]
    )


def _lengths(length_s: Document) -> str:
    words = {name: duration_words(seconds) for name, seconds in length_s.items()}
    return (
        f"half of all visits take {words['p50']} or less, 8 of 10 {words['p80']}, 9 of 10 {words['p90']}; "
        f"shortest {words['shortest']}, longest {words['longest']}"
    )


def _in_order(found: Document) -> list[Document]:
    return sorted([*found["blocks"], *found["tasks"]], key=lambda part: (part["start_s"], -part["end_s"]))


def _clock(seconds: int) -> str:
    return f"{seconds // 3600}:{seconds // 60 % 60:02}:{seconds % 60:02}"


def _part(part: Document) -> str:
    what = part["step"]
    if part["at_s"] is not None:
        what += f" at {duration_words(part['at_s'])}"
    if part.get("manoeuvre"):
        what += f": {part['manoeuvre']}, {part['planned_efforts']} efforts planned"
    if part["chance_on_time"] is not None:
        what += f", on time in {part['chance_on_time'] * 100:.1f} of 100 simulated visits"
    return f"{_clock(part['start_s']):>9} {_clock(part['end_s']):>9}  {what}"


def _efforts(name: str, efforts: Document) -> str:
    done = ", ".join(f"by effort {n} {share * 100:.1f} %" for n, share in efforts["chance_done_by"].items())
    words = f"{name}: {efforts['mean']:.2f} efforts on average"
    if not done:
        return words
    lost = efforts["chance_without_agreement"] * 100
    return f"{words}; close enough {done}; most efforts reached and still too far apart {lost:.1f} %"


def burden_lines(burden: Document) -> list[str]:
    """Efforts and times, least, expected and most, a line each."""
    lines = []
    for name, span in burden.items():
        if name == "visits":
            continue
        least, expected, most = span["least"], span["expected"], span["most"]
        if name == "waiting_s":  # of the shortest and of the longest visit: who is quick may wait longer
            words = f"{_clock(least)} in the shortest visit, {_clock(round(expected))} on average"
            lines.append(f"waiting: {words}, {_clock(most)} in the longest visit")
        elif name.endswith("_s"):
            words = f"least {_clock(least)}, expected {_clock(round(expected))}, most {_clock(most)}"
            lines.append(f"{name.removesuffix('_s')}: {words}")
        else:
            lines.append(f"maximal {name}: least {least}, expected {expected:.1f}, most {most}")
    return lines
