"""Signing in at a real provider with a real browser: known by issuer and subject, and asked at each deed."""

from __future__ import annotations

import importlib.util
import shutil
import stat
import sys
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from planner.commands.app import server_words
from planner.record.access import Grant, Role, write_grants
from planner.record.events import Kind
from planner.record.store import open_store
from planner.record.tables import events_query
from planner.schedule.in_force import put_in_force
from planner.schedule.plan_file import read_plan
from planner.study.read import read_study

pytestmark = pytest.mark.browser
_spec = importlib.util.spec_from_file_location("provider", Path(__file__).with_name("provider.py"))
assert _spec is not None
assert _spec.loader is not None
providing = importlib.util.module_from_spec(_spec)
sys.modules["provider"] = providing
_spec.loader.exec_module(providing)
RunServer = Callable[..., AbstractContextManager[None]]
ROOT = Path(__file__).parents[2]
SHARED = "desk@example.org"  # an e-mail that two people have: it says nothing about who is who
PEOPLE = {
    "Reader": {"sub": "s-1", "email": "one@example.org"},
    "Technician": {"sub": "s-2", "email": SHARED},
    "Coordinator": {"sub": "s-3", "email": "three@example.org"},
    "Same desk": {"sub": "s-4", "email": SHARED},
}
ROLES = {"s-1": ("K1", Role.READER), "s-2": ("K2", Role.TECHNICIAN), "s-3": ("K3", Role.COORDINATOR)}
VISIT = "day?day=2027-03-02&visit=3&station=rig-1"


@dataclass
class House:
    """A study served behind sign-in; `log` is what the server said, `state` where its secret is kept."""

    url: str
    study: Path
    provider: Any
    log: Path
    state: Path

    def grant(self, roles: dict[str, tuple[str, Role]]) -> None:
        grants = [Grant(self.provider.issuer, subject, *known) for subject, known in roles.items()]
        write_grants(self.study / ".testday" / "access.csv", grants)

    def events(self) -> list:
        with open_store(read_study(self.study)) as store:
            return [event for event in store.read(events_query()) if event.kind != Kind.PLAN]


@pytest.fixture(scope="module")
def house(
    tmp_path_factory: pytest.TempPathFactory, new_port: Callable[[], int], run_server: RunServer
) -> Iterator[House]:
    """`testday open --sign-in` on the small study, as a laboratory would start it."""
    home = tmp_path_factory.mktemp("house")
    study = home / "small"
    shutil.copytree(ROOT / "tests" / "data" / "small", study)
    put_in_force(study, read_plan(ROOT / "tests" / "data" / "small-plan.json", read_study(study)))
    port = new_port()
    url = f"http://127.0.0.1:{port}"
    with providing.provided(
        f"{url}/oauth2callback", {name: dict(one) for name, one in PEOPLE.items()}
    ) as provider:
        sign_in = home / "sign-in.toml"
        sign_in.write_text(
            f'[auth]\nredirect_uri = "{url}/oauth2callback"\nclient_id = "{providing.CLIENT}"\n'
            f'client_secret = "{providing.CLIENT_SECRET}"\n'
            f'server_metadata_url = "{provider.issuer}/.well-known/openid-configuration"\n'
        )
        sign_in.chmod(0o600)
        words = [sys.executable, "-m", "planner", "open", str(study), "--no-browser", f"--port={port}",
                 f"--sign-in={sign_in}"]  # fmt: skip
        made = House(url, study, provider, home / "app.log", home / "state" / "testday")
        with run_server(words, url, made.log, XDG_STATE_HOME=str(made.state.parent)):
            yield made


@pytest.fixture
def sign_in(house: House, chromium: Browser) -> Iterator[Callable[[str], Page]]:
    """Signs that person in, in a browser of their own, and opens the Test day page."""
    house.grant(ROLES)
    contexts: list[BrowserContext] = []

    def enter(who: str) -> Page:
        contexts.append(chromium.new_context(viewport={"width": 768, "height": 1024}))
        page = contexts[-1].new_page()
        page.goto(f"{house.url}/{VISIT}")
        expect(page.get_by_text("open to people who are signed in")).to_be_visible()
        assert page.locator("h1").count() == 0
        page.get_by_role("button", name="Sign in").click()
        page.get_by_role("link", name=who, exact=True).click()
        page.wait_for_url(f"{house.url}/**")
        page.goto(f"{house.url}/{VISIT}")
        return page

    yield enter
    for context in contexts:
        context.close()


def tap(page: Page, name: str) -> None:
    """Tap once the button may be tapped; while a page is drawn anew the old button may stand beside it."""
    button = page.get_by_role("button", name=name, exact=True, disabled=False)
    expect(button).to_have_count(1)
    button.click()


def test_a_technician_records_under_their_own_code_and_picks_none(house: House, sign_in):
    page = sign_in("Technician")
    expect(page.get_by_text("K2, technician")).to_be_visible()
    expect(page.get_by_role("combobox", name="Who records?")).to_have_count(0)
    tap(page, "Started")
    expect(page.get_by_role("button", name="Done", exact=True)).to_be_enabled()
    last = house.events()[-1]
    assert (last.kind, last.who, last.who_how) == (Kind.MARK, "K2", "signed in")
    assert house.provider.refused == []


