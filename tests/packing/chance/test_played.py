"""Days small enough to be played by hand: what waits for what, and with which chance.

The random block of these days ends after two efforts if they lie within one SD of each other, else after a
third: two normal values differ by at most w with probability erf(w / (2 SD)), here erf(1/2). Bouts
of unknown length follow a triangle, whose distribution is (x - a)^2 / ((b - a)(c - a)) up to its mode c.
Both are textbook formulas (from memory), not taken from the code.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from planner.packing.chance.odds import DayOdds
from planner.packing.chance.odds_words import late_words, odds_words
from planner.packing.play import play
from planner.packing.progress import Stop
from planner.schedule.model import Activity, Outcome, PlacedVisit, PlacedWatch, RigTask, Schedule
from planner.schedule.plans import visit_plans
from planner.study.model import Study
from planner.study.read import read_study
from planner.timing.plan import VisitPlan

SOON = math.erf(0.5)  # 0.5205: the random block ends after two efforts, 70 s; else after three, 130 s
DRAWS = 8000

MANOEUVRES = """
manoeuvres:
  blow:
    title: A block of random length
    rig: meter
    staff: operator
    effort: 10 s
    rest: 50 s
    efforts: {at_least: 2, at_most: 3}
    enough: [{reading: P, any: 2, within: 10 cmH2O}]
    readings: {P: {unit: cmH2O, typical: 100 cmH2O, spread: 10 cmH2O}}
  blow-and-clear:
    like: blow
    clear: 1 min
  puff: {title: One effort, rig: meter, staff: operator, effort: 10 s, efforts: 1}
  sniff: {title: One effort, rig: spirometer, staff: operator, effort: 10 s, efforts: 1}
  pulse: {title: One effort without a rig, staff: lead, effort: 10 s, efforts: 1}
  pace: {title: One effort on its rig, rig: ergometer, staff: lead, effort: 10 s, efforts: 1, clear: 0 s}
"""
STUDY = """
format: 1
name: by-hand
time_zone: Europe/Oslo
plan_on: 50 %
visits: [{id: only, protocol: {a: a.yaml, b: b.yaml}}]
before_first_use: {spirometer: {takes: 10 min, staff: [operator]}}
days: {from: 2027-03-01, to: 2027-03-01, open: {mon: "08:00-16:00"}}
rigs: {meter: [M1, M2], ergometer: [E1], spirometer: [S1]}
staff: staff.csv
shifts: shifts.csv
participants: participants.csv
outages: outages.csv
"""
BLOWS = "\n  - {id: first, title: Blow, measure: [blow]}"
THEN_DUE = """
  - {id: row, title: Row, exercise: true, takes: 10 min, rig: ergometer, staff: lead}
  - {id: after, title: After, measure: [puff], due: {after: row, at: 1 min, late: LATE}}
