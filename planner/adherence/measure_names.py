"""What people call a measure: its title, and where in the visit, if several go by that title."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from planner.protocol.model import Protocol
from planner.study.model import Study

Key = tuple[str, str]  # the protocol's file, the manoeuvre's short name


def measure_names(study: Study) -> dict[Key, str]:
    """A name for each manoeuvre of each protocol: `Forced vital capacity (Measures after rowing)`.

    The place is left out where the title stands for one manoeuvre only, in however many protocols.
    """
    meant: dict[str, set[str]] = defaultdict(set)
    for protocol in study.protocols.values():
        for manoeuvre in protocol.manoeuvres.values():
            meant[manoeuvre.title].add(manoeuvre.id)
    return {
        (file, manoeuvre.id): _name(protocol, manoeuvre.id, is_one=len(meant[manoeuvre.title]) == 1)
        for file, protocol in study.protocols.items()
        for manoeuvre in protocol.manoeuvres.values()
    }


def _name(protocol: Protocol, manoeuvre: str, *, is_one: bool) -> str:
    title = protocol.manoeuvres[manoeuvre].title
    places = " and ".join(dict.fromkeys(_places(protocol, manoeuvre)))
    return title if is_one or not places else f"{title} ({places})"


def _places(protocol: Protocol, manoeuvre: str) -> Iterator[str]:
    for step in protocol.visit:
        if manoeuvre in step.measure or any(manoeuvre in part.measure for part in step.during):
            yield step.title