def test_a_reader_sees_and_is_offered_nothing_that_records(house: House, sign_in):
    page = sign_in("Reader")
    expect(page.get_by_text("You are signed in as a reader")).to_be_visible()
    expect(page.get_by_text("Recording takes a technician.")).to_be_visible()
    expect(page.get_by_role("button", name="Not now", exact=True)).to_have_count(0)
    expect(page.get_by_role("button", name="Keep note")).to_have_count(0)


def test_a_coordinator_may_mend_the_plan_where_a_technician_may_not(house: House, sign_in):
    for who, allowed in (("Technician", False), ("Coordinator", True)):
        page = sign_in(who)
        page.get_by_text("Someone late, a device out").click()
        propose = page.get_by_role("button", name="Propose a mended plan")
        if allowed:
            propose.click()
            expect(page.get_by_role("button", name="Accept: put it in force")).to_be_visible(timeout=90_000)
            page.get_by_role("button", name="Leave the plan as it is").click()
        else:
            expect(propose).to_be_disabled()


def test_two_people_with_one_e_mail_are_two_people(house: House, sign_in):
    page = sign_in("Same desk")
    expect(page.get_by_text("You are signed in, but not known here.")).to_be_visible()
    expect(page.get_by_text(f"issuer: {house.provider.issuer}")).to_be_visible()
    assert page.locator("h1").count() == 0
    last = house.events()[-1]
    assert (last.kind, last.who) == (Kind.DENIED, "")
    assert "s-4" in last.note


def test_a_changed_e_mail_is_the_same_person(house: House, sign_in):
    house.provider.people["Technician"]["email"] = "married@example.org"
    page = sign_in("Technician")
    expect(page.get_by_text("K2, technician")).to_be_visible()


def test_a_role_that_is_taken_away_is_gone_at_the_next_write(house: House, sign_in):
    page = sign_in("Technician")
    tap(page, "Not now")
    expect(page.get_by_text("Go on when the participant is ready.")).to_be_visible()
    house.grant(ROLES | {"s-2": ("K2", Role.READER)})
    before = len(house.events())
    tap(page, "Not now")
    expect(page.get_by_text("a reader may not record.")).to_be_visible()
    (last,) = house.events()[before:]
    assert (last.kind, last.who, last.who_how, last.note) == (Kind.DENIED, "K2", "signed in", "record")
    house.grant(ROLES)
    page.reload()
    expect(page.get_by_role("button", name="Not now", exact=True)).to_be_visible()
    house.grant({})
    tap(page, "Not now")
    expect(page.get_by_text("You are signed in, but not known here.").first).to_be_visible()
    expect(page.locator("h1")).to_have_count(0)
    assert page.locator("h1").count() == 0


def test_who_signs_out_sees_no_page_any_more(house: House, sign_in):
    page = sign_in("Technician")
    page.get_by_role("button", name="Sign out").click()
    expect(page.get_by_text("open to people who are signed in")).to_be_visible()
    while any(cookie["name"].startswith("_streamlit_user") for cookie in page.context.cookies()):
        page.wait_for_timeout(50)  # the browser is still on its way over the address that signs out
    page.goto(f"{house.url}/{VISIT}")
    expect(page.get_by_text("open to people who are signed in")).to_be_visible()


@pytest.mark.parametrize("page_name", ["protocol", "study", "schedule", "documents", "adherence", "numbers"])
def test_no_page_opens_to_who_is_not_signed_in(house: House, chromium: Browser, page_name: str):
    context = chromium.new_context()
    page = context.new_page()
    page.goto(f"{house.url}/{page_name}")
    expect(page.get_by_text("open to people who are signed in")).to_be_visible()
    assert page.locator("h1").count() == 0
    context.close()


def test_a_cookie_signed_with_another_secret_is_nobody(house: House, chromium: Browser):
    context = chromium.new_context()
    context.add_cookies([{"name": "_streamlit_user", "value": "forged", "url": house.url}])
    page = context.new_page()
    page.goto(f"{house.url}/{VISIT}")
    expect(page.get_by_text("open to people who are signed in")).to_be_visible()
    context.close()


def test_the_secret_is_its_owners_outside_the_study_and_in_no_log(house: House):
    file = house.state / "cookie-secret"
    secret = file.read_text().strip()
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert len(secret) == 64
    log = house.log.read_text("utf-8", "replace")
    assert secret not in log
    assert providing.CLIENT_SECRET not in log
    held = [
        path for path in house.study.rglob("*") if path.is_file() and secret.encode() in path.read_bytes()
    ]
    assert held == []
    (copy,) = house.state.glob("sign-in-*.toml")
    assert stat.S_IMODE(copy.stat().st_mode) == 0o600


def test_on_a_network_without_sign_in_nothing_is_shown(
    house: House, chromium: Browser, tmp_path: Path, new_port: Callable[[], int], run_server: RunServer
):
    """Also where somebody starts the server by the page framework's own command."""
    port = new_port()
    words, url = server_words(port, browser=False, address="0.0.0.0"), f"http://127.0.0.1:{port}"
    state = str(house.state.parent)
    with run_server(words, url, tmp_path / "app.log", TESTDAY_STUDY=str(house.study), XDG_STATE_HOME=state):
        context = chromium.new_context()
        page = context.new_page()
        page.goto(f"{url}/{VISIT}")
        expect(page.get_by_text("listens on a network, and nobody is asked to sign in")).to_be_visible(
            timeout=60_000
        )
        assert page.locator("h1").count() == 0
        assert "ROW-" not in page.content()
        context.close()
