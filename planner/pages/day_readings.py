"""Readings as digits with their units, asked again where they look like a slip; when to finish."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from decimal import Decimal
from functools import partial
from typing import TYPE_CHECKING

import streamlit as st

from planner.pages import access
from planner.pages.day_pad import SAID
from planner.pages.day_pictures import show_strip
from planner.pages.day_scene import Scene, open_day, text
from planner.protocol.model import Manoeuvre, Reading
from planner.record.access import Right
from planner.record.actions import Deed, Typed
from planner.record.happenings import EffortNow
from planner.record.live import VisitNow, value_words
from planner.record.parts import Part, Status
from planner.record.plausible import question

if TYPE_CHECKING:
    from streamlit.delta_generator import DeltaGenerator

DOUBT = "day-doubt"


def show_readings(scene: Scene, shown: VisitNow) -> Callable[[], None]:
    """The block in hand, or the last one with efforts: values, rule, and what is still to be typed.

    What comes back draws the rule's pictures into their place: they take longest, and nobody who has typed a
    reading waits for them.
    """
    part = _block(shown)
    if part is None or part.activity.manoeuvre is None:
        return _nothing
    manoeuvre = scene.plan.protocol.manoeuvres[part.activity.manoeuvre]
    with st.container():
        for line in part.stop_and_ask:
            st.header(text(line).replace(" %", "\u00a0%"), anchor=False)
    above = st.container()
    effort = _untyped(part, manoeuvre)
    if effort is not None and scene.hand.by and not access.why_not(Right.RECORD):
        with st.container():
            _form(scene, shown, part, manoeuvre, effort)
    else:
        st.empty()  # in the form's place: it goes at once, not when all else has been drawn
    with above if part.index != shown.current else st.container():  # "Now" names it: the form comes first
        st.subheader(text(part.title), anchor=False)
    if part.agreement is not None and not shown.stopped:  # no further effort is asked for then
        st.markdown(f"**{text(part.agreement.words)}**")
    pictures = st.container()
    for one in part.efforts:
        st.write(text(_effort_words(one, shown)))
    return partial(_strips, pictures, part, manoeuvre)


def _nothing() -> None:
    """Where there is no picture to draw."""


def _block(shown: VisitNow) -> Part | None:
    begun = [p for p in shown.parts if p.is_block and p.efforts]
    if shown.current is not None and shown.parts[shown.current].is_block:
        current = shown.parts[shown.current]
        waits = current.status is Status.TO_COME and begun
        return begun[-1] if waits and _lately(begun[-1], current) else current
    return begun[-1] if begun else None


def _lately(part: Part, current: Part) -> bool:
    """Whether that block stays in sight: it has just ended, or readings of it are still to be typed."""
    lacks = any(not one.values for one in part.efforts if not one.is_under_way)
    return lacks or part.index == current.index - 1


def _untyped(part: Part, manoeuvre: Manoeuvre) -> EffortNow | None:
    """The first effort that is done and lacks a reading."""
    for one in part.efforts:
        typed = {value.reading for value in one.values}
        if not one.is_under_way and set(manoeuvre.readings) - typed:
            return one
    return None


def _form(scene: Scene, shown: VisitNow, part: Part, manoeuvre: Manoeuvre, effort: EffortNow) -> None:
    place = f"{scene.number}-{part.index}-{effort.number}"
    lacking = [r for r in manoeuvre.readings.values() if r.name not in {v.reading for v in effort.values}]

    def send() -> None:  # before the page is drawn: a run that is broken off cannot lose it
        _judge(scene, shown, part, manoeuvre, effort, _typed(lacking, place))

    # Enter, which a tablet's keys have as well, would send the first of two readings alone.
    with st.form(f"day-readings-{place}", enter_to_submit=False):
        st.markdown(f"**Effort {effort.number}: what did the device show?**")
        for reading in lacking:
            number, accepted = st.columns([3, 2], vertical_alignment="bottom")
            number.number_input(
                f"{reading.name}, {reading.unit}",
                value=None,
                step=None,
                format=f"%.{_places(reading)}f",
                key=f"day-{reading.name}-{place}",
            )
            fine = f"{text(reading.name)}  \nacceptable"  # on two lines: as high as the field, for gloves
            accepted.checkbox(fine, value=True, key=f"day-fine-{reading.name}-{place}")
        st.form_submit_button("Keep these readings", on_click=send, width="stretch")
    if doubts := st.session_state.get(DOUBT, {}).get(place):
        _ask(scene, part, effort, *doubts)


def _typed(lacking: list[Reading], place: str) -> dict[str, Typed]:
    """What stands in the form, by reading."""
    held = st.session_state
    return {
        one.name: Typed(_as_typed(value, _places(one)), bool(held[f"day-fine-{one.name}-{place}"]))
        for one in lacking
        if (value := held[f"day-{one.name}-{place}"]) is not None
    }


def _places(reading: Reading) -> int:
    """As many decimals as the protocol's typical value is written with."""
    if reading.typical is None:
        return 2
    exponent = reading.typical.value.as_tuple().exponent
    return max(0, -exponent) if isinstance(exponent, int) else 2


