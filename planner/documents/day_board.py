"""The day on the wall: one landscape page, by device and by staff member, with a quarter-hour scale."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime

from planner.clock import Interval, later, seconds_between
from planner.documents.busy import Doing, Span, of_person, of_rig, spans
from planner.documents.shown import date_words, hhmm, page_values, placed_words, standing_words
from planner.documents.texts import say
from planner.documents.typeset import typeset
from planner.schedule.model import Schedule
from planner.study.model import Study

JOIN_S = 180  # stretches of one participant so close together, with nobody between, are one bar
WIDTH_MM = {"a4": 236.0, "letter": 218.0}
LETTER_MM = 4.6  # width of a letter that stands above a narrow bar
ROOM_MM = 6.2  # a bar so wide holds the larger letter with some room beside it
NARROW_MM, TOUCH_MM = 12.0, 0.5

Bar = dict[str, object]


def day_board(study: Study, schedule: Schedule, day: date, *, paper: str = "a4") -> bytes:
    """The board of one day as a PDF of one page."""
    return typeset("day_board.typ", day_board_values(study, schedule, day, paper=paper), schedule.made)


def day_board_values(study: Study, schedule: Schedule, day: date, *, paper: str = "a4") -> dict[str, object]:
    """Rows of bars in millimetres from the left of the scale, and the list of letters."""
    found = tuple(span for span in spans(study, schedule) if span.start.date() == day)
    letters = letters_of(schedule, day)
    scale = Scale(found, study, day, WIDTH_MM[paper])
    title = say("boards.title", date=date_words(day))
    groups = [
        {
            "title": say("boards.by_rig"),
            "rows": [scale.row(rig.id, of_rig(found, rig.id), letters, rig.out) for rig in study.rigs],
        },
        {
            "title": say("boards.by_person"),
            "rows": [
                scale.row(
                    person.id,
                    of_person(found, person.id),
                    letters,
                    person.absent,
                    person.breaks.get(day, ()),
                    away=say("sheets.not_here").lower(),
                )
                for person in study.people
            ],
        },
    ]
    return {
        **page_values(study, schedule, title, paper=paper),
        "date": date_words(day),
        "plan": standing_words(study, schedule),
        "width": WIDTH_MM[paper],
        "ticks": scale.ticks(),
        "groups": groups,
        "letters": _letter_lines(study, schedule, day, letters),
        "kinds": [[kind.value, say(f"boards.kind.{kind.name.lower()}")] for kind in _KINDS],
        "alt": board_words(study, schedule, day),
    }


_KINDS = (Doing.EFFORTS, Doing.EXERCISE, Doing.TASK, Doing.WATCH, Doing.CLEARING, Doing.FIRST_USE)


def letters_of(schedule: Schedule, day: date) -> dict[str, str]:
    """A letter for each participant of the day, in the order in which they arrive; numbers beyond Z."""
    names = list(dict.fromkeys(visit.participant for visit in schedule.on(day)))
    alphabet = say("boards.alphabet")
    return {
        name: alphabet[place] if place < len(alphabet) else str(place + 1) for place, name in enumerate(names)
    }


def _letter_lines(study: Study, schedule: Schedule, day: date, letters: dict[str, str]) -> list[list[str]]:
    return [
        [
            letters[visit.participant],
            visit.participant,
            placed_words(study, visit),
            f"{hhmm(visit.start)}–{hhmm(visit.end)}",
        ]
        for visit in schedule.on(day)
    ]


def board_words(study: Study, schedule: Schedule, day: date) -> str:
    """What the board shows, for eyes that can't use it."""
    parts = [
        say(
            "boards.words",
            participant=visit.participant,
            visit=placed_words(study, visit),
            start=hhmm(visit.start),
            end=hhmm(visit.end),
            rigs=", ".join(sorted({rig for a in visit.activities for rig in a.rigs})) or say("boards.none"),
            people=", ".join(sorted({p for a in visit.activities for p in a.staff.values()}))
            or say("boards.none"),
        )
        for visit in schedule.on(day)
    ]
    return " ".join([say("boards.words_head", date=date_words(day), count=len(parts)), *parts])


