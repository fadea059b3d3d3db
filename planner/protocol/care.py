"""Warnings that care for people: nobody left alone, devices cleaned, nobody named."""

from __future__ import annotations

import re
from itertools import zip_longest

from planner.protocol.seen import Seen, measured
from planner.protocol.values import true_or_false

_BORN = r"(?:19\d\d|200\d|201[0-5])"  # later dates are more likely a version's
# What looks like a person rather than a part of a protocol.
_PERSONAL = (
    ("an e-mail address", re.compile(r"\b[\w.+-]{1,64}@[\w-]{1,64}\.[A-Za-z]{2,}")),
    ("a date of birth", re.compile(rf"\b(?:\d{{1,2}}[./]\d{{1,2}}[./]{_BORN}|{_BORN}-\d\d-\d\d)\b")),
    ("a telephone number", re.compile(r"(?<!\w)(?:\+\d{1,3}|0\d{2,4})[ /()-]{1,3}\d{2,}[ \d/()-]{2,15}\d")),
    ("a person's name", re.compile(r"\b(?:Mrs?|Ms|Miss|Dr|Prof)\.? [A-Z][a-z]+")),
    (
        "an address",
        re.compile(
            r"\b\d{1,4},? [A-Z][a-z]+ (?:Street|St|Road|Rd|Avenue|Ave|Lane|Drive|Way)\b"
            r"|\b[A-Z][a-zäöüß]+(?:straße|strasse|gata|gate|vei) \d{1,4}\b"
        ),
    ),
)


MOST_LETTERS = 2000  # of a text that is looked through


def looks_personal(text: str) -> str | None:
    """What a text seems to hold of a person, in words, or None."""
    return next((what for what, pattern in _PERSONAL if pattern.search(text[:MOST_LETTERS])), None)


def check_care(root: Seen, steps: list[Seen]) -> None:
    """Note the warnings of a protocol."""
    manoeuvres = dict(root.get("manoeuvres").entries())
    for step in steps:
        if step.get("exercise").read(true_or_false):
            _check_bout(step)
    _check_clearing(steps, manoeuvres)
    _check_unused(steps, manoeuvres)
    for text in _texts(root, steps, manoeuvres):
        if text.text and (what := looks_personal(text.text)):
            words = f"this looks like {what}"
            text.warn("personal", words, "Protocols and codes name no person; write a role or a code.")


def _check_bout(step: Seen) -> None:
    name = step.get("id").text or "bout"
    if not step.has("watch"):
        words = f"nobody stays with the participant after {name!r}"
        step.warn("nobody-watches", words, "Write for example watch: {staff: lead, for: 15 min}")
    takes = step.get("takes")
    unknown = isinstance(takes.node, dict) and takes.get("shortest").seconds != takes.get("longest").seconds
    if unknown and len(step.get("staff").items()) < 2:
        words = f"{name!r} goes on for a time that nobody knows beforehand, with fewer than two people"
        step.warn("too-few-people", words, "Name a second role in `staff`.")


def _check_clearing(steps: list[Seen], manoeuvres: dict[str, Seen]) -> None:
    """A rig that the next participant uses is cleaned first: one warning for each manoeuvre or step."""
    told: set[str] = set()
    for number, step in enumerate(steps):
        own = _classes(step)
        lists: list[tuple[Seen, set[str]]] = [(step.get("measure"), set())]
        lists += [(one.get("measure"), own) for one in step.get("during").items()]
        for measure, served in lists:
            for name, rig in _left_dirty(measure, manoeuvres):
                if rig not in served and name not in told:
                    told.add(name)
                    _warn_dirty(manoeuvres[name], name, rig)
        if own and not step.has("clear") and not own <= _kept_on(number, steps):
            _warn_dirty(step, step.get("id").text or "the step", sorted(own)[0])


def _left_dirty(measure: Seen, manoeuvres: dict[str, Seen]) -> list[tuple[str, str]]:
    """Manoeuvre and class of rig where a run of blocks ends on a rig without clearing."""
    names = [one.text for one in measure.items() if one.text in manoeuvres]
    found = []
    for name, later in zip_longest(names, names[1:]):
        kept = _classes(manoeuvres[later]) if later else set()
        one = manoeuvres[name or ""]
        if not one.has("clear"):
            found += [(name or "", rig) for rig in sorted(_classes(one) - kept)]
    return found


def _kept_on(number: int, steps: list[Seen]) -> set[str]:
    """Classes of rig that the next step goes on with, joined by `starts_within: 0 s`."""
    later = steps[number + 1] if number + 1 < len(steps) else None
    return _classes(later) if later and later.get("starts_within").seconds == 0 else set()


def _classes(owner: Seen) -> set[str]:
    return {one.text for one in owner.get("rig").items() if one.text}


def _warn_dirty(owner: Seen, name: str, rig: str) -> None:
    words = f"the {rig} is not cleared after {name!r}, and the next participant uses it"
    owner.warn("no-clearing", words, "Write for example clear: 2 min")


def _check_unused(steps: list[Seen], manoeuvres: dict[str, Seen]) -> None:
    used = {one.text for step in steps for measure in measured(step) for one in measure.items()}
    used |= {one.get("like").text for one in manoeuvres.values()}
    for name, one in manoeuvres.items():
        if name not in used:
            one.warn("unused-manoeuvre", f"no part of the visit measures {name!r}")


def _texts(root: Seen, steps: list[Seen], manoeuvres: dict[str, Seen]) -> list[Seen]:
    """What a person wrote for people to read."""
    owners = [root, *manoeuvres.values(), *steps]
    return [root.get("name"), *root.get("cautions").items()] + [owner.get("title") for owner in owners]