def _as_typed(value: float, places: int) -> Decimal:
    """With the decimals of the protocol where they say it all, else with all that were typed."""
    usual = Decimal(f"{value:.{places}f}")
    return usual if float(usual) == value else Decimal(repr(value))


def _judge(
    scene: Scene,
    shown: VisitNow,
    part: Part,
    manoeuvre: Manoeuvre,
    effort: EffortNow,
    values: Mapping[str, Typed],
) -> None:
    if not values:
        words = "no reading was typed. Type what the device showed, or leave this effort without readings"
        st.session_state[SAID] = Deed(refused=words)
        return
    doubts = [
        words
        for name, typed in values.items()
        if (words := question(manoeuvre.readings[name], typed.value, _own(shown, part, name)))
    ]
    if doubts:
        place = f"{scene.number}-{part.index}-{effort.number}"
        st.session_state[DOUBT] = {place: (doubts, dict(values))}
        return
    with open_day(scene.study) as store:
        _record(scene.at(store), part, effort, values)


def _own(shown: VisitNow, part: Part, name: str) -> list[Decimal]:
    """The participant's own other values of this manoeuvre in this visit."""
    same = [p for p in shown.parts if p.activity.manoeuvre == part.activity.manoeuvre]
    return [v.value for p in same for one in p.efforts for v in one.values if v.reading == name]


def _ask(
    scene: Scene,
    part: Part,
    effort: EffortNow,
    doubts: list[str],
    values: Mapping[str, Typed],
) -> None:
    for words in doubts:
        st.warning(text(words))

    def keep() -> None:
        with open_day(scene.study) as store:
            _record(scene.at(store), part, effort, values)

    st.button("It is right: keep it", on_click=keep, key="day-keep-doubt", width="stretch")


def _record(scene: Scene, part: Part, effort: EffortNow, values: Mapping[str, Typed]) -> None:
    """The readings of an effort that is over; sent twice they are kept once, since their key is the same."""
    if not access.may(scene.study, Right.RECORD):
        return
    shown = scene.look()
    deed = scene.day(shown).finish_effort(
        shown.parts[part.index], effort.number, values, ended=effort.done,
        token=shown.token(f"readings {part.index} {effort.number}"),
    )  # fmt: skip
    st.session_state[SAID] = deed
    st.session_state.pop(DOUBT, None)


def _strips(place: DeltaGenerator, part: Part, manoeuvre: Manoeuvre) -> None:
    """One strip for each line of the rule: the values on a ruler, and the bracket that they must share."""
    efforts = [one.acceptable() for one in part.efforts if not one.is_under_way]
    for line in manoeuvre.enough:
        if not any(line.reading in one for one in efforts):
            continue
        with place:
            show_strip(manoeuvre, line, efforts)


def _effort_words(one: EffortNow, shown: VisitNow) -> str:
    under_way = "begun, its end is not recorded" if shown.stopped else "under way"
    values = ", ".join(value_words(value) for value in one.values) or (
        under_way if one.is_under_way else "no reading"
    )
    note = f"; {one.note}" if one.note else ""
    return f"Effort {one.number} at {one.started:%H:%M:%S}: {values}{note}"
