"""One visit down the page: its parts in order, bars to write the end of exercise on, a row a block."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from itertools import groupby

from planner.clock import later, seconds_between
from planner.documents.rule_words import check_lines, finish_words, short_words
from planner.documents.shown import hhmm, length_words
from planner.documents.texts import say
from planner.protocol.model import During, Length, Manoeuvre, Protocol, Step, TimePoint
from planner.schedule.model import Activity, PlacedVisit

Row = dict[str, object]


def rows(protocol: Protocol, visit: PlacedVisit) -> list[Row]:
    """Everything between the head and the foot of a run sheet, in the order of the visit.

    Kinds of row: `bar` (a moment to write down), `part` (a part of the visit without efforts), `group` (a
    heading with its due times), `block` (efforts).
    """
    return list(_Sheet(protocol, visit).rows())


class _Sheet:
    def __init__(self, protocol: Protocol, visit: PlacedVisit) -> None:
        self.protocol = protocol
        self.visit = visit
        self.activities = sorted(visit.activities, key=lambda a: (a.start.timestamp(), a.end.timestamp()))
        self.said: set[str] = set()
        self.headed: str | None = None
        self.latest_bar: tuple[str, str] | None = (
            None  # the step and the end of it that was last written down
        )
        self.bouts = [s.id for s in protocol.visit if s.exercise]
        self.anchors = {
            (s.due.anchor, s.due.anchored) for s in protocol.visit if s.due and s.due.side == "after"
        }

    def rows(self) -> Iterator[Row]:
        ordered = list(self._bouts_before_their_blocks())
        for step_id, found in groupby(ordered, key=lambda a: a.step):
            step = self.protocol.step(step_id)
            activities = list(found)
            if (step_id, "start") in self.anchors:
                self.latest_bar = (step_id, "start")
                yield self._bar(say("run_sheet.started_bar", what=step.title), activities[0].start)
            for _, group in groupby(activities, key=lambda a: (a.at_s, a.manoeuvre is None)):
                yield from self._group(step, list(group))
            last = activities[-1] is next(a for a in reversed(ordered) if a.step == step_id)
            if last and self._has_end_bar(step):
                self.latest_bar = (step_id, "end")
                yield self._end_bar(step, activities)

    def _has_end_bar(self, step: Step) -> bool:
        """Whether something counts from its end; a warm-up that leads into the next bout needs no bar."""
        counts = (step.id, "end") in self.anchors or step.watch is not None
        return counts or step.id in self.bouts[-1:]

    def _bouts_before_their_blocks(self) -> Iterator[Activity]:
        """By start, but the blocks inside a bout right after it, before anything that starts with it."""
        yield from sorted(
            self.activities, key=lambda a: (self._step_start(a), a.manoeuvre is not None, a.start.timestamp())
        )

    def _step_start(self, activity: Activity) -> tuple[float, str]:
        """The start of the occurrence; a bout and what is measured during it count as one."""
        step = self.protocol.step(activity.step)
        same = [
            a.start.timestamp()
            for a in self.activities
            if a.step == activity.step and (step.takes is not None or a.at_s == activity.at_s)
        ]
        return min(same), activity.step

    def _group(self, step: Step, activities: list[Activity]) -> Iterator[Row]:
        first = activities[0]
        if first.manoeuvre is None:
            yield self._part(step, first)
            return
        yield self._heading(step, activities)
        for activity in activities:
            yield self._block(activity)

    def _part(self, step: Step, activity: Activity) -> Row:
        if step.takes is None:
            words = [say("run_sheet.rest", length=length_words(step.rest_s or 0))]
        else:
            words = [_takes_words(step.takes)]
        words += _starts_words(step)
        due = self._due_lines(step, [activity]) if step.due else []
        return {
            "kind": "part",
            "clock": hhmm(activity.start),
            "name": step.title,
            "who": who_words(activity),
            "words": " · ".join(words),
            "say": said_words(step.say),
            "due": due,
            "started": say("run_sheet.started") if step.exercise else "",
            "done": say("run_sheet.done"),
        }

    def _heading(self, step: Step, activities: list[Activity]) -> Row:
        inside = step.takes is not None
        words = []
        words += _starts_words(step)
        if inside and any(d.if_reached for d in step.during):
            words.append(say("run_sheet.if_reached"))
        due = self._due_lines(step, activities)
        again, self.headed = self.headed == step.id or step.takes is not None, step.id
        return {
            "kind": "group",
            "clock": hhmm(activities[0].first_effort or activities[0].start),
            "title": "" if again and due else step.title,
            "due": due,
            "beside": " · ".join(self._beside(step, activities)),
            "words": " · ".join(words),
        }

    def _beside(self, step: Step, activities: list[Activity]) -> Iterator[str]:
        """Who is still with the participant by plan, and whether this time point is an important one."""
        start, at_s = activities[0].start, activities[0].at_s
        for other in self.activities:
            if other.watch is not None and other.end <= start < other.watch.end:
                who = ", ".join(f"{role} {person}" for role, person in other.watch.staff.items())
                yield say("run_sheet.beside", who=who)
        during = step.takes is not None
        marked = step.due is not None and step.due.important
        if during:
            done = {activity.manoeuvre for activity in activities}
            marked = any(part.important and done & set(part.measure) for part in step.during)
        if marked and at_s is not None:
            yield say("run_sheet.important")

    def _due_lines(self, step: Step, activities: list[Activity]) -> list[str]:
        at_s = activities[0].at_s
        if at_s is None:
            return []
        if step.takes is not None and step.during:
            point = _during_point(step.during, at_s, activities)
            return after_lines(point, say("run_sheet.start_of_exercise"))
        assert step.due is not None
        point = next(p for p in step.due.time_points if p.at_s == at_s)
        anchor = self.protocol.step(step.due.anchor)
        if step.due.side == "before":
            return [self._before_line(point, anchor)]
        if self.latest_bar == (anchor.id, step.due.anchored):
            return after_lines(point, "")
        key = "run_sheet.after_start" if step.due.anchored == "start" else "run_sheet.after_end"
        return after_lines(point, say(key, what=anchor.title))

    def _before_line(self, point: TimePoint, anchor: Step) -> str:
        start = min((a.start for a in self.activities if a.step == anchor.id), key=lambda s: s.timestamp())
        gap = say(
            "run_sheet.gap_between",
            least=length_words(max(0, point.at_s - point.late_s)),
            most=length_words(point.at_s + point.early_s),
        )
        due = say(
            "run_sheet.due_before",
            at=length_words(point.at_s),
            what=anchor.title,
            start=hhmm(start),
            clock=hhmm(later(start, -point.at_s)),
        )
        return f"{due} ({gap})"

    def _block(self, activity: Activity) -> Row:
        assert activity.manoeuvre is not None
        manoeuvre = self.protocol.manoeuvres[activity.manoeuvre]
        new = [text for text in manoeuvre.say if text not in self.said]
        self.said.update(new)
        first = activity.first_effort or activity.start
        ready = say("run_sheet.ready", clock=hhmm(activity.start)) if first != activity.start else ""
        return {
            "kind": "block",
            "clock": hhmm(first),
            "name": efforts_words(manoeuvre),
            "ready": ready,
            "who": who_words(activity),
            "most": manoeuvre.at_most,
            "least": manoeuvre.at_least,
            "readings": [[r.name, r.unit] for r in manoeuvre.readings.values()],
            "finish": finish_words(manoeuvre),
            "checks": check_lines(manoeuvre),
            "short": short_words(manoeuvre),
            "title": manoeuvre.title,
            "say": said_words(new),
        }

    def _end_bar(self, step: Step, activities: list[Activity]) -> Row:
        bout = activities[0] if step.takes is not None else activities[-1]
        what = "run_sheet.exercise_bar" if step.exercise else "run_sheet.ended_bar"
        if step.exercise and len(self.bouts) > 1:
            what = "run_sheet.exercise_bar_of"
        bar = self._bar(say(what, what=step.title), bout.end)
        if bout.watch is not None:
            who = ", ".join(f"{role} {person}" for role, person in bout.watch.staff.items())
            length = seconds_between(bout.end, bout.watch.end)
            until = {"length": length_words(length), "clock": hhmm(bout.watch.end)}
            bar["stays"] = say("run_sheet.stays", who=who, **until)
        elif step.exercise:
            bar["stays"] = say("run_sheet.nobody_stays")
        bar["exercise"] = step.exercise
        return bar

    def _bar(self, words: str, moment: datetime) -> Row:
        clock = hhmm(moment)
        return {
            "kind": "bar",
            "words": words,
            "planned": say("run_sheet.planned_bar", clock=clock),
            "stays": "",
            "exercise": False,
        }


def said_words(texts: Sequence[str]) -> str:
    """What to say, each text in its own quotes; empty where there is nothing."""
    if not texts:
        return ""
    return say("run_sheet.say", texts=" ".join(say("run_sheet.say_one", text=text) for text in texts))


def _starts_words(step: Step) -> list[str]:
    if step.starts_within_s is None:
        return []
    if step.starts_within_s == 0:
        return [say("run_sheet.starts_at_once")]
    return [say("run_sheet.starts_within", length=length_words(step.starts_within_s))]


def _takes_words(takes: Length) -> str:
    if takes.is_known:
        return say("run_sheet.takes", length=length_words(takes.about_s))
    return say(
        "run_sheet.about",
        about=length_words(takes.about_s),
        shortest=length_words(takes.shortest_s),
        longest=length_words(takes.longest_s),
    )


def _during_point(during: tuple[During, ...], at_s: int, activities: list[Activity]) -> TimePoint:
    """The time point of this `at` whose manoeuvres are these."""
    done = {a.manoeuvre for a in activities}
    for part in during:
        for point in part.time_points:
            if point.at_s == at_s and done & set(part.measure):
                return point
    raise KeyError(at_s)


def after_lines(point: TimePoint, what: str) -> list[str]:
    """The due time to write down, the last that is on time, and the first where it is earlier.

    Without `what` they count from the moment that was last written down.
    """
    key = "run_sheet.due_after" if what else "run_sheet.due_after_this"
    found = [say(key, at=length_words(point.at_s), what=what)]
    most = length_words(point.at_s + point.late_s)
    found.append(say("run_sheet.not_after", time=most))
    if point.early_s:
        found.append(say("run_sheet.not_before", time=length_words(max(0, point.at_s - point.early_s))))
    return found


def who_words(activity: Activity) -> str:
    """Devices first, then each role with the person's code: `S1 · operator K1, cheek support K2`."""
    people = ", ".join(f"{role} {person}" for role, person in activity.staff.items())
    extra = ", ".join(f"{role} {person}" for role, person in activity.clear_staff.items())
    return " · ".join(part for part in (", ".join(activity.rigs), people, extra) if part)


def efforts_words(manoeuvre: Manoeuvre) -> str:
    """`FVC efforts`, from the first reading; the title where an effort gives none."""
    for reading in manoeuvre.readings:
        return say("run_sheet.efforts", reading=reading)
    return manoeuvre.title
