"""What a person sees on the Test day page, and what a tap records."""

from __future__ import annotations

import io
import json
import shutil
import zipfile
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

import psutil
import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest

from planner.clock import later
from planner.pages import solving
from planner.pages.day_choose import next_day
from planner.pages.day_deeds import last_words, take_back, tap
from planner.pages.day_now import count_of, stays
from planner.pages.day_pad import keys
from planner.pages.day_replan import _sheets
from planner.pages.day_scene import Scene, acting, instead
from planner.record.actions import Typed
from planner.record.drafts import Hand
from planner.record.dry_run import DryRun, begin
from planner.record.effort import VisitKey
from planner.record.events import Content, Draft, Kind
from planner.record.parts import Part, Status
from planner.record.store import Store, open_store
from planner.record.tables import events_query
from planner.schedule.beside_asked import asked_visit
from planner.schedule.in_force import put_in_force
from planner.schedule.model import Schedule
from planner.schedule.plan_file import read_plan
from planner.schedule.plans import visit_plans
from planner.study.model import Study
from planner.study.read import read_study

ROOT = Path(__file__).parents[2]
DATA = ROOT / "tests" / "data"
FOLDS = ("day-more-trouble", "day-more-rare")
ROWING_1 = 3  # the number in the plan of ROW-01's first rowing visit


@pytest.fixture
def study(tmp_path: Path) -> Study:
    """The small study in a fresh folder."""
    shutil.copytree(DATA / "small", tmp_path / "small")
    return read_study(tmp_path / "small")


@pytest.fixture
def schedule(study: Study) -> Schedule:
    """Its plan, put in force."""
    found = read_plan(DATA / "small-plan.json", study)
    put_in_force(study.folder, found)
    return found


@pytest.fixture
def store(study: Study) -> Iterator[Store]:
    """Its record, with a clock that the test moves."""
    with open_store(study) as opened:
        yield opened


class Clock:
    """A clock that stands still until it is moved."""

    def __init__(self, now: datetime) -> None:
        self.now = now

    def __call__(self) -> datetime:
        return self.now

    def wait(self, seconds: int) -> None:
        self.now = later(self.now, seconds)


@pytest.fixture
def clock(store: Store, study: Study) -> Clock:
    """Moves the record's clock."""
    store.writer.clock = Clock(datetime(2027, 3, 2, 8, 5, tzinfo=study.zone))
    return store.writer.clock


@pytest.fixture
def scene(study: Study, schedule: Schedule, store: Store) -> Scene:
    """ROW-01's first rowing visit at rig 1 with K1."""
    placed = schedule.visits[ROWING_1 - 1]
    visit = asked_visit(placed, study)
    plan = visit_plans(study)[visit.protocol]
    return Scene(
        study, schedule, plan, placed, ROWING_1, visit, store, Hand("K1", "picked", "rig 1", 1), None
    )


def send(scene: Scene, deed: str, times: int = 1) -> None:
    """Tap the button of that deed as shown now, the same shown button as often as said."""
    shown = scene.look()
    part = acting(shown)
    assert part is not None
    key = next(key for row in keys(shown, part) for key in row if key.deed == deed)
    assert key.enabled
    said = {"deed": key.deed, "token": key.token, "part": key.part, "number": key.number, "device": ""}
    for _ in range(times):
        assert not tap(scene, said).refused


def enabled(scene: Scene) -> set[str]:
    shown = scene.look()
    part = acting(shown)
    return set() if part is None else {k.label for row in keys(shown, part) for k in row if k.enabled}


def kinds(store: Store) -> list[str]:
    return [row.kind for row in store.read(events_query())]


def to_first_block(scene: Scene) -> None:
    send(scene, "begin")
    send(scene, "end")


def now_part(scene: Scene) -> Part:
    part = acting(scene.look())
    assert part is not None
    return part


def test_a_tap_sent_three_times_is_recorded_once(scene: Scene, store: Store, clock: Clock):
    send(scene, "begin", 3)
    send(scene, "end", 3)
    send(scene, "start", 3)
    send(scene, "done", 3)
    send(scene, "not now", 3)
    send(scene, "stopped", 3)
    assert kinds(store) == [Kind.MARK, Kind.MARK, Kind.EFFORT, Kind.DONE, Kind.NOT_NOW, Kind.MARK]