"""
WITH = Mapping[str, object]


@dataclass
class Day:
    """A study of one day, and what is placed on it by hand, in seconds from 8:00."""

    study: Study
    plans: Mapping[str, VisitPlan]
    visits: list[PlacedVisit]
    tasks: list[RigTask]

    def put(self, who: str, *rows: tuple[int, str, WITH]) -> None:
        """One visit: for each activity its start, rig (or empty) and people by role; `watch` by role."""
        visit = self.study.asked[who][0]
        plan = self.plans[visit.protocol]
        made = []
        for planned, (start, rig, staff) in zip(plan.activities, rows, strict=True):
            people = {role: str(staff[role]) for role in planned.staff}
            watch = None
            if planned.watch:
                until = self.at(start + planned.length_s + planned.watch.for_s)
                watch = PlacedWatch({role: str(staff["watch"]) for role in planned.watch.staff}, until)
            end = self.at(start + planned.length_s)
            free = end + timedelta(seconds=planned.clear.takes_s) if planned.clear else end
            first = self.at(start + planned.prepare_s) if planned.manoeuvre else None
            made.append(
                Activity(
                    planned.step, planned.at_s, planned.manoeuvre, (rig,) if rig else (), people,
                    self.at(start), first, end, free, planned.planned_efforts, watch,
                )
            )  # fmt: skip
        self.visits.append(PlacedVisit(who, "only", None, None, tuple(sorted(made, key=lambda a: a.start))))

    def at(self, seconds: int) -> datetime:
        """That many seconds after opening."""
        (hours,) = next(iter(self.study.open.values()))
        return hours.start + timedelta(seconds=seconds)

    def play(self, late_sd_s: int = 0, stop: Stop | None = None) -> DayOdds:
        """The day, played."""
        made = Schedule(
            self.study.name, 1, None, self.study.fingerprint, self.at(0), Outcome.FEASIBLE,
            len(self.visits), (), tuple(self.visits), tuple(self.tasks),
        )  # fmt: skip
        return play(self.study, self.plans, made, draws=DRAWS, late_sd_s=late_sd_s, stop=stop)


@pytest.fixture
def day(tmp_path: Path) -> Callable[..., Day]:
    """A function that makes a day of protocols a (two participants, A1 and A2) and b (B1)."""

    def make(
        a: str = BLOWS,
        b: str = THEN_DUE,
        late: str = "30 s",
        shifts: Sequence[str] = ("K1,mon,08:00,16:00,", "K2,mon,08:00,16:00,"),
        outages: Sequence[str] = (),
    ) -> Day:
        for name, visit in (("a", a), ("b", b)):
            head = f'format: 1\nname: {name}\ntitle: {name}\nversion: "1"{MANOEUVRES}visit:'
            (tmp_path / f"{name}.yaml").write_text(head + visit.replace("LATE", late), encoding="utf-8")
        tables = {
            "study.yaml": STUDY,
            "staff.csv": "person,roles\nK1,operator\nK2,lead\n",
            "shifts.csv": "\n".join(["person,days,from,to,breaks", *shifts, ""]),
            "participants.csv": "participant,group\nA1,a\nA2,a\nB1,b\n",
            "outages.csv": "\n".join(["rig,from,to", *outages, ""]),
        }
        for name, text in tables.items():
            (tmp_path / name).write_text(text, encoding="utf-8")
        study = read_study(tmp_path)
        return Day(study, visit_plans(study), [], [])

    return make


def chance(odds: DayOdds, who: str) -> float:
    """The chance of the one window of a visit."""
    (visit,) = (v for v in odds.visits if v.participant == who)
    (window,) = visit.windows
    assert window.chance is not None
    assert window.error is not None
    assert window.chance == pytest.approx(visit.all_windows, abs=1e-4)
    return window.chance


def near(value: float) -> object:
    """Within four standard errors of a share."""
    return pytest.approx(value, abs=4 * math.sqrt(value * (1 - value) / DRAWS) + 1e-4)


ROW, AFTER = (0, "E1", {"lead": "K2"}), (660, "M2", {"operator": "K1"})


def test_what_has_one_length_happens_as_planned(day: Callable[..., Day]) -> None:
    made = day(a="\n  - {id: first, title: Puff, measure: [puff]}")
    made.put("A1", (650, "M1", {"operator": "K1"}))
    made.put("B1", ROW, AFTER)
    odds = made.play()
    assert chance(odds, "B1") == 1.0
    assert list(odds.late_end_s.values()) == [(0, 0)]
    assert all(wait.minutes == 0 for wait in odds.waits)
    assert odds.bottleneck is None
    assert odds.past_shift == ()
    assert odds.error == 0


def test_one_random_block_before_a_window(day: Callable[..., Day]) -> None:
    """Planned to end as the due one begins; a third effort makes it 60 s late, and 30 s are allowed."""
    made = day()
    made.put("A1", (590, "M1", {"operator": "K1"}))
    made.put("B1", ROW, AFTER)
    odds = made.play()
    assert chance(odds, "B1") == near(SOON)
    assert odds.bottleneck is not None
    assert odds.bottleneck.name == "person K1"
    assert odds.bottleneck.minutes == near(1 - SOON)  # a minute in that share of days
    (late,) = odds.late_end_s.values()
    assert late == (pytest.approx(60 * (1 - SOON), abs=2), 60)


def test_room_before_the_window_is_enough_or_not(day: Callable[..., Day]) -> None:
    """30 s earlier, a third effort comes 30 s late: both ends of a window are in it. 29 s: a second over."""
    for start, expected in ((560, 1.0), (561, SOON)):
        made = day()
        made.put("A1", (start, "M1", {"operator": "K1"}))
        made.put("B1", ROW, AFTER)
        assert chance(made.play(), "B1") == near(expected)


@pytest.mark.parametrize(
    ("late", "expected"), [("30 s", SOON**2), ("60 s", 1 - (1 - SOON) ** 2), ("2 min", 1)]
)
def test_a_queue_of_two(day: Callable[..., Day], late: str, expected: float) -> None:
    """Two random blocks in a row: 0, 60 or 120 s late with p^2, 2p(1-p), (1-p)^2."""
    made = day(late=late)
    made.put("A1", (520, "M1", {"operator": "K1"}))
    made.put("A2", (590, "M1", {"operator": "K1"}))
    made.put("B1", ROW, AFTER)
    assert chance(made.play(), "B1") == near(expected)


def test_the_planned_order_is_kept(day: Callable[..., Day]) -> None:
    """What is planned after the due block waits for it, though the first has made everybody late."""
    made = day(late="2 min")
    made.put("A1", (590, "M1", {"operator": "K1"}))
    made.put("B1", ROW, AFTER)
    made.put("A2", (670, "M1", {"operator": "K1"}))
    odds = made.play()
    assert chance(odds, "B1") == 1.0
    waits = {wait.name: wait.minutes for wait in odds.waits}
    assert waits["rig M1"] == near(5 / 6 * (1 - SOON))  # the last one first waits 50 s for its meter
    assert waits["person K1"] == near(7 / 6 * (1 - SOON))  # then 10 s for K1, as the due one did for 60 s


def test_a_run_of_like_blocks_is_cleared_once_at_its_end(day: Callable[..., Day]) -> None:
    """Two blocks on one meter, a minute of clearing after the last only; the next wants that meter."""
    run = "\n  - {id: run, title: Run, measure: [blow, blow-and-clear]}"
    for start, expected in ((460, SOON**2), (430, 1 - (1 - SOON) ** 2), (370, 1.0)):
        made = day(a=run)
        made.put("A1", (start, "M1", {"operator": "K1"}), (start + 70, "M1", {"operator": "K1"}))
        made.put("B1", ROW, (660, "M1", {"operator": "K1"}))
        late = [start + 200 + 60 * extra - 660 for extra in (0, 1, 2)]
        shares = [SOON**2, 2 * SOON * (1 - SOON), (1 - SOON) ** 2]
        by_hand = sum(share for share, s in zip(shares, late, strict=True) if s <= 30)
        assert by_hand == pytest.approx(expected)
        assert chance(made.play(), "B1") == near(expected)


def test_who_watches_serves_nobody_else(day: Callable[..., Day]) -> None:
    """A bout of 8, 10 or 14 min (triangle), watched for 5 min; then the lead is due elsewhere at 16 min."""
    watched = """
  - {id: run, title: Run, exercise: true, takes: {about: 10 min, shortest: 8 min, longest: 14 min},
     staff: operator, watch: {staff: lead, for: 5 min}}"""
    due = """
  - {id: sit, title: Sit, rest: 10 min}
  - {id: after, title: After, measure: [pulse], due: {after: sit, at: 6 min, late: 30 s}}"""
    made = day(a=watched, b=due)
    made.put("A1", (0, "", {"operator": "K1", "watch": "K2"}))
    made.put("B1", (0, "", {}), (960, "", {"lead": "K2"}))
    within = 1 - (14 * 60 - 690) ** 2 / ((14 - 8) * 60 * (14 - 10) * 60)  # the bout ends by 11.5 min
    odds = made.play()
    assert chance(odds, "B1") == near(within)
    assert next(v for v in odds.visits if v.participant == "A1").left_alone == 0


def test_a_watch_without_the_watcher_is_counted(day: Callable[..., Day]) -> None:
    """The lead comes from a random bout to another's end: late in half of the days, by symmetry."""
    watched = """
  - {id: run, title: Run, exercise: true, takes: 10 min, staff: operator, watch: {staff: lead, for: 5 min}}"""
    bout = """
  - {id: row, title: Row, exercise: true, takes: {about: 10 min, shortest: 8 min, longest: 12 min},
     staff: lead}"""
    made = day(a=watched, b=bout)
    made.put("A1", (0, "", {"operator": "K1", "watch": "K2"}))
    made.put("B1", (0, "", {"lead": "K2"}))
    assert next(v for v in made.play().visits if v.participant == "A1").left_alone == near(0.5)


