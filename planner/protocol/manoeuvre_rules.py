"""Rules within one manoeuvre: numbers of efforts, the stop rule, units of readings."""

from __future__ import annotations

from functools import partial

from planner.protocol import values
from planner.protocol.nearest import nearest
from planner.protocol.seen import Seen, efforts_of

NONE: frozenset[str] = frozenset()


def check_manoeuvre(name: str, manoeuvre: Seen, taken: frozenset[str] = NONE, *, whole: bool = True) -> None:
    """Note every broken rule of one manoeuvre.

    `taken` are its keys that come from another one by `like`; `whole` is False where its `like`
    leads nowhere, so that what it lacks is not told.
    """
    _check_efforts(name, manoeuvre, whole=whole)
    if whole or manoeuvre.has("readings"):
        for line in manoeuvre.get("enough").items():
            _check_enough(line, manoeuvre, taken)
        for line in manoeuvre.get("stop_if").items():
            _check_stop_if(line, manoeuvre, taken)
    for _, written in manoeuvre.get("readings").entries():
        _check_reading(written)


def _check_efforts(name: str, manoeuvre: Seen, *, whole: bool) -> None:
    if manoeuvre.get("effort").seconds == 0:
        manoeuvre.get("effort").fault("no-time", "an effort takes some time")
    if (efforts := efforts_of(manoeuvre)) is None:
        return
    least, most = efforts
    if least > most:
        words = f"at_least {least} is more than at_most {most}"
        manoeuvre.get("efforts").get("at_least").fault("efforts-order", words)
    if whole and most > 1 and not manoeuvre.has("rest"):
        words = f"the manoeuvre {name!r} has up to {most} efforts but no `rest` between them"
        manoeuvre.key_fault("missing-rest", words, "Write for example rest: 30 s")


def _own(line: Seen, manoeuvre: Seen, key: str, taken: frozenset[str]) -> Seen:
    """Where a clash between a line and another key is to be mended: at what this manoeuvre itself writes."""
    return manoeuvre.get(key) if line.path[2] in taken and key not in taken else line


def _check_enough(line: Seen, manoeuvre: Seen, taken: frozenset[str]) -> None:
    if not isinstance(line.node, dict):
        return
    kinds = [kind for kind in ("largest", "any") if line.has(kind)]
    if not kinds:
        line.key_fault("missing-key", "the line needs `largest` or `any`", "Write for example largest: 2")
    if len(kinds) == 2:
        line.get("any").key_fault("largest-and-any", "a line has `largest` or `any`, not both")
    for kind in kinds:
        _check_count(line.get(kind), manoeuvre, taken)
    _check_within(line, manoeuvre, taken)


def _check_count(count: Seen, manoeuvre: Seen, taken: frozenset[str]) -> None:
    efforts, number = efforts_of(manoeuvre), count.number
    if number is None:
        return
    if number < 2:
        count.fault("enough-count", f"{number} value alone cannot agree; two or more can")
    elif efforts and number > max(efforts):
        words = f"`enough` asks for {number} values, but at_most is {max(efforts)}"
        _own(count, manoeuvre, "efforts", taken).fault("enough-count", words)


def _check_within(line: Seen, manoeuvre: Seen, taken: frozenset[str]) -> None:
    reading = _reading_of(line, manoeuvre, taken)
    if reading is None:
        return
    name = line.get("reading").text
    for key in ("typical", "spread"):
        if not reading.has(key):
            words = f"`enough` names {name!r}, so {name!r} needs `{key}`"
            reading.key_fault(f"missing-{key}", words)
    within = line.get("within")
    for one in within.get("greater_of").items() if isinstance(within.node, dict) else [within]:
        _check_unit(one, reading, percent=True, told=_own(one, manoeuvre, "readings", taken))


def _reading_of(line: Seen, manoeuvre: Seen, taken: frozenset[str]) -> Seen | None:
    """The reading that a line names; a name that leads nowhere is a fault."""
    name = line.get("reading").read(values.label)
    readings = manoeuvre.get("readings")
    if name is None:
        return None
    if not readings.has(name):
        told = _own(line.get("reading"), manoeuvre, "readings", taken)
        names = (reading for reading, _ in readings.entries())
        hint = partial(nearest, name, names, "reading")
        told.fault("unknown-reading", f"there is no reading {name!r}.", hint)
        return None
    return readings.get(name)


def _check_reading(reading: Seen) -> None:
    _check_unit(reading.get("typical"), reading, percent=False)
    _check_unit(reading.get("spread"), reading, percent=True)


def _check_unit(amount: Seen, reading: Seen, *, percent: bool, told: Seen | None = None) -> None:
    found, unit = amount.quantity, reading.get("unit").read(values.unit)
    if found is None or unit is None or found.unit == unit or (percent and found.is_percent):
        return
    words = f"the unit is {found.unit!r}, but the reading's unit is {unit!r}"
    (told or amount).fault("unit", words, "Units are compared letter for letter; nothing is converted.")


def _check_stop_if(line: Seen, manoeuvre: Seen, taken: frozenset[str]) -> None:
    reading = _reading_of(line, manoeuvre, taken)
    if reading is not None:
        amount = line.get("falls_below")
        _check_unit(amount, reading, percent=True, told=_own(amount, manoeuvre, "readings", taken))
