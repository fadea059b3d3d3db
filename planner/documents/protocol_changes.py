"""What changed between two versions of a protocol, in the words of its file, for an amendment."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, is_dataclass
from decimal import Decimal
from typing import Any

from planner.clock import duration_words
from planner.documents.texts import say
from planner.protocol.model import Protocol, Step
from planner.quantity import Quantity


@dataclass(frozen=True, slots=True)
class ProtocolChange:
    """One difference: where, and what stood and stands there (None: it was not, or is no more, there)."""

    where: str
    before: str | None
    after: str | None

    def __str__(self) -> str:
        if self.before is None:
            return say("change.added", where=self.where)
        if self.after is None:
            return say("change.removed", where=self.where)
        return say("change.was", where=self.where, before=self.before, after=self.after)


def changes(old: Protocol, new: Protocol) -> tuple[ProtocolChange, ...]:
    """Every difference in what a protocol asks; comments and the order of keys are none."""
    return tuple(_changes(old, new))


def _changes(old: Protocol, new: Protocol) -> Iterator[ProtocolChange]:
    head = say("change.protocol")
    for name in ("name", "title", "version", "cautions", "priority", "preparation", "source"):
        yield from _compared(f"{head}, {name}", getattr(old, name), getattr(new, name))
    yield from _named("change.manoeuvre", dict(old.manoeuvres.items()), dict(new.manoeuvres.items()))
    before, after = _steps(old), _steps(new)
    common = [name for name in before if name in after]
    order = [name for name in after if name in before]
    if common != order:
        yield ProtocolChange(say("change.order_of_parts"), ", ".join(common), ", ".join(order))
    yield from _named("change.step", before, after)


def _steps(protocol: Protocol) -> dict[str, Step]:
    return {step.id: step for step in protocol.visit}


def _named(key: str, before: Mapping[str, Any], after: Mapping[str, Any]) -> Iterator[ProtocolChange]:
    for name in [*before, *(n for n in after if n not in before)]:
        where = say(key, name=name)
        if name not in after:
            yield ProtocolChange(where, name, None)
        elif name not in before:
            yield ProtocolChange(where, None, name)
        else:
            yield from _compared(where, before[name], after[name])


def _compared(where: str, before: Any, after: Any) -> Iterator[ProtocolChange]:
    """The difference itself, or those of the parts where both have the same parts."""
    if before == after:
        return
    if is_dataclass(before) and type(before) is type(after) and not isinstance(before, Quantity):
        for field in fields(before):
            inner = f"{where}, {_key(field.name)}"
            yield from _compared(inner, getattr(before, field.name), getattr(after, field.name))
    elif isinstance(before, Mapping) and isinstance(after, Mapping):
        for name in [*before, *(n for n in after if n not in before)]:
            yield from _compared(f"{where} {name}", before.get(name), after.get(name))
    elif _are_parts(before, after):
        for number, (one, other) in enumerate(zip(before, after, strict=True), 1):
            yield from _compared(f"{where} {number}", one, other)
    else:
        yield ProtocolChange(where, _words(where, before), _words(where, after))


def _are_parts(before: Any, after: Any) -> bool:
    both = isinstance(before, tuple) and isinstance(after, tuple) and len(before) == len(after)
    return both and all(is_dataclass(part) and not isinstance(part, Quantity) for part in (*before, *after))


def _key(name: str) -> str:
    """The field as the protocol's file names it."""
    return name.removesuffix("_s").replace("_", " ")


def _words(where: str, value: Any) -> str:
    """The value as a person writes it; seconds as durations."""
    if value is None or value == () or value == "":
        return say("change.none")
    if isinstance(value, bool):
        return say("change.yes") if value else say("change.no")
    if isinstance(value, int) and where.rsplit(", ", 1)[-1] not in _COUNTS:
        return duration_words(value)
    if isinstance(value, str | int | float | Decimal | Quantity):
        return str(value)
    if isinstance(value, tuple | list):
        return "; ".join(_words(where, part) for part in value)
    if is_dataclass(value):
        parts = [(f.name, getattr(value, f.name)) for f in fields(value)]
        return ", ".join(
            f"{_key(name)} {_words(f', {_key(name)}', part)}"
            for name, part in parts
            if part not in (None, (), "")
        )
    if isinstance(value, Mapping):
        return "; ".join(f"{name}: {_words(where, part)}" for name, part in value.items())
    return str(value)


_COUNTS = {"at least", "at most", "count", "over"}
