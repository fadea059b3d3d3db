"""Now and next, large: what, where, who, and the seconds, counted from what is recorded."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import NamedTuple

import streamlit as st

from planner.clock import later, seconds_between
from planner.documents.sheet_words import efforts_words
from planner.pages.day_scene import Scene, clock_words, following, label, text
from planner.pages.touch import figure
from planner.record.due import Due
from planner.record.live import VisitNow
from planner.record.parts import Part, Status
from planner.timing.followed import need_not_be_reached
from planner.timing.plan import Kind

SAFETY = "A participant who is unwell comes before any time."
READY = "may start when the participant is ready"
SHAPES = {"early": "◁", "due": "[ ]", "late": "▷"}  # with the word beside it, never by colour


class Count(NamedTuple):
    """The large figure: seconds left, or gone (`up`), what they are of, and what stands at the end."""

    seconds: float
    label: str
    over: str
    up: bool = False
    mark: str = ""


def show_now(scene: Scene, shown: VisitNow, part: Part | None, signal: bool) -> None:
    """The upper half of the page."""
    st.subheader(f"Now: {text(_now_words(shown, part))}", anchor=False)
    if part is not None and not shown.stopped:
        st.markdown(_where(scene, part))
        count = count_of(shown, part) or _time_of_day(shown.now)
        speed = scene.run.speed if scene.run else 1.0
        figure(
            count.seconds, count.label, count.over, up=count.up, speed=speed, signal=signal, mark=count.mark
        )
        st.markdown(_facts(scene, shown, part))
    st.subheader(SAFETY, anchor=False)
    for words in stays(shown):
        st.markdown(words)
    _show_next(scene, shown, part)


def _now_words(shown: VisitNow, part: Part | None) -> str:
    if shown.stopped:
        return f"stopped at {shown.stopped:%H:%M}. No reason is asked."
    if part is None:
        return "all parts of this visit are done."
    if shown.current is not None and shown.parts[shown.current].activity.kind is Kind.REST:
        return f"{shown.parts[shown.current].title}, then {_title(part)}"
    if shown.around is not None and part.status is Status.TO_COME:
        return f"{shown.parts[shown.around].title}, then {_title(part)}"
    return _title(part)


def _title(part: Part) -> str:
    if not part.is_block:
        return part.title
    number = part.in_hand if part.in_hand is not None else part.next_effort
    return f"{part.title}, effort {number}" if part.in_hand or part.may_start_effort else part.title


def _where(scene: Scene, part: Part) -> str:
    """Its line of the run sheet, in the same words: `planned 09:12: FVC efforts · S1 · operator K1`."""
    one = part.planned
    if one is None:
        return ""
    name = efforts_words(scene.plan.protocol.manoeuvres[one.manoeuvre]) if one.manoeuvre else ""
    who = ", ".join(f"{role} {code}" for role, code in one.staff.items())
    said = " · ".join(f"**{text(words)}**" for words in (name, ", ".join(one.rigs), who) if words)
    moment = one.first_effort or one.start  # what stands large on the sheet: of a block its first effort
    return f"planned {moment:%H:%M}" + (f"\\: {said}" if said else "")


def stays(shown: VisitNow) -> Iterator[str]:
    """Who stays with the participant after exercise and until when, also where the visit was stopped."""
    for part in shown.parts:
        watch = part.planned.watch if part.planned else None
        ended = part.ended or (shown.stopped if part.started else None)
        if part.planned is None or watch is None or ended is None:
            continue
        until = later(ended, seconds_between(part.planned.end, watch.end))
        if _gone(until, shown.now) < 0:
            who = ", ".join(f"{role} {code}" for role, code in watch.staff.items())
            yield f"Stays with the participant until {until:%H:%M:%S}: **{text(who)}**"


def count_of(shown: VisitNow, part: Part) -> Count | None:
    """What the figure counts now; None where there is nothing to count."""
    now = shown.now
    rest = part.rest_ends or _rest_step(shown)
    if part.in_hand is not None:
        began = next(one.started for one in part.efforts if one.number == part.in_hand)
        return Count(_gone(began, now), "since the effort started", "", up=True)
    if rest is not None and part.may_start_effort and part.rest_ends:
        return Count(-_gone(rest, now), "of the rest left", READY, mark=rest.isoformat())
    if part.due and part.status is Status.TO_COME:
        return _count_due(part.due, now)
    if rest is not None:
        return Count(-_gone(rest, now), "of the rest left", READY, mark=rest.isoformat())
    if part.status is Status.NOW and part.started and not part.is_block:
        return Count(_gone(part.started, now), "since it started", "", up=True)
    return None


def _time_of_day(now: datetime) -> Count:
    """Where there is nothing to count: the buttons below keep their place."""
    seconds = 3600 * now.hour + 60 * now.minute + now.second
    return Count(seconds, "is the time now", "", up=True)


def _count_due(due: Due, now: datetime) -> Count:
    """To the due time while it lies ahead, then to the end of the window."""
    ahead = -_gone(due.at, now)
    if ahead > 0:
        return Count(ahead, f"until first effort at {due.at:%H:%M:%S}", READY, mark=due.at.isoformat())
    left = -_gone(due.not_after, now)
    if left > 0:
        words = f"left to start first effort, not after {due.not_after:%H:%M:%S}"
        return Count(left, words, "late", mark=due.not_after.isoformat())
    return Count(-left, f"late: not after {due.not_after:%H:%M:%S}", "", up=True)


def _gone(moment: datetime, now: datetime) -> float:
    return now.timestamp() - moment.timestamp()


def _rest_step(shown: VisitNow) -> datetime | None:
    if shown.current is None:
        return None
    current = shown.parts[shown.current]
    return current.ended if current.activity.kind is Kind.REST and current.status is Status.NOW else None


def _facts(scene: Scene, shown: VisitNow, part: Part) -> str:
    """Rest, window and the rule for when to finish, in words."""
    lines = []
    if part.rest_ends:
        over = part.rest_ends.timestamp() <= shown.now.timestamp()
        lines.append(
            f"Effort {part.next_effort} {READY}." if over else f"Rest until {part.rest_ends:%H:%M:%S}."
        )
    if part.due and part.status is Status.TO_COME:
        lines.append(_due_words(part.due, shown.now))
        one = part.activity
        if need_not_be_reached(scene.plan.protocol.step(one.step), one.at_s, one.manoeuvre):
            lines.append("It is measured only if exercise lasts that long.")
    if shown.not_now:
        lines.append(f"Not now, said at {shown.not_now:%H:%M:%S}. Go on when the participant is ready.")
    return "  \n".join(lines)


def _due_words(due: Due, now: datetime) -> str:
    """Early, due or late by shape and word, then the times to keep."""
    word, _, times = due.words(now).partition("; ")
    return f"**{text(SHAPES[word])} {word}**: {text(times)}"


def _show_next(scene: Scene, shown: VisitNow, part: Part | None) -> None:
    """What comes after, and the next time that is due."""
    if part is None or shown.stopped:
        return
    after = following(shown, part.index)
    if after is not None:
        st.subheader(f"Next: {text(label(after))}", anchor=False)
        st.markdown(_where(scene, after))
    due = shown.next_due
    if due is not None and due.due is not None and due.index != part.index:
        left = seconds_between(shown.now, due.due.at)
        way = f"in {clock_words(left)}" if left >= 0 else f"{clock_words(-left)} ago"
        st.markdown(f"**Next due: {text(label(due))} {way}.** {_due_words(due.due, shown.now)}")
    for risk in shown.at_risk:
        st.warning(f"At risk: {text(risk.words)} {text(risk.keep_first)}")
    _exercise_to_come(scene, shown)


def _exercise_to_come(scene: Scene, shown: VisitNow) -> None:
    """Before the end of exercise is recorded no due time can be counted, and that is said."""
    bouts = [p for p in shown.parts if p.activity.kind is Kind.BOUT and p.ended is None]
    if bouts and scene.plan.windows and bouts[0].status is Status.NOW:
        st.markdown(f"Due times count from the end of {text(bouts[0].title)}: tap when it ends.")
