"""A protocol file as it is written: one pydantic model for reading it and for its JSON Schema."""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field

from planner.clock import duration_s
from planner.protocol import values
from planner.protocol.shapes import OneOrMany, Reads, Short, Something
from planner.quantity import Quantity, quantity

_TEXT = {"type": ["string", "number"], "minLength": 1}
_DURATION = {
    "type": "string",
    "pattern": r"^\s*\d{1,9}\s*(d|h|min|s)(\s+\d{1,9}\s*(h|min|s))*\s*$",
    "examples": ["30 s", "4 min", "1 h 30 min"],
}
_QUANTITY = {"type": "string", "pattern": r"^\s*-?\d+(\.\d+)?\s+\S.*$", "examples": ["0.150 L", "10 %"]}
_NUMBER = {"type": "integer", "minimum": 1, "maximum": values.MOST_EFFORTS}
_IDENTIFIER = {"type": ["string", "integer"], "pattern": "^[A-Za-z0-9][A-Za-z0-9_-]{0,39}$"}
_LABEL = {"type": "string", "minLength": 1, "maxLength": values.MOST_LABEL, "pattern": "^[^;/]+$"}

Text = Annotated[str, Reads(values.words, "text", "text", _TEXT)]
Unit = Annotated[str, Reads(values.unit, "unit", "a unit such as 'L'", _TEXT)]
Identifier = Annotated[
    str, Reads(values.identifier, "identifier", "an identifier such as 'fvc'", _IDENTIFIER)
]
Label = Annotated[str, Reads(values.label, "label", "a label", _LABEL)]
Duration = Annotated[int, Reads(duration_s, "duration", "a duration such as '4 min'", _DURATION)]
Amount = Annotated[Quantity, Reads(quantity, "quantity", "a quantity such as '0.150 L'", _QUANTITY)]
Width = Annotated[Quantity, Reads(values.width, "quantity", "a quantity such as '0.150 L'", _QUANTITY)]
Share = Annotated[Decimal, Reads(values.share, "percentage", "a percentage such as '5 %'", _QUANTITY)]
Number = Annotated[int, Reads(values.whole_number, "number", "a whole number", _NUMBER)]
Flag = Annotated[bool, Reads(values.true_or_false, "true-or-false", "true or false", {"type": "boolean"})]
Format = Annotated[int, Reads(values.format_number, "format", "the format, 1", {"const": 1})]
Side = Annotated[str, Reads(values.side_of_anchor, "side", "start or end", {"enum": ["start", "end"]})]
First = Annotated[str, Reads(values.first, "of-what", "first", {"const": "first"})]
Texts = Annotated[tuple[Text, ...], OneOrMany(noun="text")]
Labels = Annotated[tuple[Label, ...], OneOrMany(noun="label")]
Roles = Annotated[tuple[Label, ...], OneOrMany(least=1, noun="role")]
Times = Annotated[tuple[Duration, ...], OneOrMany(least=1, noun="duration")]
Names = Annotated[tuple[Identifier, ...], OneOrMany(least=1, noun="manoeuvre")]


class Written(BaseModel):
    """Any mapping of the file: unknown keys are faults, and each may name its source."""

    model_config = ConfigDict(extra="forbid", frozen=True, validate_by_alias=True)
    source: Texts = ()


class EffortsWritten(Written):
    """How many efforts: `at_least` counts acceptable ones, `at_most` all."""

    at_least: Number
    at_most: Number


class WithinWritten(Written):
    """How near the values must be; the widest counts."""

    greater_of: Annotated[tuple[Width, ...], OneOrMany(least=1, noun="quantity")]


class EnoughWritten(Written):
    """One line of the stop rule: the so many `largest` acceptable values, or `any` so many of them."""

    reading: Label
    largest: Annotated[Number | None, Something()] = Field(
        default=None, description="the so many largest acceptable values"
    )
    any: Annotated[Number | None, Something()] = Field(
        default=None, description="some so many of the acceptable values"
    )
    within: Annotated[WithinWritten, Short(("greater_of",), _QUANTITY, "a quantity", as_list=True)]


class ReadingWritten(Written):
    """One value that an effort gives; `spread` is the SD of one effort."""

    unit: Unit
    typical: Annotated[Amount | None, Something()] = None
    spread: Annotated[Width | None, Something()] = None


class StopIfWritten(Written):
    """A reason to stop and ask; the tool never decides it."""

    reading: Label
    falls_below: Width
    of: First


class ClearWritten(Written):
    """The rig (and these roles) stay busy after the last effort."""

    takes: Duration
    staff: Labels = ()


class LearningWritten(Written):
    """The first effort falls short by `gain` of typical; after `over` efforts nothing more is gained."""

    gain: Share
    over: Number


Clear = Annotated[ClearWritten, Short(("takes",), _DURATION, "a duration")]


