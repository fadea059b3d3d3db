"""Which day, which visit, who and where: the head of the Test day page."""

from __future__ import annotations

from datetime import date

import streamlit as st

from planner.documents.qr import read_code
from planner.pages import access
from planner.pages.day_scene import Scene, visit_name
from planner.pages.touch import address
from planner.record.access import Actor
from planner.record.drafts import Hand
from planner.record.dry_run import dry_run
from planner.record.live import visit_now
from planner.record.met import met
from planner.record.store import Store
from planner.schedule.beside_asked import asked_visit
from planner.schedule.model import PlacedVisit, Schedule
from planner.study.model import Study
from planner.timing.followed import followed
from planner.timing.plan import VisitPlan

DAY, STATION = "day-date", "day-station"


def choose(
    study: Study, schedule: Schedule, plans: dict[str, VisitPlan], store: Store
) -> Scene | PlacedVisit | None:
    """The visit that is chosen; what the address says comes first, then the next day without record.

    One that the study's files no longer ask for has no scene: it stays as the plan has it.
    """
    day_box, visit_box, who_box, where_box = st.columns([3, 4, 2, 2])
    _first_choice(study, schedule, plans, store)
    day = day_box.selectbox(
        "Day", schedule.dates, format_func=lambda d: f"{d:%a %d %b %Y}", key=DAY, persist_state="session"
    )
    if day is None:
        return None
    with visit_box:
        placed = _visit(study, schedule, plans, store, day)
    with who_box:
        person = access.pick(study)
    with where_box:
        station = _station()
        number = schedule.visits.index(placed) + 1 if placed else 0
        address("day", {"day": day.isoformat(), "visit": str(number or ""), "station": station})
    if placed is None:
        return None
    visit = asked_visit(placed, study)
    if visit is None:
        return placed
    return Scene(
        study, schedule, followed(plans[visit.protocol]), placed, number, visit, store,
        _hand(person, station, schedule), dry_run(study),
    )  # fmt: skip


def _hand(person: Actor | None, station: str, schedule: Schedule) -> Hand:
    if person is None:
        return Hand("", "not named", station, schedule.version)
    return Hand(person.code, person.how, station, schedule.version)


def _station() -> str:
    """This device's name, kept in the address so that a reload keeps it."""
    if STATION not in st.session_state:
        st.session_state[STATION] = st.query_params.get("station", "")[:40]
    name = st.text_input(
        "Station", key=STATION, max_chars=40, placeholder="such as rig 1", persist_state="session"
    )
    return name or ""


def _first_choice(study: Study, schedule: Schedule, plans: dict[str, VisitPlan], store: Store) -> None:
    """On the first run of a tab: what the address says, else today, else the next day without record."""
    if DAY in st.session_state:
        return
    asked = st.query_params.get("day", "")
    days = {day.isoformat(): day for day in schedule.dates}
    number = st.query_params.get("visit", "")
    st.session_state[DAY] = days[asked] if asked in days else next_day(study, schedule, store)
    if number.isdigit() and 1 <= int(number) <= len(schedule.visits):
        named = schedule.visits[int(number) - 1]
        if named.date == st.session_state[DAY] or not asked:
            jump_to(schedule, named)


def next_day(study: Study, schedule: Schedule, store: Store) -> date | None:
    """Today where the plan has visits today, else the first day without record, else the last."""
    if not schedule.dates:
        return None
    if (today := store.now().date()) in schedule.dates:
        return today
    known = met(store, (_key(visit) for visit in schedule.visits))
    return next(
        (d for d in schedule.dates if not any(_key(visit) in known for visit in schedule.on(d))),
        schedule.dates[-1],
    )


def _key(placed: PlacedVisit) -> tuple[str, str, int | None]:
    return placed.participant, placed.visit, placed.number


def jump_to(schedule: Schedule, placed: PlacedVisit) -> None:
    """Make that visit the chosen one."""
    st.session_state[DAY] = placed.date
    st.session_state[_visit_key(placed.date)] = schedule.visits.index(placed) + 1


def _visit_key(day: date) -> str:
    return f"day-visit-{day.isoformat()}"


def _visit(
    study: Study, schedule: Schedule, plans: dict[str, VisitPlan], store: Store, day: date
) -> PlacedVisit | None:
    """One of the day's visits; the first that is not over where none was chosen."""
    numbers = {schedule.visits.index(visit) + 1: visit for visit in schedule.on(day)}
    key = _visit_key(day)
    if st.session_state.get(key) not in numbers:
        st.session_state[key] = _first_open(study, plans, store, numbers)
    chosen = st.selectbox(
        "Visit", list(numbers), format_func=lambda n: _label(n, numbers[n]), key=key, persist_state="session"
    )
    return numbers.get(chosen)


def _label(number: int, placed: PlacedVisit) -> str:
    return f"{number}: {placed.start:%H:%M} {placed.participant}, {visit_name(placed)}"


def _first_open(
    study: Study, plans: dict[str, VisitPlan], store: Store, numbers: dict[int, PlacedVisit]
) -> int:
    for number, placed in numbers.items():
        visit = asked_visit(placed, study)
        if visit is None:
            continue
        shown = visit_now(store, visit, plans[visit.protocol], placed, now=store.now())
        if shown.current is not None and not shown.stopped:
            return number
    return next(iter(numbers))


def by_code(study: Study, schedule: Schedule) -> None:
    """Jump to the visit of a run sheet by the text of its square code, scanned or typed."""

    def jump() -> None:
        said = st.session_state["day-code"]
        try:
            code = read_code(said)
        except ValueError:
            st.session_state["day-code-said"] = "This is not the code of a run sheet."
            return
        found = [v for v in schedule.visits if (v.participant, v.file_id) == (code.participant, code.visit)]
        st.session_state["day-code-said"] = _code_words(found, code.version, schedule.version)
        if found:
            jump_to(schedule, found[0])

    st.text_input(
        "Code of a run sheet",
        key="day-code",
        on_change=jump,
        help="Scan the square code of the sheet into this field, or paste its text.",
    )
    if said := st.session_state.get("day-code-said"):
        st.info(said)


def _code_words(found: list[PlacedVisit], version: int, in_force: int) -> str:
    if not found:
        return "The plan in force has no such visit. The sheet may belong to another plan or study."
    if version != in_force:
        return (
            f"This sheet was printed from plan {version}; plan {in_force} is in force. Use the newer sheet: "
            "its times may differ."
        )
    return "The sheet's visit is shown."
