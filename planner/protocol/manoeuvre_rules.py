"""Rules within one manoeuvre: numbers of efforts, the stop rule, units of readings."""

from __future__ import annotations

from planner.protocol import values
from planner.protocol.nearest import nearest
from planner.protocol.seen import Seen, efforts_of


def check_manoeuvre(name: str, manoeuvre: Seen) -> None:
    """Note every broken rule of one manoeuvre, keys taken by `like` included."""
    _check_efforts(name, manoeuvre)
    for line in manoeuvre.get("enough").items():
        _check_enough(line, manoeuvre)
    for reading, written in manoeuvre.get("readings").entries():
        _check_reading(reading, written)
    for line in manoeuvre.get("stop_if").items():
        _check_stop_if(line, manoeuvre)


def _check_efforts(name: str, manoeuvre: Seen) -> None:
    if manoeuvre.get("effort").seconds == 0:
        manoeuvre.get("effort").fault("no-time", "an effort takes some time")
    if (efforts := efforts_of(manoeuvre)) is None:
        return
    least, most = efforts
    if least > most:
        words = f"at_least {least} is more than at_most {most}"
        manoeuvre.get("efforts").get("at_least").fault("efforts-order", words)
    if most > 1 and not manoeuvre.has("rest"):
        words = f"the manoeuvre {name!r} has up to {most} efforts but no `rest` between them"
        manoeuvre.key_fault("missing-rest", words, "Write for example rest: 30 s")


def _check_enough(line: Seen, manoeuvre: Seen) -> None:
    if not isinstance(line.node, dict):
        return
    kinds = [kind for kind in ("largest", "any") if line.has(kind)]
    if not kinds:
        line.key_fault("missing-key", "the line needs `largest` or `any`", "Write for example largest: 2")
    if len(kinds) == 2:
        line.get("any").key_fault("largest-and-any", "a line has `largest` or `any`, not both")
    for kind in kinds:
        _check_count(line.get(kind), manoeuvre)
    _check_within(line, manoeuvre)


def _check_count(count: Seen, manoeuvre: Seen) -> None:
    efforts, number = efforts_of(manoeuvre), count.number
    if number is None:
        return
    if number < 2:
        count.fault("enough-count", f"{number} value alone cannot agree; two or more can")
    elif efforts and number > max(efforts):
        words = f"the line asks for {number} values, but there are at most {max(efforts)} efforts"
        count.fault("enough-count", words)


def _check_within(line: Seen, manoeuvre: Seen) -> None:
    reading = _reading_of(line, manoeuvre)
    if reading is None:
        return
    name = line.get("reading").text
    for key in ("typical", "spread"):
        if not reading.has(key):
            words = f"the stop rule names {name!r}, so {name!r} needs `{key}`"
            reading.key_fault("missing-key", words)
    within = line.get("within")
    for one in within.get("greater_of").items() if isinstance(within.node, dict) else [within]:
        _check_unit(one, reading, percent=True)


def _reading_of(line: Seen, manoeuvre: Seen) -> Seen | None:
    """The reading that a line names; a name that leads nowhere is a fault."""
    name = line.get("reading").read(values.label)
    readings = dict(manoeuvre.get("readings").entries())
    if name is None:
        return None
    if name not in readings:
        hint = nearest(name, list(readings), "the reading")
        line.get("reading").fault("unknown-reading", f"there is no reading {name!r}.", hint)
        return None
    return readings[name]


def _check_reading(name: str, reading: Seen) -> None:
    _check_unit(reading.get("typical"), reading, percent=reading.get("unit").text == "%")
    _check_unit(reading.get("spread"), reading, percent=True)


def _check_unit(amount: Seen, reading: Seen, *, percent: bool) -> None:
    found, unit = amount.quantity, reading.get("unit").text
    if found is None or unit is None or found.unit == unit or (percent and found.is_percent):
        return
    words = f"the unit is {found.unit!r}, but the reading's unit is {unit!r}"
    amount.fault("unit", words, "Units are compared letter for letter; nothing is converted.")


def _check_stop_if(line: Seen, manoeuvre: Seen) -> None:
    reading = _reading_of(line, manoeuvre)
    if reading is not None:
        _check_unit(line.get("falls_below"), reading, percent=True)
