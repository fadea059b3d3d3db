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
    missed = _those({name: counts[name.replace(" ", "_")] for name in ("early", "late", "never measured")})
    left_out = _those(
        {"with no recorded moment to count from": counts["no_anchor"], "after a stop": counts["stopped"]}
    )
    parts = [f"Not on time: {missed}."] if missed else []
    parts += [f"Not judged: {left_out}."] if left_out else []
    return " ".join([f"Time points on time: {share.words()}.", *parts])


def _those(counts: dict[str, int]) -> str:
    """`2 early, 1 late`: what there is; what there is none of is not said."""
    return ", ".join(f"{count} {name}" for name, count in counts.items() if count)


def _efforts(counts: dict[str, int]) -> str:
    odd = _those({"beyond the most allowed": counts["extra"], "refused": counts["refused"]})
    missing = f"{counts['missing'] or 'none'} missing"
    planned = f"The plan has {counts['planned']}; a measure ends sooner or later, when its efforts agree"
    return f"Efforts: {counts['recorded']} recorded{f' ({odd})' if odd else ''}, {missing}. {planned}."


def _refused_rows(found: Adherence) -> list[str]:
    if not found.refused_rows:
        return []
    return [f"Rows refused when taken in: {found.refused_rows}, in none of these counts."]


def _rests(counts: dict[str, Any]) -> str:
    shortest = "" if counts["shortest_s"] is None else f"; the shortest was {counts['shortest_s']} s"
    return f"Rests not cut short: {Share(counts['kept'], counts['of']).words()}{shortest}."


def _stop_rule(counts: dict[str, Any]) -> str:
    ends = {
        "as_soon_as_it_held": "as soon as the efforts agreed",
        "too_early": "before they agreed",
        "too_late": "later than they agreed",
        "without_agreement": "with the most efforts made and still too far apart",
        "visit_stopped": "because the visit was stopped",
        "no_readings": "without readings to judge by",
    }
    parts = _those({words: counts[end] for end, words in ends.items()}) or "none to judge"
    return f"When measures with a rule to finish ended: {parts}."


def _served(what: str, counts: AsPlanned) -> str:
    untold = f"{counts.not_recorded} not recorded"
    judged = counts.share.words() if counts.share.of else "none to judge"
    return f"{what}: {judged}{f'; {untold}' if counts.not_recorded else ''}."


def _staff(counts: AsPlanned) -> str:
    served = _served("Measures by the planned people", counts)
    untold = " Lines from a file, and those that nobody signed for, do not tell who served."
    return served + (untold if counts.not_recorded else "")


def _visits(found: Adherence) -> str:
    parts = _those({str(kind): sum(v.presence is kind for v in found.visits) for kind in Presence})
    return f"Visits: {parts or 'none'}."


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