def test_what_serves_a_bout_serves_the_blocks_inside_it(day: Callable[..., Day]) -> None:
    """A block in a bout on the bout's own rig with its own lead never waits for the bout's end."""
    bout = """
  - id: row
    title: Row
    exercise: true
    takes: 10 min
    rig: ergometer
    staff: lead
    during: [{measure: [pulse, pace], at: 5 min, late: 30 s}]"""
    made = day(b=bout)
    made.put("B1", (0, "E1", {"lead": "K2"}), (300, "", {"lead": "K2"}), (310, "E1", {"lead": "K2"}))
    odds = made.play()
    assert chance(odds, "B1") == 1.0
    assert list(odds.late_end_s.values()) == [(0, 0)]


def test_another_who_serves_a_block_in_a_bout_may_come_late(day: Callable[..., Day]) -> None:
    bout = """
  - id: row
    title: Row
    exercise: true
    takes: 10 min
    rig: ergometer
    staff: lead
    during: [{measure: [puff], at: 5 min, late: 30 s}]"""
    made = day(b=bout)
    made.put("A1", (230, "M1", {"operator": "K1"}))
    made.put("B1", (0, "E1", {"lead": "K2"}), (300, "M2", {"operator": "K1"}))
    assert chance(made.play(), "B1") == near(SOON)