def test_a_tap_on_what_another_station_changed_meanwhile_still_counts(
    scene: Scene, store: Store, clock: Clock
):
    to_first_block(scene)
    shown = scene.look()
    key = keys(shown, now_part(scene))[0][0]
    scene.day(shown).note("window opened")
    said = {"deed": key.deed, "token": key.token, "part": key.part, "number": key.number, "device": ""}
    assert not tap(scene, said).refused
    assert kinds(store)[-2:] == [Kind.NOTE, Kind.EFFORT]


def test_a_tap_that_names_no_part_is_refused(scene: Scene, store: Store, clock: Clock):
    said = {"deed": "start", "token": "x", "part": 99, "number": 1, "device": "no time"}
    assert tap(scene, said).refused
    assert kinds(store) == []


def test_the_buttons_are_those_that_the_state_asks_for(scene: Scene, clock: Clock):
    safety = {"Not now", "Stopped"}
    assert enabled(scene) == {"Started", "Done"} | safety
    to_first_block(scene)
    assert enabled(scene) == {"Effort 1 started"} | safety
    send(scene, "start")
    assert enabled(scene) == {"Effort 1 done"} | safety
    send(scene, "done")
    assert enabled(scene) == {"Effort 2 started"} | safety
    send(scene, "stopped")
    assert enabled(scene) == set()


def test_no_effort_is_offered_beyond_at_most(scene: Scene, clock: Clock):
    to_first_block(scene)
    for _ in range(5):  # at_most of fvc
        send(scene, "start")
        clock.wait(20)
        send(scene, "done")
    assert now_part(scene).activity.manoeuvre == "mip"
    fvc = next(part for part in scene.look().parts if part.activity.manoeuvre == "fvc")
    assert not fvc.may_start_effort
    assert "finished without agreement" in fvc.agreement.words


def test_the_rest_counts_from_the_stored_end_of_the_effort(scene: Scene, clock: Clock):
    to_first_block(scene)
    send(scene, "start")
    clock.wait(20)
    send(scene, "done")
    clock.wait(13)
    count = count_of(scene.look(), now_part(scene))
    assert (count.seconds, count.label) == (30 - 13, "of the rest left")
    clock.wait(20)
    count = count_of(scene.look(), now_part(scene))
    assert count.seconds <= 0
    assert count.over == "may start when the participant is ready"


def to_exercise(scene: Scene, clock: Clock) -> None:
    """Through everything before the bout, each block to its most efforts."""
    to_first_block(scene)
    while now_part(scene).is_block:
        send(scene, "start")
        clock.wait(10)
        send(scene, "done")


def test_due_times_count_from_the_recorded_end_of_exercise(scene: Scene, clock: Clock):
    to_exercise(scene, clock)
    send(scene, "begin")
    clock.wait(500)  # shorter than planned
    send(scene, "end")
    ended = clock.now
    clock.wait(30)
    part = now_part(scene)
    assert (part.activity.step, part.activity.at_s) == ("after", 120)
    assert part.due.at == later(ended, 120)
    count = count_of(scene.look(), part)
    assert count.seconds == 90
    clock.wait(110)  # 2 min 20 s after the end: inside the window of 1 min
    assert count_of(scene.look(), part).seconds == 40
    assert part.due.word(scene.now()) == "due"
    clock.wait(60)
    late = count_of(scene.look(), now_part(scene))
    assert (late.seconds, late.up) == (20, True)


def test_who_stays_after_exercise_is_said_until_the_time_is_over(scene: Scene, clock: Clock):
    """As on the run sheet: until 10 min after the recorded end of rowing."""
    to_exercise(scene, clock)
    send(scene, "begin")
    assert not list(stays(scene.look()))
    clock.wait(500)
    send(scene, "end")
    until = later(clock.now, 600)
    clock.wait(590)
    assert list(stays(scene.look())) == [f"Stays with the participant until {until:%H:%M:%S}: **lead K3**"]
    clock.wait(10)
    assert not list(stays(scene.look()))


