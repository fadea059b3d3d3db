"""The visits that one participant makes, as rows and columns of the ethics text, with their burden."""

from __future__ import annotations

from typing import NamedTuple

from planner.clock import DaySpan
from planner.protocol.model import Protocol
from planner.study.model import Study
from planner.timing.burden import Burden, burden, study_burden


class AskedVisit(NamedTuple):
    """One visit as the study describes it: its name for readers, its group ("" for all) and its protocol."""

    name: str
    group: str
    protocol: Protocol
    gap: DaySpan | None


def asked_visits(study: Study) -> tuple[AskedVisit, ...]:
    """A line for each visit of one participant; where protocols differ by condition or group, for each."""
    found: dict[tuple[str, str], AskedVisit] = {}
    for participant in study.participants:
        for visit in study.asked[participant]:
            kind = study.kind(visit.kind)
            group = study.groups.get(participant, "")
            by_group = group in kind.protocols
            by_condition = visit.condition is not None and visit.condition in kind.protocols
            name = visit.kind if visit.number is None else f"{visit.kind} {visit.number}"
            if by_condition:
                name = f"{visit.kind}, {visit.condition}"
            line = AskedVisit(name, group if by_group else "", study.protocols[visit.protocol], visit.gap)
            found.setdefault((line.name, line.group), line)
    return tuple(found.values())


def label(visit: AskedVisit) -> str:
    """The name, with its group where groups differ."""
    return f"{visit.name} ({visit.group})" if visit.group else visit.name


def groups_of(study: Study, visits: tuple[AskedVisit, ...]) -> tuple[str, ...]:
    """The groups of the study where their visits differ; one empty name where they do not."""
    if not any(visit.group for visit in visits):
        return ("",)
    return tuple(sorted(set(study.groups.values())))


def burdens(study: Study, visits: tuple[AskedVisit, ...]) -> tuple[Burden, ...]:
    """The burden of each visit, in their order; each protocol is simulated once, with the study's seed."""
    known: dict[str, Burden] = {}
    for visit in visits:
        if visit.protocol.file not in known:
            known[visit.protocol.file] = burden(visit.protocol, seed=study.seed)
    return tuple(known[visit.protocol.file] for visit in visits)


def whole_burdens(study: Study, visits: tuple[AskedVisit, ...]) -> dict[str, Burden]:
    """For each group the burden of all visits of one participant."""
    found = {}
    for group in groups_of(study, visits):
        own = [visit for visit in visits if visit.group in ("", group)]
        found[group] = study_burden([(visit.protocol, 1) for visit in own], seed=study.seed)
    return found