class Scale:
    """Whole hours around all that happens on a day, spread over the width of the page."""

    def __init__(self, found: Iterable[Span], study: Study, day: date, width_mm: float) -> None:
        shown = list(found)
        hours = study.open.get(day, ())
        moments = [m for span in shown for m in (span.start, span.end)] or [m for hour in hours for m in hour]
        if not moments:
            raise ValueError(f"nothing happens on {day}, and the laboratory is closed")
        first, last = min(moments, key=datetime.timestamp), max(moments, key=datetime.timestamp)
        self.start = first.replace(minute=0, second=0, microsecond=0)
        whole = last.replace(minute=0, second=0, microsecond=0)
        self.end = whole if whole == last else later(whole, 3600)
        self.length_s = max(3600, seconds_between(self.start, self.end))
        self.width_mm = width_mm

    def mm(self, moment: datetime) -> float:
        """Where on the scale, kept within it."""
        share = seconds_between(self.start, moment) / self.length_s
        return round(min(1.0, max(0.0, share)) * self.width_mm, 2)

    def ticks(self) -> list[list[object]]:
        """Each quarter of an hour: its place, its name on the hour (or half hour), its minute."""
        found: list[list[object]] = []
        for second in range(0, self.length_s + 1, 900):
            moment = later(self.start, second)
            roomy = self.width_mm / (self.length_s / 3600) >= 36
            named = moment.minute == 0 or (roomy and moment.minute == 30)
            found.append([self.mm(moment), hhmm(moment) if named else "", moment.minute])
        return found

    def row(
        self,
        label: str,
        found: tuple[Span, ...],
        letters: dict[str, str],
        out: Iterable[Interval] = (),
        breaks: Iterable[Interval] = (),
        away: str = "",
    ) -> dict[str, object]:
        """One row: its bars, each with its letter inside or above, and the times it is not there.

        `away` says so of a person; of a device nothing is given, and it is out of use.
        """
        away = away or say("boards.out")
        bars = [self._bar(span, end, letters) for span, end in joined_spans(found)]
        above = _Above()
        _once_where_bars_touch(bars)
        for bar in sorted(bars, key=_left):
            if not bar["inside"]:
                bar["letter"], bar["at"] = above.place(str(bar["letter"]), _left(bar))
        gaps = [self._gap(interval, away) for interval in out if self._is_seen(interval)]
        gaps += [self._gap(interval, say("boards.breaks")) for interval in breaks if self._is_seen(interval)]
        return {"label": label, "bars": bars, "gaps": gaps}

    def _bar(self, span: Span, end: datetime, letters: dict[str, str]) -> Bar:
        """A bar with its letter; cleaning and watching are low and quiet, and have none."""
        left, right = self.mm(span.start), self.mm(end)
        quiet = span.doing in (Doing.CLEARING, Doing.WATCH)
        return {
            "left": left,
            "right": right,
            "kind": span.doing.value,
            "letter": "" if quiet else letters.get(span.participant or "", ""),
            "inside": right - left >= ROOM_MM and not quiet,
            "at": left,
        }

    def _is_seen(self, interval: Interval) -> bool:
        return interval.meets(Interval(self.start, self.end))

    def _gap(self, interval: Interval, words: str) -> Bar:
        return {"left": self.mm(interval.start), "right": self.mm(interval.end), "words": words}


def _left(bar: Bar) -> float:
    return float(str(bar["left"]))


def _once_where_bars_touch(bars: Iterable[Bar]) -> None:
    """Takes the letter out of a narrow bar right after one of the same participant: two read as a word."""
    before: Bar | None = None
    for bar in sorted((one for one in bars if one["inside"]), key=_left):
        letter, right = bar["letter"], float(str(bar["right"]))
        if before is not None and letter == before["letter"] and right - _left(bar) < NARROW_MM:
            touches = _left(bar) - float(str(before["right"])) < TOUCH_MM
            bar["letter"] = "" if touches else letter
            before = {**bar, "letter": letter}
        else:
            before = bar


class _Above:
    """Letters above narrow bars: never over each other, one for neighbours of the same participant."""

    def __init__(self) -> None:
        self.letter, self.end = "", -100.0

    def place(self, letter: str, left: float) -> tuple[str, float]:
        """The letter to write (or none) and where."""
        if letter == self.letter and left - self.end < LETTER_MM:
            return "", 0.0
        at = max(left, self.end)
        if not letter or at - left > LETTER_MM:
            return "", 0.0
        self.letter, self.end = letter, at + LETTER_MM
        return letter, at


def joined_spans(found: tuple[Span, ...]) -> list[tuple[Span, datetime]]:
    """Spans with their end, long ones first so that short ones lie on top, then by start.

    Efforts of one participant that all but touch, with nobody between, become one.
    """
    out: list[tuple[Span, datetime]] = []
    for span in found:
        same = [n for n, (last, _) in enumerate(out) if last.doing is span.doing]
        if same and _joins(out[same[-1]], span, out[same[-1] + 1 :]):
            last, end = out[same[-1]]
            out[same[-1]] = (last, max(end, span.end, key=datetime.timestamp))
            continue
        out.append((span, span.end))
    behind = {Doing.WATCH: 0, Doing.TASK: 1, Doing.EXERCISE: 1}
    return sorted(out, key=lambda bar: (behind.get(bar[0].doing, 2), bar[0].start.timestamp()))


def _joins(bar: tuple[Span, datetime], span: Span, between: list[tuple[Span, datetime]]) -> bool:
    last, end = bar
    alone = all(other.participant == span.participant for other, _ in between)
    return last.participant == span.participant and alone and seconds_between(end, span.start) <= JOIN_S