def test_nobody_is_left_alone_where_a_visit_is_stopped_in_exercise(scene: Scene, clock: Clock):
    to_exercise(scene, clock)
    send(scene, "begin")
    clock.wait(100)
    send(scene, "stopped")
    (words,) = stays(scene.look())
    assert words.startswith(f"Stays with the participant until {later(clock.now, 600):%H:%M:%S}")


def test_a_block_reads_as_on_the_run_sheet(app: AppTest, scene: Scene):
    open_visit(app)
    block = next(part for part in scene.look().parts if part.is_block)
    assert f"{block.planned.start:%H:%M} {block.planned.first_effort:%H:%M}" == "08:10 08:11"
    said = words(app).replace("\\", "").replace("**", "")
    assert "planned 08:11: FVC efforts · S1 · operator K1" in said  # its line of the sheet
    row = app.table[-1].value.iloc[block.index]
    assert (row["What"], row["Planned"]) == ("Measures before rowing: Forced vital capacity", "08:11")


def test_a_block_inside_exercise_is_not_at_risk_because_exercise_goes_on(scene: Scene, clock: Clock):
    to_exercise(scene, clock)
    send(scene, "begin")
    shown = scene.look()
    assert now_part(scene).activity.inside is not None
    assert shown.at_risk == ()
    clock.wait(8 * 60)  # due at 6 min, late by 1 min at most
    assert [risk.sure for risk in scene.look().at_risk] == [True]


def test_where_a_window_was_missed_the_part_after_it_is_offered_too(scene: Scene, clock: Clock):
    to_exercise(scene, clock)
    send(scene, "begin")
    clock.wait(300)
    send(scene, "end")
    shown = scene.look()
    assert instead(shown, acting(shown)) is None
    clock.wait(3 * 60)  # both ends of a window are on time
    shown = scene.look()
    assert instead(shown, acting(shown)) is None
    clock.wait(1)
    shown = scene.look()
    after = instead(shown, acting(shown))
    assert after is not None
    assert (after.activity.step, after.activity.at_s, after.activity.manoeuvre) == ("after", 900, "fvc-short")
    send(scene, "start")  # late, as it may be
    shown = scene.look()
    assert instead(shown, acting(shown)) is None


def test_while_a_rest_lasts_the_part_after_it_is_offered(scene: Scene, clock: Clock):
    to_exercise(scene, clock)
    send(scene, "begin")
    send(scene, "end")
    for _ in range(2):
        while now_part(scene).is_block:
            send(scene, "start")
            clock.wait(10)
            send(scene, "done")
    shown = scene.look()
    assert shown.parts[shown.current].activity.step == "sit"
    assert now_part(scene).activity.step == "farewell"


def test_taking_back_names_what_goes_and_keeps_it_in_the_record(scene: Scene, store: Store, clock: Clock):
    to_first_block(scene)
    send(scene, "start")
    clock.wait(20)
    send(scene, "done")
    shown = scene.look()
    part = now_part(scene)
    scene.day(shown).finish_effort(part, 1, {"FVC": Typed(Decimal("4.80"))}, ended=part.efforts[0].done)
    assert last_words(scene) == "effort 1 of Forced vital capacity"
    token = scene.look().token("undo")
    assert not take_back(scene, token).refused
    assert now_part(scene).efforts == ()
    assert kinds(store).count(Kind.READING) == 1
    assert last_words(scene) == "the end of Arrival and questions"


def test_an_effort_begun_again_after_it_was_taken_back_is_under_way(scene: Scene, clock: Clock):
    to_first_block(scene)
    send(scene, "start")
    clock.wait(20)
    send(scene, "done")
    assert not take_back(scene, scene.look().token("undo")).refused
    clock.wait(20)
    send(scene, "start")
    assert now_part(scene).in_hand == 1


