"""What the record has taught, handed to timing and packing; made by adherence, owned here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Estimate:
    """An assumed value, the one learned by shrinkage towards it, and the number of observations behind it.

    `drawn` are equally likely values that stand for how it varies, the assumption among them; their
    mean is `learned`. Without them simulations take it as `learned` each time.
    """

    assumed: float
    learned: float
    observations: int
    drawn: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Learned:
    """Learned values, by protocol name first. What is missing stays as the protocol assumes.

    `spread`: (protocol, manoeuvre, reading) -> SD of one effort, in the reading's unit. `prepare_s`,
    `effort_s`, `rest_s`, `clear_s`: (protocol, manoeuvre) -> seconds. `bout_s`: (protocol, step) ->
    mean seconds. `delay_s`: (protocol, step) -> seconds that the step starts later than it could.
    `late_s`: (protocol, step) -> seconds by which what is due begins later than it was due and could
    (earlier: minus); a plan aims at the time that is written all the same.
    """

    spread: Mapping[tuple[str, str, str], Estimate] = field(default_factory=dict)
    prepare_s: Mapping[tuple[str, str], Estimate] = field(default_factory=dict)
    effort_s: Mapping[tuple[str, str], Estimate] = field(default_factory=dict)
    rest_s: Mapping[tuple[str, str], Estimate] = field(default_factory=dict)
    clear_s: Mapping[tuple[str, str], Estimate] = field(default_factory=dict)
    bout_s: Mapping[tuple[str, str], Estimate] = field(default_factory=dict)
    delay_s: Mapping[tuple[str, str], Estimate] = field(default_factory=dict)
    late_s: Mapping[tuple[str, str], Estimate] = field(default_factory=dict)