def test_a_break_is_taken_whole(day: Callable[..., Day]) -> None:
    """A block that runs a minute into a break moves the break, and the block after it, by a minute."""
    made = day(shifts=("K1,mon,08:00,16:00,08:05-08:11", "K2,mon,08:00,16:00,"))
    made.put("A1", (230, "M1", {"operator": "K1"}))
    made.put("B1", ROW, AFTER)
    assert chance(made.play(), "B1") == near(SOON)


def test_an_outage_ends_by_the_clock(day: Callable[..., Day]) -> None:
    """The same with the meter out of use: its outage ends when it ends."""
    made = day(outages=("M1,2027-03-01T08:05,2027-03-01T08:11",))
    made.put("A1", (230, "M1", {"operator": "K1"}))
    made.put("B1", ROW, (660, "M1", {"operator": "K1"}))
    assert chance(made.play(), "B1") == 1.0


def test_nobody_begins_before_the_shift(day: Callable[..., Day]) -> None:
    """A short bout makes the block after it due before the operator comes: who comes at 8:11 is not early."""
    due = THEN_DUE.replace("takes: 10 min", "takes: {about: 10 min, shortest: 8 min, longest: 12 min}")
    made = day(b=due, shifts=("K1,mon,08:11,16:00,", "K2,mon,08:00,16:00,"))
    made.put("B1", ROW, AFTER)
    early = (570 - 480) ** 2 / ((12 - 8) * 60 * (10 - 8) * 60)  # the bout ends more than 30 s early
    assert chance(made.play(), "B1") == near(1 - early)


def test_who_stays_past_the_shift_is_told(day: Callable[..., Day]) -> None:
    made = day(shifts=("K1,mon,08:00,08:10,", "K2,mon,08:00,16:00,"))
    made.put("A1", (530, "M1", {"operator": "K1"}))
    (over,) = made.play().past_shift
    assert over.name == "person K1"
    assert over.minutes == near(1 - SOON)


@pytest.mark.parametrize("breaks", ["12:00-12:30", "15:30-16:00"])
def test_a_break_or_an_absence_at_the_end_of_a_shift_is_no_work(day: Callable[..., Day], breaks: str) -> None:
    made = day(shifts=(f"K1,mon,08:00,16:00,{breaks}", "K2,mon,08:00,16:00,"))
    made.put("A1", (530, "M1", {"operator": "K1"}))
    assert made.play().past_shift == ()


def test_who_is_told_to_stop_plays_no_further_day(day: Callable[..., Day]) -> None:
    made = day()
    made.put("A1", (530, "M1", {"operator": "K1"}))
    assert made.play().unplayed == 0
    odds = made.play(stop=lambda: True)
    assert (odds.unplayed, odds.visits) == (1, ())
    assert "1 of 1 days not played" in odds_words(odds)


def test_what_is_assumed_and_each_time_point_are_said(day: Callable[..., Day]) -> None:
    made = day(b=THEN_DUE)
    made.put("B1", ROW, AFTER)
    words = odds_words(made.play())
    assert "every participant arrives on time" in words
    assert "over 1 visits, least" in words
    assert "give or take less than 0.1%" in words
    assert "SD 5 min: 4 min on average, one of ten 8 min or more" in late_words(300)


def test_a_task_before_first_use_waits_and_is_waited_for(day: Callable[..., Day]) -> None:
    """The operator comes late to the spirometer's first task, which ends as a due effort on it begins."""
    made = day(b=THEN_DUE.replace("[puff]", "[sniff]"))
    made.put("A1", (0, "M1", {"operator": "K1"}))
    made.put("B1", (10, "E1", {"lead": "K2"}), (670, "S1", {"operator": "K1"}))
    made.tasks.append(RigTask("S1", {"operator": "K1"}, made.at(70), made.at(670)))
    odds = made.play()
    assert chance(odds, "B1") == near(SOON)
    assert {w.name: w.minutes for w in odds.waits}["rig S1"] == near(1 - SOON)


def test_late_arrivals_push_others(day: Callable[..., Day]) -> None:
    """Arrivals late by |Z1| and |Z2| minutes: the due block is lost where |Z1| - |Z2| exceeds 0.5."""
    made = day(a="\n  - {id: first, title: Puff, measure: [puff]}")
    made.put("A1", (650, "M1", {"operator": "K1"}))
    made.put("B1", ROW, AFTER)
    steps = [0.001 * (n + 0.5) for n in range(8000)]
    half_normal = [2 * math.exp(-y * y / 2) / math.sqrt(2 * math.pi) for y in steps]
    beyond = [math.erfc((y + 0.5) / math.sqrt(2)) for y in steps]
    lost = sum(0.001 * f * b for f, b in zip(half_normal, beyond, strict=True))
    assert chance(made.play(late_sd_s=60), "B1") == near(1 - lost)