def test_the_next_day_without_record_is_shown_first(
    scene: Scene, study, schedule, store: Store, clock: Clock
):
    clock.now = datetime(2027, 2, 1, tzinfo=study.zone)
    assert next_day(study, schedule, store) == schedule.dates[0]
    for number in (0, 1):
        placed = schedule.visits[number]
        visit = asked_visit(placed, study)
        other = replace(scene, placed=placed, visit=visit, plan=visit_plans(study)[visit.protocol])
        send(other, "begin")
    assert next_day(study, schedule, store) == next(
        d for d in schedule.dates if not _met(schedule, d, (0, 1))
    )
    clock.now = datetime(2027, 3, 2, 9, tzinfo=study.zone)
    assert next_day(study, schedule, store) == clock.now.date()


def _met(schedule: Schedule, day: object, numbers: tuple[int, ...]) -> bool:
    return any(schedule.visits[number].date == day for number in numbers)


def test_sheets_of_a_mended_plan_take_back_what_has_gone(scene: Scene, schedule: Schedule, monkeypatch):
    """RFC 5545, 3.8.1.11 and 3.8.7.4 (from memory): what is gone is cancelled, with a higher SEQUENCE."""
    monkeypatch.setenv("TESTDAY_STUDY", str(scene.study.folder))
    gone = schedule.visits[4]
    others = tuple(visit for visit in schedule.visits if visit != gone)
    mended = replace(schedule, version=2, replaces=1, visits=others)
    put_in_force(scene.study.folder, mended)
    there = next(visit for visit in others if visit.date == gone.date)
    now = replace(scene, schedule=mended, placed=there)
    with zipfile.ZipFile(io.BytesIO(_sheets(now)())) as archive:
        names = archive.namelist()
        calendars = {name: archive.read(name).decode() for name in names if name.endswith(".ics")}
    assert any(name.startswith("run-sheet_") for name in names)
    gone_of = [text for name, text in calendars.items() if f"cancel_participant_{gone.participant}" in name]
    assert len(gone_of) == 1
    assert "METHOD:CANCEL" in gone_of[0]
    assert "STATUS:CANCELLED" in gone_of[0]
    assert "SEQUENCE:2" in gone_of[0]


@pytest.fixture
def app(study: Study, schedule: Schedule, monkeypatch: pytest.MonkeyPatch) -> AppTest:
    """The page on the small study."""
    st.cache_data.clear()
    st.cache_resource.clear()
    monkeypatch.setenv("TESTDAY_STUDY", str(study.folder))
    test = AppTest.from_file(ROOT / "app.py", default_timeout=60)
    test.run()
    for folded in FOLDS:
        test.session_state[folded] = True
    return test.switch_page("planner/pages/day.py")


def words(app: AppTest) -> str:
    boxes = [*app.title, *app.header, *app.subheader, *app.markdown, *app.info, *app.warning, *app.error]
    return "\n".join(str(one.value) for one in boxes)


def open_visit(app: AppTest, number: int = ROWING_1) -> None:
    app.query_params["day"], app.query_params["visit"] = "2027-03-02", str(number)
    app.run()
    app.selectbox(key="access-person").set_value("K1").run()


def test_without_a_plan_the_page_says_where_to_make_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    st.cache_resource.clear()
    shutil.copytree(DATA / "small", tmp_path / "small")
    monkeypatch.setenv("TESTDAY_STUDY", str(tmp_path / "small"))
    app = AppTest.from_file(ROOT / "app.py", default_timeout=60).run()
    app.switch_page("planner/pages/day.py").run()
    assert app.title[0].value == "What now?"
    assert "Schedule page" in words(app)


def test_the_page_shows_now_next_and_safety_in_one_size(app: AppTest):
    open_visit(app)
    assert app.title[0].value == "What now?"
    heads = [one.value for one in app.subheader]
    assert heads[:3] == [
        "Now: Arrival and questions",
        "A participant who is unwell comes before any time.",
        "Next: Forced vital capacity",
    ]
    assert not app.exception


def test_what_is_rare_is_drawn_where_it_is_asked_for(app: AppTest):
    for folded in FOLDS:
        app.session_state[folded] = False
    open_visit(app)
    rare = {"day-signal", "day-code", "day-trouble", "day-mend", "day-speed", "day-dry-begin"}
    assert not rare & {one.key for one in drawn(app)}, "each costs every tap some of its time"
    for folded in FOLDS:
        app.session_state[folded] = True
    assert rare <= {one.key for one in drawn(app.run())}


