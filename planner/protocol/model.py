"""The frozen nouns of a protocol: manoeuvre, effort count, step, window.

Whoever holds a `Protocol` may rely on every rule of the formats: names resolve, units fit, windows
are ordered. Seconds are whole numbers; `places` leads from a path of keys, such as
`("visit", 3, "due", "late")`, back to the line of the file.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from planner.faults import Fault, Place
from planner.quantity import Quantity

KeyPath = tuple[str | int, ...]


@dataclass(frozen=True, slots=True)
class Reading:
    """One value that an effort gives; `spread` is the SD of one effort, in `%` of typical or in `unit`."""

    name: str
    unit: str
    typical: Quantity | None = None
    spread: Quantity | None = None


@dataclass(frozen=True, slots=True)
class EnoughLine:
    """One line of the stop rule: `count` values of `reading` lie within the widest of `within`.

    `kind` "largest": the `count` largest acceptable values so far; "any": some `count` of them.
    """

    reading: str
    kind: Literal["largest", "any"]
    count: int
    within: tuple[Quantity, ...]


@dataclass(frozen=True, slots=True)
class StopIf:
    """A reason to stop and ask: a reading falls below a share (`%`) or amount of its first value."""

    reading: str
    falls_below: Quantity
    of: str = "first"


@dataclass(frozen=True, slots=True)
class Clearing:
    """How long the rig (and the people of these roles) stay busy after the last effort."""

    takes_s: int
    staff: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Learning:
    """Efforts grow over the first ones: effort i has the mean typical * (1 - gain * max(0, 1 - (i-1)/over)).

    `gain` is the share of `typical` by which the first effort falls short, `over` the number of
    efforts after which nothing more is gained.
    """

    gain: float
    over: int


@dataclass(frozen=True, slots=True)
class Manoeuvre:
    """An instructed action with its efforts; `like` is already resolved."""

    id: str
    title: str
    rigs: tuple[str, ...]  # classes of rig, one of each, together
    staff: tuple[str, ...]  # roles, one person each
    prepare_s: int
    effort_s: int
    rest_s: int
    at_least: int
    at_most: int
    enough: tuple[EnoughLine, ...]
    readings: Mapping[str, Reading]
    stop_if: tuple[StopIf, ...]
    clear: Clearing | None
    learning: Learning | None = None
    acceptable: float = 1.0  # share of efforts that are acceptable, as simulated
    say: tuple[str, ...] = ()  # what the technician says, in the laboratory's own words
    how: str = ""  # for the leaflet: how it is done
    feels: str = ""  # for the leaflet: what it feels like
    kit: tuple[str, ...] = ()  # single-use things for one person, such as a mouthpiece
    source: tuple[str, ...] = ()

    def length_s(self, efforts: int) -> int:
        """Seconds of a block with that many efforts, from the start of preparing to the last one's end."""
        return self.prepare_s + efforts * self.effort_s + (efforts - 1) * self.rest_s


@dataclass(frozen=True, slots=True)
class Length:
    """Seconds of a task or bout; the three differ only for a bout of unknown length."""

    about_s: int
    shortest_s: int
    longest_s: int

    @property
    def is_known(self) -> bool:
        """Whether there is one length only."""
        return self.shortest_s == self.longest_s


@dataclass(frozen=True, slots=True)
class TimePoint:
    """One time in `at`, with its window: on time within [at_s - early_s, at_s + late_s]."""

    at_s: int
    early_s: int
    late_s: int


@dataclass(frozen=True, slots=True)
class Due:
    """When a step's occurrences are due.

    side "after": seconds from the end (or, with anchored "start", the start) of step `anchor` to
    the first effort. side "before": from the end of the last effort to the start of `anchor`.
    Time points stand in the order in which they happen.
    """

    anchor: str
    side: Literal["after", "before"]
    anchored: Literal["end", "start"]
    time_points: tuple[TimePoint, ...]
    important: bool = False


@dataclass(frozen=True, slots=True)
class During:
    """Blocks that lie wholly inside a bout; time points count from its start."""

    measure: tuple[str, ...]
    time_points: tuple[TimePoint, ...]
    if_reached: bool = False
    important: bool = False


@dataclass(frozen=True, slots=True)
class Watch:
    """One person of each role stays with the participant this long from the end of the step."""

    staff: tuple[str, ...]
    for_s: int


@dataclass(frozen=True, slots=True)
class Step:
    """A part of the visit: exactly one of `takes` (a task or bout), `measure` (blocks), `rest_s`."""

    id: str
    title: str
    takes: Length | None = None
    measure: tuple[str, ...] = ()
    rest_s: int | None = None
    exercise: bool = False
    rigs: tuple[str, ...] = ()
    staff: tuple[str, ...] = ()
    clear: Clearing | None = None
    watch: Watch | None = None
    during: tuple[During, ...] = ()
    due: Due | None = None
    starts_within_s: int | None = None
    say: tuple[str, ...] = ()
    how: str = ""
    source: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Preparation:
    """What a participant brings, wears, or avoids before a visit (for `avoid`: for how long)."""

    kind: Literal["bring", "wear", "avoid", "stay away"]
    text: str
    for_s: int | None = None
    source: str = ""


@dataclass(frozen=True)
class Protocol:
    """What happens in one visit. Every rule of the formats holds, save that it may be contradictory.

    `priority` names what to keep when time runs short, as "step" or "step/manoeuvre", the most
    important first. `places` maps a path of keys in the file to its place.
    """

    name: str
    title: str
    version: str
    cautions: tuple[str, ...]
    manoeuvres: Mapping[str, Manoeuvre]
    visit: tuple[Step, ...]
    priority: tuple[str, ...] = ()
    preparation: tuple[Preparation, ...] = ()
    source: tuple[str, ...] = ()
    file: str = ""
    places: Mapping[KeyPath, Place] = field(default_factory=dict, compare=False, repr=False)
    warnings: tuple[Fault, ...] = field(default=(), compare=False, repr=False)

    def step(self, step_id: str) -> Step:
        """The step of that id; KeyError where there is none."""
        for step in self.visit:
            if step.id == step_id:
                return step
        raise KeyError(step_id)

    def place(self, *path: str | int) -> Place:
        """Where that path of keys stands in the file, or its nearest parent."""
        for end in range(len(path), -1, -1):
            if path[:end] in self.places:
                return self.places[path[:end]]
        return Place(self.file)

    def step_place(self, step_id: str, *path: str | int) -> Place:
        """The place of a step, or of a path of keys inside it."""
        number = [step.id for step in self.visit].index(step_id)
        return self.place("visit", number, *path)
