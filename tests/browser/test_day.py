"""The Test day page in a real browser: taps, two stations, a reload, a cut line, a keyboard alone."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from planner.clock import later
from planner.record.chain import check
from planner.record.events import Content, Draft, Kind
from planner.record.store import Store, open_store
from planner.record.tables import events_query
from planner.study.read import read_study

pytestmark = pytest.mark.browser
VISIT = "day=2027-03-02&visit=3&station=rig-1"
FRAMEWORK = {"list", "listitem"}  # axe rules that the framework's own navigation breaks


def pick(page: Page, label: str, option: str) -> None:
    page.get_by_role("combobox", name=label).click()
    page.get_by_role("option", name=option).click()


def tap(page: Page, name: str) -> None:
    """Tap once the button may be tapped; while a page is drawn anew the old button may stand beside it."""
    button = page.get_by_role("button", name=name, exact=True, disabled=False)
    expect(button).to_have_count(1)
    button.click()


def may(page: Page, name: str) -> None:
    button = page.get_by_role("button", name=name, exact=True, disabled=False)
    expect(button).to_have_count(1)


def type_readings(page: Page, **values: str) -> None:
    for name, value in values.items():
        page.get_by_role("spinbutton", name=name).fill(value)
    page.get_by_role("button", name="Keep these readings").click()


def kinds(store: Store) -> list[str]:
    return [row.kind for row in store.read(events_query())]


def record(folder: Path, *, rehearsed: bool = False) -> Store:
    return open_store(read_study(folder), rehearsed=rehearsed)


def note_elsewhere(store: Store, words: str) -> None:
    said = Content(note=words)
    store.append([Draft(Kind.NOTE, "ROW-01", "rowing", 1, started=store.now().isoformat(), content=said)])


def begin(page: Page, who: str = "K1") -> None:
    pick(page, "Who records?", who)
    tap(page, "Started")
    tap(page, "Done")
    may(page, "Effort 1 started")


def test_a_technician_works_a_block(small_app, station, picture: Callable[[Page, str], None]):
    page = station(small_app.page("day", VISIT))
    begin(page)
    for number, value in enumerate(("4.80", "4.40", "4.70"), 1):
        tap(page, f"Effort {number} started")
        tap(page, f"Effort {number} done")
        expect(page.get_by_text(f"Effort {number}: what did the device show?")).to_be_visible()
        type_readings(page, **{"FVC, L": value, "FEV1, L": "3.90"})
        expect(page.get_by_text(f"Effort {number}: what did the device show?")).to_be_hidden()
        if number == 2:
            expect(page.get_by_text("At least 1 more acceptable effort")).to_be_visible()
            picture(page, "day-block-light")
    expect(page.get_by_text("Close enough after 3 efforts: finished.")).to_be_visible()
    expect(page.get_by_text("Now: Maximal inspiratory pressure")).to_be_visible()
    with record(small_app.study) as store:
        lines = [line for line in store.lines("ROW-01", "rowing") if line.reading == "FVC"]
        assert [f"{line.value}" for line in lines] == ["4.80", "4.40", "4.70"]
        rows = store.read(events_query())
        assert {(row.who, row.who_how, row.station, row.plan_version) for row in rows} == {
            ("K1", "picked", "rig-1", 1)
        }
        assert any(row.device_clock for row in rows)


@pytest.mark.parametrize(("width", "height"), [(768, 1024), (1280, 800)], ids=["tablet", "laptop"])
def test_readings_are_typed_in_sight_of_the_buttons(small_app, station, picture, width: int, height: int):
    """Gloves do not scroll: after each effort its form stands below the buttons, on the same screen."""
    page = station(small_app.page("day", VISIT), width=width, height=height)
    begin(page)
    tap(page, "Effort 1 started")
    tap(page, "Effort 1 done")
    keep = page.get_by_role("button", name="Keep these readings")
    expect(keep).to_be_visible()
    may(page, "Effort 2 started")
    for one in (keep, page.get_by_role("button", name="Effort 2 started", exact=True)):
        box = one.bounding_box()
        assert box is not None
        assert box["y"] >= 0
        assert box["y"] + box["height"] <= height
    for name in ("FVC", "FEV1"):  # what is tapped to say that a reading does not count
        box = page.locator("label", has_text=f"{name} acceptable").bounding_box()
        assert box is not None
        assert box["height"] >= 40
    picture(page, f"day-readings-in-sight-{width}")


def test_a_slip_is_asked_about_and_kept_only_when_confirmed(small_app, station):
    page = station(small_app.page("day", VISIT))
    begin(page)
    tap(page, "Effort 1 started")
    tap(page, "Effort 1 done")
    type_readings(page, **{"FVC, L": "48", "FEV1, L": "3.90"})
    expect(page.get_by_text("the decimal point may have slipped")).to_be_visible()
    with record(small_app.study) as store:
        assert Kind.READING not in kinds(store)
    page.get_by_role("button", name="It is right: keep it").click()
    expect(page.get_by_text("FVC 48.00 L")).to_be_visible()


def test_a_double_tap_records_once(small_app, station):
    page = station(small_app.page("day", VISIT))
    begin(page)
    page.get_by_role("button", name="Effort 1 started", exact=True).dblclick()
    may(page, "Effort 1 done")
    page.get_by_role("button", name="Effort 1 done", exact=True).dblclick()
    may(page, "Effort 2 started")
    with record(small_app.study) as store:
        assert kinds(store).count(Kind.EFFORT) == 1
        assert kinds(store).count(Kind.DONE) == 1


def test_two_stations_show_the_same_and_the_same_tap_counts_once(small_app, station):
    first, second = (station(small_app.page("day", VISIT)) for _ in range(2))
    begin(first)
    pick(second, "Who records?", "K2")
    may(second, "Effort 1 started")
    buttons = [p.get_by_role("button", name="Effort 1 started", exact=True) for p in (first, second)]
    for button in buttons:
        button.evaluate("button => button.click()")
    for page in (first, second):
        may(page, "Effort 1 done")
    with record(small_app.study) as store:
        assert kinds(store).count(Kind.EFFORT) == 1
    tap(second, "Effort 1 done")
    may(first, "Effort 2 started")  # the other station sees it by itself
    second.get_by_label("Note", exact=True).fill("window opened")
    tap(first, "Effort 2 started")  # at the same time
    tap(second, "Keep note")
    for page in (first, second):
        expect(page.get_by_text("window opened")).to_be_visible()
        may(page, "Effort 2 done")


def test_eight_stations_work_on_one_study_at_once(small_app, chromium):
    """Six visits at a station each, two of them at a second one too; what one does, the other sees."""
    with chromium.new_context(viewport={"width": 768, "height": 1024}) as context:
        context.add_init_script("sessionStorage.setItem('testday-picked', 'K1')")  # as after a reload
        pages = [context.new_page() for _ in range(8)]
        for number, (page, visit) in enumerate(zip(pages, (1, 2, 3, 4, 5, 6, 3, 4), strict=True), 1):
            page.goto(small_app.page("day", f"visit={visit}&station=rig-{number}"), wait_until="commit")
        at_once(pages[:6], "Started")
        at_once([*pages[6:], *pages[:2], *pages[4:6]], "Done")
        for page in pages[2:8]:
            effort = page.get_by_role("button", name="Effort 1 started", exact=True, disabled=False)
            expect(effort).to_have_count(1)
        for number, page in enumerate(pages, 1):
            page.get_by_label("Note", exact=True).fill(f"seen at station {number}")
        at_once(pages, "Keep note")
        for page, numbers in zip(pages, ([1], [2], [3, 7], [4, 8], [5], [6], [3, 7], [4, 8]), strict=True):
            for number in numbers:
                expect(page.get_by_text(f"seen at station {number}")).to_be_visible()
            expect(page.get_by_text("Not recorded:")).to_have_count(0)
            expect(page.get_by_test_id("stException")).to_have_count(0)
    with record(small_app.study) as store:
        rows = store.read(events_query())
        assert [row.seq for row in rows] == list(range(1, 21))
        assert sorted(row.kind for row in rows) == [Kind.MARK] * 12 + [Kind.NOTE] * 8
        assert {row.station for row in rows} == {f"rig-{number}" for number in range(1, 9)}
        assert check(store) == ()


def at_once(pages: list[Page], name: str) -> None:
    """Each may tap; then all tap, one right after the other."""
    buttons = [page.get_by_role("button", name=name, exact=True, disabled=False) for page in pages]
    for button in buttons:
        expect(button).to_have_count(1)
    for button in buttons:
        button.evaluate("one => one.click()")


def test_a_reload_in_the_middle_of_a_rest_counts_on(small_app, station):
    page = station(small_app.page("day", VISIT))
    begin(page)
    tap(page, "Effort 1 started")
    tap(page, "Effort 1 done")
    until = page.get_by_text(re.compile(r"Rest until \d\d:\d\d:\d\d"))
    said = until.inner_text()
    page.wait_for_timeout(1500)
    page.reload()
    page.locator("h1").first.wait_for()
    expect(page.get_by_text(said)).to_be_visible()
    expect(page.get_by_text("of the rest left")).to_be_visible()
    left = page.get_by_role("timer").inner_text()
    assert 0 < int(left.split("\n")[0].split(":")[1]) < 30
    expect(page.get_by_role("combobox", name="Who records?")).to_have_value("K1")  # the tab remembers who


def test_a_station_cut_off_and_back_loses_and_doubles_nothing(small_app, station):
    page = station(small_app.page("day", VISIT))
    begin(page)
    page.context.set_offline(True)
    page.get_by_role("button", name="Effort 1 started", exact=True).click()
    page.wait_for_timeout(1500)
    page.context.set_offline(False)
    page.reload()
    page.locator("h1").first.wait_for()
    expect(page.get_by_role("combobox", name="Who records?")).to_have_value("K1")
    page.get_by_role("button", name="Stopped").wait_for()
    if page.get_by_role("button", name="Effort 1 started", exact=True).count():
        tap(page, "Effort 1 started")
    may(page, "Effort 1 done")
    with record(small_app.study) as store:
        assert kinds(store).count(Kind.EFFORT) == 1


def test_the_last_deed_is_taken_back_and_stays_in_the_record(small_app, station):
    page = station(small_app.page("day", VISIT))
    begin(page)
    tap(page, "Effort 1 started")
    page.get_by_role("button", name="Take back effort 1 of Forced vital capacity").click()
    may(page, "Effort 1 started")
    with record(small_app.study) as store:
        assert kinds(store)[-2:] == [Kind.EFFORT, Kind.CORRECTION]
    tap(page, "Effort 1 started")
    may(page, "Effort 1 done")


def test_stopped_asks_no_reason_and_offers_nothing_more(small_app, station):
    page = station(small_app.page("day", VISIT))
    begin(page)
    tap(page, "Not now")
    expect(page.get_by_text("Go on when the participant is ready.")).to_be_visible()
    tap(page, "Stopped")
    expect(page.get_by_text("No reason is asked.")).to_be_visible()
    expect(page.get_by_role("button", name="Effort 1 started", exact=True)).to_have_count(0)


def test_a_dry_run_is_marked_on_every_page_and_leaves_the_record_alone(small_app, station):
    page = station(small_app.page("day", VISIT))
    page.get_by_text("More: find a visit").click()
    page.get_by_role("button", name="Begin at this visit's planned start").click()
    expect(page.get_by_text("Dry run. What is recorded now is made up")).to_be_visible()
    page.reload()  # the mark stays
    expect(page.get_by_text("Dry run. What is recorded now is made up")).to_be_visible()
    pick(page, "Who records?", "K1")
    tap(page, "Started")
    may(page, "Done")
    with record(small_app.study) as real, record(small_app.study, rehearsed=True) as rehearsed:
        assert kinds(real) == []
        assert kinds(rehearsed) == [Kind.MARK]
    for name in ("protocol", "study", "schedule", "documents", "adherence"):
        page.goto(small_app.page(name))
        expect(page.get_by_text("Dry run. What is recorded now is made up")).to_be_visible()


def test_what_another_station_recorded_is_taken_in_with_its_clock_put_right(small_app, station, tmp_path):
    page = station(small_app.page("day", VISIT))
    begin(page)
    for number in (1, 2):
        tap(page, f"Effort {number} started")
        tap(page, f"Effort {number} done")
    may(page, "Effort 3 started")
    with record(small_app.study) as store:
        starts = {line.effort: line.started for line in store.lines() if line.manoeuvre}
    rows = [
        f"ROW-01,rowing/1,before,,fvc,{n},{later(at, 95).replace(tzinfo=None).isoformat()},FVC,4.80,L"
        for n, at in starts.items()
    ]
    file = tmp_path / "from-the-device.csv"
    head = "Subject,Session,Phase,Minute,Maneuver,Trial,Timestamp,Parameter,Result,Units"
    file.write_text("\n".join([head, *rows, rows[0].replace("4.80", "x")]), "utf-8")
    page.get_by_text("More: find a visit").click()
    chooser = page.locator("input[type=file]")
    expect(chooser).to_have_count(1)
    chooser.set_input_files(file)
    told = page.get_by_text("Its clock seems 95 s ahead of ours, from 2 efforts in both")
    expect(told).to_be_visible()
    page.get_by_text("Take 95 s off its times").click()
    page.get_by_role("button", name="Take these lines in").click()
    expect(page.get_by_text("2 lines added, 0 were there already.")).to_be_visible()
    with record(small_app.study) as store:
        readings = [line for line in store.lines() if line.reading == "FVC"]
        assert [line.started for line in readings] == list(starts.values())
        assert Kind.OFFSET in kinds(store)
        assert Kind.REFUSED in kinds(store)
        note_elsewhere(store, "door opened")
    expect(page.get_by_text("door opened")).to_be_visible()  # the page is drawn anew for it
    expect(page.get_by_text("2 lines added, 0 were there already.")).to_be_visible()
    expect(page.get_by_text("1 row was refused")).to_be_visible()


def test_what_is_being_typed_stays_when_another_station_records(small_app, station, tmp_path):
    """The page is drawn anew for the news; half a reading, half a note and a chosen file are still there."""
    page = station(small_app.page("day", VISIT))
    begin(page)
    tap(page, "Effort 1 started")
    tap(page, "Effort 1 done")
    reading = page.get_by_role("spinbutton", name="FVC, L")
    expect(reading).to_be_visible()
    page.get_by_text("More: find a visit").click()
    page.locator("input[type=file]").set_input_files(_two_columns(tmp_path))
    expect(page.get_by_text("No column stands for")).to_be_visible()
    reading.press_sequentially("4.8")
    note = page.get_by_label("Note", exact=True)
    note.press_sequentially("window op")
    with record(small_app.study) as store:
        note_elsewhere(store, "door opened")
    expect(page.get_by_text("door opened")).to_be_visible()
    expect(note).to_have_value("window op")
    expect(reading).to_have_value("4.80")
    expect(page.get_by_text("No column stands for")).to_be_visible()
    expect(page.get_by_text("two-columns.csv")).to_be_visible()


def _two_columns(folder: Path) -> Path:
    file = folder / "two-columns.csv"
    file.write_text("Subject,Result\nROW-01,4.80\n", "utf-8")
    return file


def test_the_page_is_worked_by_keyboard(small_app, station):
    page = station(small_app.page("day", VISIT))
    begin(page)
    page.get_by_role("button", name="Effort 1 started", exact=True).focus()
    page.keyboard.press("Enter")
    done = page.get_by_role("button", name="Effort 1 done", exact=True, disabled=False)
    expect(done).to_be_focused()  # it has gone on to what comes next
    page.keyboard.press("Enter")
    may(page, "Effort 2 started")


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_nothing_hinders_eyes_or_screen_readers(small_app, station, picture, dark: bool):
    page = station(small_app.page("day", VISIT), dark=dark)
    begin(page)
    tap(page, "Effort 1 started")
    tap(page, "Effort 1 done")
    expect(page.get_by_text("what did the device show?")).to_be_visible()
    picture(page, f"day-{'dark' if dark else 'light'}")
    found = Axe().run(page).response["violations"]
    grave = {one["id"] for one in found if one["impact"] in ("serious", "critical")}
    nodes = [
        (one["id"], [n["html"] for n in one["nodes"]]) for one in found if one["id"] in grave - FRAMEWORK
    ]
    assert not nodes


def test_no_code_of_a_person_stands_in_the_address(small_app, station):
    page = station(small_app.page("day"))
    pick(page, "Who records?", "K1")
    page.wait_for_url("**visit=*")
    assert not re.search(r"ROW|K\d", page.url)


def test_back_leaves_the_page_and_a_reload_keeps_visit_and_station(small_app, station):
    page = station(small_app.page("documents"))
    page.get_by_role("link", name="Test day", exact=True).first.click()
    expect(page.get_by_role("heading", name="What now?")).to_be_visible()
    page.wait_for_url("**visit=*")
    pick(page, "Visit", "2: ")
    page.get_by_role("textbox", name="Station").fill("rig 1")
    page.get_by_role("textbox", name="Station").press("Enter")
    page.wait_for_url("**visit=2&station=rig+1")
    page.reload()
    expect(page.get_by_role("combobox", name="Visit")).to_have_value(re.compile("^2: "))
    expect(page.get_by_role("textbox", name="Station")).to_have_value("rig 1")
    page.go_back()
    expect(page.get_by_role("heading", name="What do people hold in their hands?")).to_be_visible()
    assert "visit=" not in page.url
    page.go_forward()
    expect(page.get_by_role("combobox", name="Visit")).to_have_value(re.compile("^2: "))
    expect(page.get_by_role("textbox", name="Station")).to_have_value("rig 1")


def test_another_visit_may_be_chosen_after_coming_back_and_a_reload_keeps_it(small_app, station):
    """The address of an older visit, which the browser brings back, is not what a reload shows."""
    page = station(small_app.page("day", "day=2027-03-04&visit=4&station=rig-1"))
    pick(page, "Visit", "5: ")
    page.wait_for_url("**visit=5*")
    page.get_by_role("link", name="Documents", exact=True).first.click()
    expect(page.get_by_role("heading", name="What do people hold in their hands?")).to_be_visible()
    page.go_back()
    expect(page.get_by_role("combobox", name="Visit")).to_have_value(re.compile("^5: "))
    pick(page, "Visit", "4: ")
    page.wait_for_url("**visit=4*")
    page.reload()
    expect(page.get_by_role("combobox", name="Visit")).to_have_value(re.compile("^4: "))


@pytest.mark.parametrize(("width", "height"), [(768, 1024), (1280, 800)], ids=["tablet", "laptop"])
def test_the_buttons_are_in_sight_without_scrolling_and_no_news_moves_them(
    small_app, station, width: int, height: int
):
    """Gloves do not scroll: "Stopped" is where it was when a window is at risk and the line was cut."""
    with record(small_app.study) as store:
        moment = later(store.now(), -170)  # of 180 s to the end of the window
        for said, at in (("start", later(moment, -720)), ("end", moment)):
            place = (Kind.MARK, "ROW-01", "rowing", 1, "row")
            store.append([Draft(*place, reading=said, started=at.isoformat(), by="K1", by_how="picked")])
    page = station(small_app.page("day", VISIT), width=width, height=height)
    pick(page, "Who records?", "K1")
    for name in ("Effort 1 started", "Not now", "Stopped"):
        may(page, name)
        box = page.get_by_role("button", name=name, exact=True).bounding_box()
        assert box is not None
        assert box["y"] + box["height"] <= height
    boxes = page.get_by_role("button", name=re.compile("^(Effort 1 started|Effort done|Not now|Stopped)$"))
    shown = [one.bounding_box() for one in boxes.all()]
    assert len(shown) == 4
    assert all(box and box["width"] >= 64 and box["height"] >= 64 for box in shown)
    before = page.get_by_role("button", name="Stopped", exact=True).bounding_box()
    tap(page, "Not now")
    expect(page.get_by_text("Go on when the participant is ready.")).to_be_visible()
    may(page, "Stopped")
    assert page.get_by_role("button", name="Stopped", exact=True).bounding_box() == before
