"""The lower half: three wide buttons as the state asks, the two for safety, and taking the last one back."""

from __future__ import annotations

import streamlit as st

from planner.pages import access
from planner.pages.day_column import CHOSEN
from planner.pages.day_deeds import last_words, tap
from planner.pages.day_scene import Scene, instead, label
from planner.pages.touch import Key, pad, tapped
from planner.record.access import Right
from planner.record.actions import Deed
from planner.record.live import VisitNow
from planner.record.parts import Part, Status
from planner.timing.plan import Kind

SAID, PAD, BACK = "day-said", "day-pad", "day-back"


def keys(shown: VisitNow, part: Part) -> tuple[tuple[Key, ...], ...]:
    """The buttons for that part as it stands: a row of deeds, and the two for safety, each framed apart."""
    bout = _bout(shown, part)
    first = [_start_key(shown, part), _done_key(shown, part)]
    if bout is not None:
        first.append(_key(shown, "end", "Exercise ended", bout, enabled=bout.status is Status.NOW))
    wait = _key(shown, "not now", "Not now", part, kind="wait")
    stop = _key(shown, "stopped", "Stopped", part, kind="safety")
    return tuple(one for one in first if one), (wait, stop)


def _key(
    shown: VisitNow,
    deed: str,
    label: str,
    part: Part,
    number: int = 0,
    enabled: bool = True,
    kind: str = "next",
) -> Key:
    token = shown.token(f"{deed} {part.index} {number}")
    return Key(deed, label, token, part.index, number, enabled, kind)


def _bout(shown: VisitNow, part: Part) -> Part | None:
    """The exercise that is under way, or that this part is.

    Elsewhere there is no button for its end: readings are typed where it would stand, in sight.
    """
    if part.activity.kind is Kind.BOUT:
        return part
    if part.activity.inside is not None:
        return shown.parts[part.activity.inside]
    under_way = [p for p in shown.parts if p.activity.kind is Kind.BOUT and p.status is Status.NOW]
    return under_way[0] if under_way else None


def _start_key(shown: VisitNow, part: Part) -> Key | None:
    if part.is_block:
        can = part.may_start_effort
        number = part.next_effort if can else 0
        label = f"Effort {number} started" if can else "Effort started"
        return _key(shown, "start", label, part, number, can)
    label = "Exercise started" if part.activity.kind is Kind.BOUT else "Started"
    return _key(shown, "begin", label, part, enabled=part.started is None)


def _done_key(shown: VisitNow, part: Part) -> Key | None:
    if part.is_block:
        number = part.in_hand or 0
        label = f"Effort {number} done" if number else "Effort done"
        return _key(shown, "done", label, part, number, bool(number))
    if part.activity.kind is Kind.BOUT:
        return None
    kind = "next" if part.started else ""
    return _key(shown, "end", "Done", part, enabled=part.ended is None, kind=kind)


def record_tap(scene: Scene) -> None:
    """What was tapped is recorded before the page is shown again."""
    said = tapped(PAD) or tapped(BACK)
    if said is not None and said["deed"] == "go":
        st.session_state[CHOSEN] = (str(said["token"]), int(said["part"]))
    elif said is not None and scene.hand.by and access.may(scene.study, Right.RECORD):
        _keep(tap(scene, said))


def show_pad(scene: Scene, shown: VisitNow, part: Part | None) -> None:
    """The buttons, taking the last deed back, and what became of the last tap."""
    buttons, said = st.container(), st.container()  # no words that come or go move a button under a finger
    with said:
        _said()
    with buttons:
        _pad(scene, shown, part)


def _pad(scene: Scene, shown: VisitNow, part: Part | None) -> None:
    if not scene.hand.by:
        st.info("Choose your staff code above, then record.")
        return
    if access.why_not(Right.RECORD):
        st.info("Recording takes a technician.")
        return
    rows = [] if part is None or shown.stopped else list(keys(shown, part))
    if rows:
        pad(rows, key=PAD)


def _go_key(shown: VisitNow, after: Part) -> Key:
    """Records nothing: what is left behind is passed over once the other part begins."""
    hint = "Its time has gone by. It can still be measured, and counts as late."
    return Key(
        "go", f"Leave it out: go on with {label(after)}", shown.mark, after.index, kind="small", hint=hint
    )


def show_back(scene: Scene, shown: VisitNow, part: Part | None) -> None:
    """What is pressed rarely, below what is typed after each effort: going on elsewhere, taking back."""
    if not scene.hand.by or access.why_not(Right.RECORD):
        return
    rows = []
    if after := instead(shown, part):
        rows.append((_go_key(shown, after),))
    if words := last_words(scene):
        rows.append((_undo_key(shown, words),))
    if rows:
        pad(rows, key=BACK)


def _undo_key(shown: VisitNow, words: str) -> Key:
    hint = "The record keeps what was taken back, and says that it was."
    return Key("undo", f"Take back {words}", shown.token("undo"), 0, kind="small", hint=hint)


def _keep(deed: Deed) -> None:
    st.session_state[SAID] = deed


def _said() -> None:
    """What became of the last deed, where it needs saying."""
    deed = st.session_state.pop(SAID, None)
    if deed is None:
        return
    if deed.refused:
        st.error(f"Not recorded: {deed.refused}")
    for warning in deed.warnings:
        st.warning(warning)
