"""The visits that one participant makes, as rows and columns of the ethics text, with what is computed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields
from typing import NamedTuple

from planner.clock import DaySpan
from planner.documents.rule_words import joined
from planner.documents.texts import say
from planner.protocol.model import Protocol
from planner.study.model import Study
from planner.timing.burden import Burden, burden
from planner.timing.lay_out import lay_out
from planner.timing.plan import VisitPlan


class AskedVisit(NamedTuple):
    """One visit as the study describes it: its name for readers, its group ("" for all) and its protocol."""

    kind: str
    name: str
    group: str
    protocol: Protocol
    gap: DaySpan | None


class Figures(NamedTuple):
    """The visits of one participant; of each protocol (by its file) its burden, and its visit as planned."""

    study: Study
    visits: tuple[AskedVisit, ...]
    burdens: dict[str, Burden]
    plans: dict[str, VisitPlan]

    @property
    def protocols(self) -> tuple[Protocol, ...]:
        """Each protocol once, in the order of the visits."""
        return tuple({visit.protocol.file: visit.protocol for visit in self.visits}.values())

    def burden_of(self, visit: AskedVisit) -> Burden:
        """The burden of that visit."""
        return self.burdens[visit.protocol.file]


def figures(study: Study) -> Figures:
    """Everything computed once; simulated with the study's seed, planned with its share."""
    visits = asked_visits(study)
    protocols = {visit.protocol.file: visit.protocol for visit in visits}
    return Figures(
        study,
        visits,
        {file: burden(protocol, seed=study.seed) for file, protocol in protocols.items()},
        {file: lay_out(protocol, study.plan_on) for file, protocol in protocols.items()},
    )


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
            protocol = study.protocols[visit.protocol]
            line = AskedVisit(visit.kind, name, group if by_group else "", protocol, visit.gap)
            found.setdefault((line.name, line.group), line)
    return tuple(found.values())


def label(visit: AskedVisit) -> str:
    """The name, with its group where groups differ."""
    return f"{visit.name} ({visit.group})" if visit.group else visit.name


def visits_of(visits: Sequence[AskedVisit], protocol: Protocol) -> str:
    """Which visits follow that protocol: `rowing`, where all of that kind do, else each by its name."""
    own = [visit for visit in visits if visit.protocol.file == protocol.file]
    others = {visit.kind for visit in visits if visit.protocol.file != protocol.file}
    return joined(list(dict.fromkeys(label(v) if v.kind in others else v.kind for v in own)))


def groups_of(study: Study, visits: Sequence[AskedVisit]) -> tuple[str, ...]:
    """The groups of the study where their visits differ; one empty name where they do not."""
    if not any(visit.group for visit in visits):
        return ("",)
    return tuple(sorted(set(study.groups.values())))


def visits_in(visits: Sequence[AskedVisit], group: str) -> list[AskedVisit]:
    """The visits of one participant of that group."""
    return [visit for visit in visits if visit.group in ("", group)]


def group_words(group: str) -> str:
    """` (training)`, or nothing."""
    return say("ethics.burden_group", group=group) if group else ""


def whole_burdens(found: Figures) -> dict[str, Burden]:
    """For each group the burden of all visits of one participant."""
    return {
        group: _sum([found.burden_of(visit) for visit in visits_in(found.visits, group)])
        for group in groups_of(found.study, found.visits)
    }


def _sum(burdens: Sequence[Burden]) -> Burden:
    first, *others = burdens
    spans = {field.name: getattr(first, field.name) for field in fields(Burden)}
    for other in others:
        spans = {name: span.plus(getattr(other, name)) for name, span in spans.items()}
    return Burden(**spans)
