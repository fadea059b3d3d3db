"""One visit down the page: its parts in order, bars to write the end of exercise on, a row a block."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from itertools import groupby

from planner.clock import seconds_between
from planner.documents.due_lines import due_lines
from planner.documents.if_longer import if_longer
from planner.documents.rule_words import check_lines, finish_words, short_words
from planner.documents.sheet_words import efforts_words, said_words, starts_words, takes_words, who_words
from planner.documents.shown import hhmm, length_words
from planner.documents.texts import say
from planner.protocol.model import Protocol, Step
from planner.schedule.model import Activity, PlacedVisit
from planner.timing.followed import need_not_be_reached

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
        placed = (*visit.activities, *if_longer(protocol, visit))
        self.activities = sorted(placed, key=lambda a: (a.start.timestamp(), a.end.timestamp()))
        self.said: set[str] = set()
        self.headed: str | None = None
        self.latest_bar: tuple[str, str] | None = None  # step, and which end of it was last written down
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
        own = [a for a in self.activities if a.step == activity.step]
        if self.protocol.step(activity.step).takes is None:
            starts = [a.start.timestamp() for a in own if a.at_s == activity.at_s]
            return min(starts), activity.step
        bouts = [a.start.timestamp() for a in own if a.manoeuvre is None]
        return max(start for start in bouts if start <= activity.start.timestamp()), activity.step

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
            words = [takes_words(step.takes)]
        words += starts_words(step)
        due = self._due(step, [activity]) if step.due else []
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
        words = starts_words(step)
        due = self._due(step, activities)
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
            if other.watch is None or other.step == step.id:
                continue
            if other.end <= start < other.watch.end:
                who = ", ".join(f"{role} {person}" for role, person in other.watch.staff.items())
                yield say("run_sheet.beside", who=who)
        during = step.takes is not None
        marked = step.due is not None and step.due.important
        if during:
            done = {activity.manoeuvre for activity in activities}
            marked = any(part.important and done & set(part.measure) for part in step.during)
        if marked and at_s is not None:
            yield say("run_sheet.important")

    def _due(self, step: Step, activities: list[Activity]) -> list[str]:
        return due_lines(self.protocol, self.visit, step, activities, self.latest_bar)

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
            "ready": " · ".join(filter(None, (ready, self._if_reached(activity)))),
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

    def _if_reached(self, activity: Activity) -> str:
        step = self.protocol.step(activity.step)
        open_end = need_not_be_reached(step, activity.at_s, activity.manoeuvre)
        return say("run_sheet.if_reached") if open_end else ""

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
