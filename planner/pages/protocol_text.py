"""A protocol's text to what the page shows of it: the protocol, its faults, and which field each is about."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal

import streamlit as st

from planner.faults import Fault, Faults, FaultyInput, Place
from planner.files import MOST_YAML_BYTES, KeyPath, Node, yaml_tree
from planner.pages.protocol_fields import Field
from planner.protocol.model import Protocol
from planner.protocol.read import protocol_of
from planner.timing.check import timing_warnings
from planner.timing.forecast import Forecast, forecast
from planner.timing.lay_out import cannot_be_kept
from planner.timing.network import contradictions
from planner.timing.suggest import Suggestion, suggest

_ERROR = 0.003  # of a chance, for a picture that answers at once


@dataclass(frozen=True, slots=True)
class Found:
    """What was read: `protocol` also where it is contradictory, `value` also where it has faults."""

    value: Node = None
    protocol: Protocol | None = None
    faults: tuple[Fault, ...] = ()
    warnings: tuple[Fault, ...] = ()
    at: Mapping[tuple[int, int], KeyPath] = field(default_factory=dict)

    def about(self, path: KeyPath) -> list[Fault]:
        """The faults and warnings that lie at that path or below it."""
        found = []
        for fault in (*self.faults, *self.warnings):
            where = self.at.get((fault.place.line, fault.place.column))
            if where is not None and where[: len(path)] == path:
                found.append(fault)
        return found

    def item_of(self, fault: Fault) -> KeyPath:
        """The part of the visit or the manoeuvre that a mistake is about; empty where it is the whole."""
        path = self.at.get((fault.place.line, fault.place.column), ())
        known = self.value.get(str(path[0])) if path and isinstance(self.value, dict) else None
        is_item = len(path) > 1 and path[0] in ("visit", "manoeuvres")
        return path[:2] if is_item and (isinstance(known, list) or path[1] in (known or ())) else ()

    def of_field(self, item: KeyPath, one: Field) -> list[Fault]:
        """Those about one field of an item; a missing key is the matter of the field that would hold it."""
        here = [*item, *one.path]
        found = []
        for fault in self.about(item):
            where = self.at[(fault.place.line, fault.place.column)]
            lacks = fault.code == "missing-key" and f"'{one.path[-1]}'" in fault.message
            is_short = len(where) == len(item) + 1 and where[-1:] == one.path[:1]
            if lacks or list(where[: len(here)]) == here or (is_short and fault.code != "missing-key"):
                found.append(fault)
        return found


@st.cache_resource(max_entries=32, show_spinner=False)
def read_text(text: str, file: str) -> Found:
    """What that text says, with every fault; `file` is its name in messages."""
    faults = Faults()
    if len(text.encode("utf-8", "replace")) > MOST_YAML_BYTES:
        return Found(faults=(Fault(Place(file), "too-big", "the text is larger than 1 MB"),))
    tree = yaml_tree(text, file, faults)
    if tree is None:
        return Found(faults=tuple(faults.faults), warnings=tuple(faults.warnings))
    at = {(place.line, place.column): path for path, place in tree.places.items()}
    at |= {(place.line, place.column): path for path, place in tree.values.items() if path}
    try:
        protocol = protocol_of(tree, faults)
    except FaultyInput as error:
        return Found(tree.value, None, error.faults, error.warnings, at)
    against = contradictions(protocol)
    warnings = protocol.warnings if against else (*protocol.warnings, *timing_warnings(protocol))
    return Found(tree.value, protocol, against, warnings, at)


@st.cache_resource(max_entries=32, show_spinner=False)
def ahead(text: str, file: str, share: int) -> Forecast | None:
    """The protocol's plan with its chances; None where there is no plan."""
    found = read_text(text, file)
    if found.protocol is None or found.faults:
        return None
    return forecast(found.protocol, Decimal(share) / 100, error=_ERROR)


def kept_fault(plan: Forecast) -> Fault | None:
    """Why the plan's own lengths cannot be kept, if they cannot."""
    return cannot_be_kept(plan.plan)


@st.cache_resource(max_entries=16, show_spinner=False)
def suggestions(text: str, file: str, chance: int) -> tuple[Suggestion, ...]:
    """What would mend the time points that are too often missed."""
    found = read_text(text, file)
    return () if found.protocol is None else suggest(found.protocol, chance=chance / 100)


def as_node(value: object) -> Node:
    """A suggested value as it stands in a file."""
    if isinstance(value, Mapping):
        return {str(key): as_node(item) for key, item in value.items()}
    return (
        [as_node(item) for item in value]
        if isinstance(value, Sequence) and not isinstance(value, str)
        else str(value)
    )