def drawn(app: AppTest) -> list[Any]:
    kinds = ("button", "button_group", "checkbox", "select_slider", "selectbox", "text_input", "toggle")
    return [one for kind in kinds for one in app.get(kind)]


def test_a_blind_visit_never_shows_its_condition(app: AppTest, study: Study):
    open_visit(app)
    labels = app.selectbox(key="day-visit-2027-03-02").options
    assert any("rowing 1" in label for label in labels)
    everything = words(app) + str(labels) + str([table.value for table in app.table])
    assert all(condition not in everything for condition in study.kind("rowing").conditions)


def test_a_visit_that_was_stopped_asks_for_nothing_more(app: AppTest, scene: Scene, clock: Clock):
    to_first_block(scene)
    send(scene, "start")
    send(scene, "stopped")
    open_visit(app)
    assert "No reason is asked." in words(app)
    assert "more acceptable effort" not in words(app)
    assert "To come if all goes as planned" not in words(app)
    assert "under way" not in words(app)
    assert "begun, its end is not recorded" in words(app)


def test_who_has_not_said_who_they_are_is_asked_before_anything_is_recorded(app: AppTest):
    app.run()
    assert "Choose your staff code above, then record." in words(app)


def test_a_note_that_looks_like_a_person_is_asked_about(app: AppTest, study: Study):
    open_visit(app)
    note = next(one for one in app.text_input if one.label == "Note")
    note.set_value("called Anna Example at home")
    next(one for one in app.button if one.label == "Keep note").click()
    app.run()
    assert "looks as if it held a name" in words(app)
    with open_store(study) as store:
        assert kinds(store) == []
    app.button(key="day-note-keep").click().run()
    with open_store(study) as store:
        assert kinds(store) == [Kind.NOTE]


def test_a_plain_note_is_kept_at_once_and_shown(app: AppTest):
    open_visit(app)
    next(one for one in app.text_input if one.label == "Note").set_value("coughed once")
    next(one for one in app.button if one.label == "Keep note").click()
    app.run()
    assert "coughed once" in words(app)


def someone_else_records(monkeypatch: pytest.MonkeyPatch, study: Study) -> None:
    """From now on another station records something each time that the page looks into the record."""
    from planner.pages import day_scene

    plain = day_scene.newest

    def newest(store: Store, key: VisitKey) -> str:
        said = Content(note="door opened")
        with open_store(study) as other:
            place = (key.participant, key.visit, key.number)
            other.append([Draft(Kind.NOTE, *place, started=other.now().isoformat(), content=said)])
        return plain(store, key)

    monkeypatch.setattr(day_scene, "newest", newest)


def test_a_note_is_kept_while_others_record(app: AppTest, study: Study, monkeypatch: pytest.MonkeyPatch):
    """What has come makes the page begin anew; what was sent with the tap before must not be lost by that."""
    open_visit(app)
    next(one for one in app.text_input if one.label == "Note").set_value("coughed once")
    next(one for one in app.button if one.label == "Keep note").click()
    someone_else_records(monkeypatch, study)
    app.run()
    with open_store(study) as store:
        said = [row.note for row in store.read(events_query())]
    assert said.count("coughed once") == 1


def test_readings_are_kept_while_others_record(
    app: AppTest, scene: Scene, study: Study, monkeypatch: pytest.MonkeyPatch
):
    to_first_block(scene)
    send(scene, "start")
    send(scene, "done")
    open_visit(app)
    next(one for one in app.number_input if one.label == "FVC, L").set_value(4.8)
    next(one for one in app.button if one.label == "Keep these readings").click()
    someone_else_records(monkeypatch, study)
    app.run()
    with open_store(study) as store:
        assert [str(line.value) for line in store.lines() if line.reading == "FVC"] == ["4.80"]


