"""study.yaml as it was written: every key checked for its kind, every value parsed, nothing looked up."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, tzinfo
from decimal import Decimal
from typing import Annotated, Any, TypeVar

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, PlainValidator, model_validator

from planner.clock import ClockRange, DaySpan, clock_range, day, days, duration_s, zone
from planner.protocol.values import format_number, identifier, label, share, true_or_false, words

T = TypeVar("T")
_DAY_S = 86_400
MOST_SEED = 2**63 - 1


def _from_text(parse: Callable[[str], T]) -> PlainValidator:
    """Parses one written value; a list or mapping in its place is said to be one."""

    def read(value: object) -> T:
        if not isinstance(value, str):
            found = "a list" if isinstance(value, list) else "keys with values"
            raise ValueError(f"one value is expected here, and {found} was found")
        return parse(value)

    return PlainValidator(read)


def _listed(value: object) -> object:
    """A list of one may stand without brackets."""
    return [value] if isinstance(value, str) else value


def _whole(least: int, most: int) -> Callable[[str], int]:
    def read(text: str) -> int:
        if not (text.isascii() and text.isdecimal()) or len(text) > 20 or not least <= int(text) <= most:
            raise ValueError(f"{text!r} is not a whole number from {least} to {most}")
        return int(text)

    return read


def _whole_days(text: str) -> int:
    seconds = duration_s(text)
    if seconds % _DAY_S:
        raise ValueError(f"{text!r} is not a number of whole days; write it as '7 d'")
    return seconds // _DAY_S


def _some(text: str) -> int:
    if not (seconds := duration_s(text)):
        raise ValueError(f"{text!r} must be longer than nothing")
    return seconds


Identifier = Annotated[str, _from_text(identifier)]
Label = Annotated[str, _from_text(label)]
Labels = Annotated[list[Label], BeforeValidator(_listed)]
Seconds = Annotated[int, _from_text(duration_s)]
Days = Annotated[int, _from_text(_whole_days)]
Day = Annotated[date, _from_text(day)]
Dates = Annotated[frozenset[date] | frozenset[int], _from_text(days)]
Range = Annotated[ClockRange, _from_text(clock_range)]
Boolean = Annotated[bool, _from_text(true_or_false)]
Text = Annotated[str, _from_text(words)]
FileName = Text


class Strict(BaseModel):
    """A mapping whose keys are all known."""

    model_config = ConfigDict(extra="forbid", frozen=True, arbitrary_types_allowed=True)


class WrittenSpan(Strict):
    """`{at_least: 2 d, at_most: 21 d}`."""

    at_least: Days = 0
    at_most: Days | None = None

    @model_validator(mode="after")
    def _in_order(self) -> WrittenSpan:
        if self.at_most is not None and self.at_most < self.at_least:
            raise ValueError(f"at_most ({self.at_most} d) is less than at_least ({self.at_least} d)")
        return self

    def span(self) -> DaySpan:
        """The same as plain data."""
        return DaySpan(self.at_least, self.at_most)


def _one_for_all(value: object) -> object:
    """A protocol that stands alone is that of every condition and group."""
    return {"": value} if isinstance(value, str) else value


class WrittenVisit(Strict):
    """One line of `visits`."""

    id: Identifier
    protocol: Annotated[dict[str, Text], BeforeValidator(_one_for_all)]
    conditions: Labels = []
    order: Text | None = None
    blind: Boolean = False
    since_last: WrittenSpan | None = None
    between_conditions: WrittenSpan | None = None
    start: Range | None = None


class WrittenKeepSame(Strict):
    """Which classes of rig and roles stay the same."""

    within_visit: Labels = []
    across_visits: Labels = []


class WrittenFirstUse(Strict):
    """What is done with a rig before its first use of a day."""

    takes: Annotated[int, _from_text(_some)]
    staff: Labels = []


class WrittenDays(Strict):
    """The days of the study and its opening hours."""

    from_: Day = Field(alias="from")
    to: Day
    open: dict[Text, Annotated[list[Range], BeforeValidator(_listed)]]
    closed: Annotated[list[Dates], BeforeValidator(_listed)] = []

    @model_validator(mode="after")
    def _in_order(self) -> WrittenDays:
        if self.to < self.from_:
            raise ValueError(f"the last day ({self.to}) lies before the first ({self.from_})")
        if (self.to - self.from_).days > 3660:
            raise ValueError("a study may last ten years at most")
        return self


class WrittenOnSite(Strict):
    """What the sheets print for an emergency; whatever is not written stays a blank to fill by hand."""

    person_in_charge: Text | None = Field(default=None, alias="person in charge")
    emergency_number: Text | None = Field(default=None, alias="emergency number")
    defibrillator: Text | None = None
    oxygen: Text | None = None
    reliever: Text | None = None

    def filled(self) -> dict[str, str]:
        """What is written, by the key as it stands in the file."""
        return {key: text for key, text in self.model_dump(by_alias=True).items() if text}


class Written(Strict):
    """study.yaml. Whatever is missing or faulty is None; what is needed is listed in NEEDED."""

    format: Annotated[int, _from_text(format_number)] | None = None
    name: Identifier | None = None
    time_zone: Annotated[tzinfo, _from_text(zone)] | None = None
    plan_on: Annotated[Decimal, _from_text(share)] = Decimal("0.8")
    seed: Annotated[int, _from_text(_whole(0, MOST_SEED))] = 1
    visits: list[WrittenVisit | None] | None = None
    between_visits: WrittenSpan | None = None
    same_time_of_day: Seconds | None = None
    at_most_visits_a_day: Annotated[int, _from_text(_whole(1, 100_000))] | None = None
    at_most_waiting: Seconds | None = None
    keep_same: WrittenKeepSame = WrittenKeepSame()
    before_first_use: dict[Label, WrittenFirstUse] = {}
    days: WrittenDays | None = None
    rigs: dict[Label, Annotated[list[Identifier], BeforeValidator(_listed)]] | None = None
    staff: FileName | None = None
    shifts: FileName | None = None
    participants: FileName | None = None
    availability: FileName | None = None
    outages: FileName | None = None
    absences: FileName | None = None
    fixed: FileName | None = None
    demo: Boolean = False
    on_site: WrittenOnSite = WrittenOnSite()


NEEDED = (
    "format",
    "name",
    "time_zone",
    "visits",
    "days",
    "rigs",
    "staff",
    "shifts",
    "participants",
)


def known_keys(model: type[BaseModel], path: tuple[str | int, ...]) -> list[str]:
    """The keys that may stand at that path of the file; none where any label may."""
    for key in path:
        fields = {field.alias or name: field for name, field in model.model_fields.items()}
        if key in fields:  # a number in a list, or a label, stays with the same model
            model = _inside(fields[key].annotation) or Strict
    return [field.alias or name for name, field in model.model_fields.items()]


def _inside(annotation: Any) -> type[BaseModel] | None:
    """The model that an annotation such as `list[Model | None]` or `dict[str, Model]` is about."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    for part in reversed(getattr(annotation, "__args__", ())):
        if (found := _inside(part)) is not None:
            return found
    return None