class ManoeuvreWritten(Written):
    """An instructed action with its efforts. With `like`, every key not written is that manoeuvre's."""

    model_config = ConfigDict(
        json_schema_extra=lambda schema: schema.update(
            anyOf=[{"required": ["like"]}, {"required": schema.pop("required")}]
        )
    )
    like: Annotated[Identifier | None, Something()] = None
    title: Text
    rig: Labels = ()
    staff: Labels = ()
    prepare: Duration = 0
    effort: Duration
    rest: Annotated[Duration | None, Something()] = None
    efforts: Annotated[EffortsWritten, Short(("at_least", "at_most"), _NUMBER, "a whole number")]
    enough: Annotated[tuple[EnoughWritten, ...], OneOrMany(noun="line")] = ()
    readings: dict[Label, ReadingWritten] = Field(default_factory=dict)
    stop_if: Annotated[tuple[StopIfWritten, ...], OneOrMany(noun="line")] = ()
    clear: Annotated[Clear | None, Something()] = None
    learning: Annotated[LearningWritten | None, Something()] = None
    acceptable: Share = Decimal(1)
    say: Texts = ()
    how: Text = ""
    feels: Text = ""
    kit: Texts = ()


class LengthWritten(Written):
    """The length of a bout that is not known beforehand."""

    about: Duration
    shortest: Duration
    longest: Duration


Takes = Annotated[LengthWritten, Short(("about", "shortest", "longest"), _DURATION, "a duration")]


class WatchWritten(Written):
    """Who stays with the participant from the end of the step, and how long."""

    staff: Roles
    for_: Duration = Field(alias="for")


class DuringWritten(Written):
    """Blocks inside a bout; times count from its start."""

    measure: Names
    at: Times
    early: Times = (0,)
    late: Times
    if_reached: Flag = False
    important: Flag = False


class DueWritten(Written):
    """When the step is due: after a step listed earlier, or before one listed later."""

    after: Annotated[Identifier | None, Something()] = None
    before: Annotated[Identifier | None, Something()] = None
    from_: Annotated[Side | None, Something()] = Field(default=None, alias="from")
    at: Times
    early: Times = (0,)
    late: Times
    important: Flag = False


class StepWritten(Written):
    """A part of the visit with exactly one of `takes`, `measure`, `rest`."""

    model_config = ConfigDict(
        json_schema_extra={"oneOf": [{"required": [kind]} for kind in ("takes", "measure", "rest")]}
    )
    id: Identifier
    title: Text
    takes: (
        Annotated[LengthWritten, Short(("about", "shortest", "longest"), _DURATION, "a duration")] | None
    ) = None
    measure: Annotated[Names | None, Something()] = None
    rest: Annotated[Duration | None, Something()] = None
    exercise: Flag = False
    rig: Labels = ()
    staff: Labels = ()
    clear: Annotated[Clear | None, Something()] = None
    watch: Annotated[WatchWritten | None, Something()] = None
    during: Annotated[tuple[DuringWritten, ...], OneOrMany(noun="mapping")] = ()
    due: Annotated[DueWritten | None, Something()] = None
    starts_within: Annotated[Duration | None, Something()] = None
    say: Texts = ()
    how: Text = ""


class PreparationWritten(Written):
    """What a participant brings, wears or avoids before the visit."""

    bring: Annotated[Text | None, Something()] = None
    wear: Annotated[Text | None, Something()] = None
    avoid: Annotated[Text | None, Something()] = None
    stay_away: Annotated[Text | None, Something()] = Field(default=None, alias="stay away")
    for_: Annotated[Duration | None, Something()] = Field(default=None, alias="for")


class ProtocolWritten(Written):
    """What happens in one visit."""

    format: Format
    name: Identifier
    title: Text
    version: Text
    cautions: Texts = ()
    manoeuvres: dict[Identifier, ManoeuvreWritten] = Field(default_factory=dict)
    visit: Annotated[tuple[StepWritten, ...], OneOrMany(least=1, noun="step")]
    priority: Texts = ()
    preparation: Annotated[tuple[PreparationWritten, ...], OneOrMany(noun="mapping")] = ()


def written_keys(model: type[BaseModel]) -> list[str]:
    """The keys of a mapping as they are written in the file."""
    return [found.alias or name for name, found in model.model_fields.items()]


def model_at(location: tuple[Any, ...]) -> type[BaseModel]:
    """The model of the innermost mapping on that path; items and keys of dicts are passed over."""
    model: type[BaseModel] = ProtocolWritten
    for part in location:
        fields = {found.alias or name: found for name, found in model.model_fields.items()}
        if part in fields:
            model = next(_models(fields[part].annotation), model)
    return model


def _models(annotation: Any) -> Any:
    """The models inside an annotation, such as that of a tuple, a dict or an optional one."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for inner in getattr(annotation, "__args__", ()):
        yield from _models(inner)
