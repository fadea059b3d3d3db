"""The summary in plain sentences."""

from __future__ import annotations

from typing import Any

from planner.adherence.as_json import summary
from planner.adherence.model import Adherence, AsPlanned, Presence
from planner.adherence.scores import Score, Scores
from planner.adherence.shares import Share

_MOST_NOTES = 20  # in words; the document holds all


def summary_words(found: Adherence) -> str:
    """A line each: time points, efforts, rests, when blocks ended, visits, deviations, notes."""
    made_up = ["dry run with made-up numbers"] if found.rehearsed else []
    notes = [*note_lines(found)[:_MOST_NOTES], *_more_notes(len(found.notes))]
    return "\n".join([*made_up, *summary_lines(found), *notes])


def summary_lines(found: Adherence) -> list[str]:
    """The counts and shares, a sentence each, the time points first."""
    numbers = summary(found)
    return [
        _points(numbers["time_points"]),
        _efforts(numbers["efforts"]),
        *_refused_rows(found),
        _rests(numbers["rests"]),
        _stop_rule(numbers["stop_rule"]),
        _served("Measures on the planned device", found.rigs),
        *([] if found.staff is None else [_staff(found.staff)]),
        _visits(found),
        f"Deviations: {len(found.deviations)}, of them important {_important(found)}.",
    ]


def note_lines(found: Adherence) -> list[str]:
    """What of the record somebody should look at, a line each."""
    return [f"{note.kind}: {_whose(found, note.key)}{note.words}" for note in found.notes]


def _more_notes(count: int) -> list[str]:
    return [f"and {count - _MOST_NOTES} notes more"] if count > _MOST_NOTES else []


def _points(counts: dict[str, Any]) -> str:
    share = Share(counts["on_time"], counts["of"])
    missed = f"{counts['early']} early, {counts['late']} late, {counts['never_measured']} never measured"
    left_out = (
        f"not judged: {counts['no_anchor']} with no recorded moment to count from, "
        f"{counts['stopped']} after a stop"
    )
    return f"Time points on time: {share.words()}; {missed}; {left_out}."


def _efforts(counts: dict[str, int]) -> str:
    parts = " + ".join(f"{counts[name]} {name}" for name in ("matched", "extra", "refused"))
    sums = f"{counts['recorded']} recorded = {parts}"
    return f"Efforts: {sums}; {counts['planned']} planned, {counts['missing']} missing."


def _refused_rows(found: Adherence) -> list[str]:
    if not found.refused_rows:
        return []
    return [f"Rows refused when taken in: {found.refused_rows}, in none of these counts."]


def _rests(counts: dict[str, Any]) -> str:
    shortest = "" if counts["shortest_s"] is None else f"; the shortest was {counts['shortest_s']} s"
    return f"Rests not cut short: {Share(counts['kept'], counts['of']).words()}{shortest}."


def _stop_rule(counts: dict[str, Any]) -> str:
    ends = (
        "as_soon_as_it_held",
        "too_early",
        "too_late",
        "without_agreement",
        "visit_stopped",
        "no_readings",
    )
    parts = [f"{counts[end]} {end.replace('_', ' ')}" for end in ends]
    return f"When measures with a rule to finish ended: {', '.join(parts)}."


def _served(what: str, counts: AsPlanned) -> str:
    untold = f"{counts.not_recorded} not recorded"
    return f"{what}: {counts.share.words() if counts.share.of else 'none to judge'}; {untold}."


def _staff(counts: AsPlanned) -> str:
    served = _served("Measures by the planned people", counts)
    untold = " Lines from a file, and those that nobody signed for, do not tell who served."
    return served + (untold if counts.not_recorded else "")


def _visits(found: Adherence) -> str:
    parts = [f"{sum(v.presence is kind for v in found.visits)} {kind}" for kind in Presence]
    return f"Visits: {'; '.join(parts)}."


def _important(found: Adherence) -> int:
    return sum(deviation.important for deviation in found.deviations)


def _whose(found: Adherence, key: Any) -> str:
    if key is None:
        return ""
    return f"{key.participant}, {found.visit_name(key, None)}: "


def scores_words(found: Scores) -> str:
    """Were the forecasts better after learning? On visits that taught nothing, in two or three sentences."""
    if found.before.points == 0 and found.before.visits == 0:
        return "No later visits to judge the forecasts by."
    head = f"Learned from {found.taught_by} earlier visits, judged on {found.after.visits} later ones."
    return " ".join([head, *_better(found.before, found.after)])


def _better(before: Score, after: Score) -> list[str]:
    sentences = []
    if before.brier is not None and after.brier is not None:
        sentences.append(
            f"Chances to be on time were off by {before.brier:.3f} as assumed and {after.brier:.3f} "
            f"as learned (Brier score of {before.points} time points; 0 is best)."
        )
    if before.pinball_s is not None and after.pinball_s is not None:
        sentences.append(
            f"Lengths of visits were off by {before.pinball_s:.0f} s as assumed and {after.pinball_s:.0f} s "
            "as learned (pinball score; 0 is best)."
        )
    return sentences
