"""When to finish a block, in words and as a sum to be done by hand."""

from __future__ import annotations

from itertools import groupby

from planner.documents.texts import lines, say
from planner.protocol.model import EnoughLine, Manoeuvre
from planner.quantity import Quantity


def number_words(count: int) -> str:
    """`two`, `three`; digits beyond ten."""
    words = lines("common.numbers")
    return words[count] if count < len(words) else str(count)


def joined(parts: list[str]) -> str:
    """`a, b and c`."""
    if len(parts) < 2:
        return "".join(parts)
    return f"{', '.join(parts[:-1])} {say('common.and')} {parts[-1]}"


def finish_words(manoeuvre: Manoeuvre) -> str:
    """Such as `Finish when the two largest FVC are within 0.150 L.`, or how many to make."""
    if manoeuvre.enough:
        return say("rule.finish", lines=rule_words(manoeuvre))
    if manoeuvre.at_most == 1:
        return say("rule.exactly_one")
    if manoeuvre.at_least == manoeuvre.at_most:
        return say("rule.exactly", count=number_words(manoeuvre.at_least))
    return say("rule.open", least=manoeuvre.at_least, most=manoeuvre.at_most)


def rule_words(manoeuvre: Manoeuvre) -> str:
    """Every line of the rule; readings that ask for the same are named together."""
    parts = []
    for group in _alike(manoeuvre):
        readings = joined([_values_words(line) for line in group])
        parts.append(say("rule.within", readings=readings, within=_within_words(group[0], "rule.wider")))
    return joined(parts)


def short_words(manoeuvre: Manoeuvre) -> str:
    """Rule and sum in one line, for crowded sheets: `Finish when … are within 0.150 L: FVC __ FEV1 __`."""
    if not manoeuvre.enough:
        return finish_words(manoeuvre)
    only = len(manoeuvre.readings) == 1
    return say("rule.short", lines=joined([_short(group, only=only) for group in _alike(manoeuvre)]))


def check_lines(manoeuvre: Manoeuvre) -> list[str]:
    """A sum to fill in by hand for each line of the rule: `two largest FVC: __ − __ = __`."""
    return [f"{_difference(line)}{_allowed(line)}" for line in manoeuvre.enough]


def _alike(manoeuvre: Manoeuvre) -> list[list[EnoughLine]]:
    """Neighbouring lines that differ in their reading only."""
    return [list(group) for _, group in groupby(manoeuvre.enough, key=lambda e: (e.kind, e.count, e.within))]


def _values_words(line: EnoughLine) -> str:
    key = "rule.largest" if line.kind == "largest" else "rule.any"
    return say(key, count=number_words(line.count), reading=line.reading)


def _within_words(line: EnoughLine, wider: str) -> str:
    parts = [
        say("rule.percent", percent=_amount(q)) if q.is_percent and wider == "rule.wider" else _amount(q)
        for q in sorted(line.within, key=lambda q: not q.is_percent)
    ]
    return parts[0] if len(parts) == 1 else say(wider, first=", ".join(parts[:-1]), second=parts[-1])


def _short(group: list[EnoughLine], *, only: bool) -> str:
    line = group[0]
    key = "rule.short_only" if only else "rule.short_reading"
    readings = " ".join(say(key, reading=each.reading) for each in group)
    values = {"allowed": _within_words(line, "rule.short_wider"), "readings": readings}
    key = "rule.short_any" if line.kind == "any" else "rule.short_largest"
    return say(key, count=number_words(line.count), **values)


def _amount(quantity: Quantity) -> str:
    return str(quantity).replace(" ", "\u00a0")


def _difference(line: EnoughLine) -> str:
    if line.kind == "any":
        return say("rule.check_any", reading=line.reading, count=number_words(line.count))
    if line.count == 2:
        return say("rule.check_next", reading=line.reading)
    return say("rule.check_nth", reading=line.reading, count=line.count)


def _allowed(line: EnoughLine) -> str:
    """Where a share is allowed, the blank for what it comes to; an amount stands in the rule already."""
    percents = [q for q in line.within if q.is_percent]
    if not percents:
        return ""
    return say("rule.allowed_percent", percent=_amount(max(percents, key=lambda q: q.value)))
