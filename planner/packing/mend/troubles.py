"""What went otherwise than planned on a running day."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

Span = tuple[str, datetime, datetime]  # a rig or a person, from, to


@dataclass(frozen=True, slots=True)
class Troubles:
    """What went, or is known to go, otherwise than planned; nothing of it by default.

    `late`: participant -> whole minutes after the planned start. `ended`: (participant, step) -> the
    step's real end, which may lie ahead as expected. `cancelled`: participants who do not come (a
    no-show is the same). `out_of_use`, `absent`: (rig, from, to) and (person, from, to).
    """

    late: Mapping[str, int] = field(default_factory=dict)
    ended: Mapping[tuple[str, str], datetime] = field(default_factory=dict)
    cancelled: tuple[str, ...] = ()
    out_of_use: tuple[Span, ...] = ()
    absent: tuple[Span, ...] = ()

    @property
    def are_none(self) -> bool:
        """Whether nothing is wrong."""
        return not (self.late or self.ended or self.cancelled or self.out_of_use or self.absent)