def test_a_correction_is_kept_while_others_record(
    app: AppTest, scene: Scene, study: Study, monkeypatch: pytest.MonkeyPatch
):
    to_first_block(scene)
    send(scene, "start")
    shown = scene.look()
    typed = {"FVC": Typed(Decimal("4.80")), "FEV1": Typed(Decimal("3.90"))}
    scene.day(shown).finish_effort(shown.parts[shown.current or 0], 1, typed)
    open_visit(app)
    next(one for one in app.number_input if one.label == "It should be").set_value(3.8)
    next(one for one in app.text_input if one.label == "Why").set_value("misread")
    next(one for one in app.button if one.label == "Correct it").click()
    someone_else_records(monkeypatch, study)
    app.run()
    with open_store(study) as store:
        assert [str(line.value) for line in store.lines() if line.reading == "FEV1"] == ["3.8"]


def test_readings_are_typed_with_their_units_and_the_rule_is_said(app: AppTest, scene: Scene, study: Study):
    to_first_block(scene)
    send(scene, "start")
    send(scene, "done")
    open_visit(app)
    inputs = {one.label: one for one in app.number_input}
    assert {"FVC, L", "FEV1, L"} <= set(inputs)
    inputs["FVC, L"].set_value(4.8)
    inputs["FEV1, L"].set_value(3.9)
    next(one for one in app.button if one.label == "Keep these readings").click()
    app.run()
    assert "At least 2 more acceptable efforts" in words(app)
    with open_store(study) as store:
        assert [str(line.value) for line in store.lines() if line.reading == "FVC"] == ["4.80"]


def test_the_code_of_a_sheet_leads_to_its_visit(app: AppTest, schedule: Schedule):
    open_visit(app)
    target = schedule.visits[0]
    app.text_input(key="day-code").set_value(f"testday:1:{target.participant}:{target.file_id}:1").run()
    assert app.selectbox(key="day-date").value == target.date
    assert "The sheet's visit is shown." in words(app)
    app.text_input(key="day-code").set_value("something else").run()
    assert "This is not the code of a run sheet." in words(app)


def test_a_sheet_of_an_older_plan_is_said_to_be_old(app: AppTest, schedule: Schedule):
    open_visit(app)
    target = schedule.visits[0]
    app.text_input(key="day-code").set_value(f"testday:1:{target.participant}:{target.file_id}:7").run()
    assert "This sheet was printed from plan 7; plan 1 is in force." in words(app)


def test_stop_if_says_stop_and_ask(scene: Scene, app: AppTest, study: Study):
    file = study.folder / "rowing.yaml"
    rule = "    stop_if: [{reading: FEV1, falls_below: 80 %, of: first}]\n    clear: {takes: 2 min"
    file.write_text(file.read_text("utf-8").replace("    clear: {takes: 2 min", rule, 1), "utf-8")
    to_first_block(scene)
    for value in ("3.90", "3.00"):
        send(scene, "start")
        send(scene, "done")
        part = now_part(scene)
        last = part.efforts[-1]
        scene.day(scene.look()).finish_effort(
            part, last.number, {"FEV1": Typed(Decimal(value))}, ended=last.done
        )
    open_visit(app)
    assert "Stop. Ask the responsible person." in words(app).replace("\\", "")


def test_a_dry_run_has_its_own_clock_and_record(app: AppTest, study: Study, schedule: Schedule):
    placed = schedule.visits[ROWING_1 - 1]
    with open_store(study) as store:
        begin(study, DryRun(store.now(), placed.start, 1.0, False, ROWING_1))
    open_visit(app)
    assert "Dry run." in words(app)
    next(one for one in app.text_input if one.label == "Note").set_value("trying it out")
    next(one for one in app.button if one.label == "Keep note").click()
    app.run()
    with open_store(study) as real, open_store(study, rehearsed=True) as rehearsed:
        assert kinds(real) == []
        assert kinds(rehearsed) == [Kind.NOTE]


def test_a_mended_plan_is_shown_and_comes_into_force_only_when_accepted(app: AppTest, study, schedule):
    from planner.pages.solving import PROPOSAL
    from planner.schedule.in_force import in_force
    from planner.schedule.model import Change
    from planner.schedule.plan_file import write_plan

    moved = Change("ROW-01", "rowing-1", "ROW-01 rowing 1 starts at 08:20 instead of 08:05.")
    write_plan(
        replace(schedule, version=2, replaces=1, changes=(moved,)), study.folder / ".testday" / PROPOSAL
    )
    open_visit(app)
    assert "Plan 2 would replace plan 1" in words(app)
    assert "ROW-01 rowing 1 starts at 08:20 instead of 08:05." in words(app).replace("\\", "")
    assert "Nothing moves." in words(app)  # the plan that the test hands in is the same but for its words
    assert read_plan(in_force(study.folder), study).version == 1
    app.button(key="day-mend-accept").click().run()
    assert read_plan(in_force(study.folder), study).version == 2
    with open_store(study) as store:
        assert [(row.kind, row.who, row.plan_version) for row in store.read(events_query())] == [
            (Kind.PLAN, "K1", 2)
        ]
    assert "Plan 2 would replace" not in words(app)


def test_a_plan_that_the_record_knows_with_other_content_is_not_put_in_force(app: AppTest, study, schedule):
    """Two plans of one number: whoever comes second is told, and it is not in force."""
    from planner.pages.solving import PROPOSAL
    from planner.schedule.in_force import in_force
    from planner.schedule.plan_file import write_plan

    with open_store(study) as store:
        store.plan_in_force(replace(schedule, version=2, fingerprint="another"), by="K1")
    write_plan(replace(schedule, version=2, replaces=1), study.folder / ".testday" / PROPOSAL)
    open_visit(app)
    app.button(key="day-mend-accept").click().run()
    app.run()  # another second
    assert "in force already with other content; make a new version" in words(app).replace("\\", "")
    assert read_plan(in_force(study.folder), study).version == 1


def test_that_a_mending_is_stopping_stays_said(app: AppTest, study, schedule):
    own = psutil.Process()
    note = {"pid": own.pid, "began": own.create_time(), "what": "mend", "seconds": 1e9}
    place = study.folder / ".testday" / solving.RUNNING
    place.write_text(json.dumps(note), "utf-8")
    open_visit(app)
    assert app.button(key="day-mend-stop")
    place.write_text(json.dumps(note | {"is_stopping": True}), "utf-8")
    for _ in range(2):
        app.run()
        assert "Stopping. The best plan so far is checked and kept." in words(app)
        assert not [one for one in app.button if one.key == "day-mend-stop"]


def test_what_a_person_must_decide_about_a_mended_plan_stands_beside_it(app: AppTest, study, schedule):
    """What was broken off and stands in the plan once more was told at the command line only."""
    from planner.pages.solving import PROPOSAL
    from planner.schedule.model import Reason
    from planner.schedule.plan_file import write_plan

    said = "ROW-01, rowing-1: the person in charge decides whether it is done again"
    made = replace(schedule, version=2, replaces=1, reasons=(*schedule.reasons, Reason(said)))
    write_plan(made, study.folder / ".testday" / PROPOSAL)
    open_visit(app)
    assert [one.value.replace("\\", "") for one in app.warning if "decides" in one.value] == [said]


def test_a_mended_plan_that_is_left_changes_nothing(app: AppTest, study, schedule):
    from planner.pages.solving import PROPOSAL
    from planner.schedule.in_force import in_force
    from planner.schedule.plan_file import write_plan

    path = study.folder / ".testday" / PROPOSAL
    write_plan(replace(schedule, version=2, replaces=1), path)
    open_visit(app)
    app.button(key="day-mend-drop").click().run()
    assert not path.exists()
    assert read_plan(in_force(study.folder), study).version == 1


def test_another_part_can_be_gone_on_with(app: AppTest, scene: Scene):
    to_first_block(scene)
    open_visit(app)
    assert any("Now: Forced vital capacity" in one.value for one in app.subheader)
    mark = scene.look().mark
    other = app.selectbox(key=f"day-other-{mark}")
    target = next(option for option in other.options if option.startswith("Maximal expiratory pressure"))
    index = next(p.index for p in scene.look().parts if p.title == target)
    other.set_value(index).run()
    app.button(key="day-go").click().run()
    assert any("Now: Maximal expiratory pressure" in one.value for one in app.subheader)


def test_every_status_has_a_shape_and_a_word():
    from planner.pages.day_column import SHAPES

    assert set(SHAPES) == set(Status)
    assert len({shape.split()[0] for shape in SHAPES.values()}) == len(Status)
