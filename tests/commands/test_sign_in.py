"""On a network only with sign-in; the secret of the cookies is made once, for its owner alone."""

from __future__ import annotations

import stat
import tomllib
from pathlib import Path

import pytest
from click.testing import CliRunner

from planner.commands.app import open_app
from planner.commands.sign_in import cookie_secret, host_of, place_of, secrets_file

GOOD = """
# how people sign in
[auth]  # the page framework's own section
redirect_uri = "https://testday.example/oauth2callback"
client_id = "test-days"
client_secret = "s3"
server_metadata_url = "https://sign-in.example/.well-known/openid-configuration"

[auth.client_kwargs]
prompt = "login"
"""


@pytest.fixture(autouse=True)
def state(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The user's state folder of this test."""
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    return tmp_path / "state" / "testday"


@pytest.fixture
def study(tmp_path: Path) -> Path:
    """A folder that stands for a study."""
    (tmp_path / "study").mkdir()
    return tmp_path / "study"


def written(folder: Path, text: str = GOOD, mode: int = 0o600) -> Path:
    file = folder / "sign-in.toml"
    file.write_text(text, "utf-8")
    file.chmod(mode)
    return file


@pytest.mark.parametrize("address", ["0.0.0.0", "192.168.1.20", "::", "testday.example"])
def test_on_a_network_without_sign_in_it_does_not_start(study: Path, address: str):
    done = CliRunner().invoke(open_app, [str(study), "--no-browser", "--address", address])
    assert done.exit_code == 2
    assert "others could open the study" in done.output
    assert "--sign-in" in done.output


def test_the_address_that_people_open_is_the_one_that_the_provider_leads_back_to(tmp_path: Path):
    assert place_of(written(tmp_path)) == "https://testday.example"
    assert host_of(written(tmp_path)) == "testday.example"
    with_port = GOOD.replace("testday.example/", "testday.example:8443/")
    assert place_of(written(tmp_path, with_port)) == "https://testday.example:8443"


def test_the_secret_is_made_once_and_for_its_owner_alone(state: Path):
    first = cookie_secret()
    assert (len(first), cookie_secret()) == (64, first)
    assert [file.name for file in state.iterdir()] == ["cookie-secret"]
    assert stat.S_IMODE((state / "cookie-secret").stat().st_mode) == 0o600
    assert stat.S_IMODE(state.stat().st_mode) == 0o700


def test_a_secret_that_others_can_read_or_that_is_none_is_not_used(state: Path):
    cookie_secret()
    (state / "cookie-secret").chmod(0o644)
    with pytest.raises(Exception, match="can be read by others"):
        cookie_secret()
    (state / "cookie-secret").chmod(0o600)
    (state / "cookie-secret").write_text("")
    with pytest.raises(Exception, match="holds no secret"):
        cookie_secret()
    assert (state / "cookie-secret").read_text() == ""  # and is never written over


def test_the_server_reads_what_was_given_and_the_secret(tmp_path: Path, study: Path):
    found = tomllib.loads(secrets_file(written(tmp_path), study).read_text("utf-8"))
    assert found == {"auth": tomllib.loads(GOOD)["auth"] | {"cookie_secret": cookie_secret()}}


def test_a_secret_of_the_laboratorys_own_is_left_as_it_is(tmp_path: Path, study: Path, state: Path):
    own = GOOD.replace("client_id", 'cookie_secret = "their own long enough secret"\nclient_id')
    found = tomllib.loads(secrets_file(written(tmp_path, own), study).read_text("utf-8"))
    assert found["auth"]["cookie_secret"] == "their own long enough secret"
    assert not (state / "cookie-secret").exists()


def test_what_a_server_that_is_gone_read_is_deleted(tmp_path: Path, study: Path, state: Path):
    state.mkdir(parents=True)
    (state / "sign-in-999999999.toml").write_text("old")
    kept = secrets_file(written(tmp_path), study)
    assert list(state.glob("sign-in-*")) == [kept]


@pytest.mark.parametrize(("text", "words"), [
    ("[auth", "no TOML file"),
    ("x = 1", "a line [auth], and below it what it needs, is missing"),
    (GOOD.replace('client_id = "test-days"', ""), "[auth] lacks client_id"),
    (GOOD.replace("https://testday", "http://testday"), "redirect_uri must begin with https://"),
    (GOOD.replace("https://sign-in", "http://sign-in"), "server_metadata_url must begin with https://"),
    (GOOD.replace("/oauth2callback", "/back"), "must end with /oauth2callback"),
])  # fmt: skip
def test_a_faulty_file_is_refused_in_words(tmp_path: Path, study: Path, text: str, words: str):
    file = written(tmp_path, text)
    done = CliRunner().invoke(open_app, [str(study), "--no-browser", f"--sign-in={file}"])
    assert done.exit_code == 2
    assert words in " ".join(done.output.split())
    assert "s3" not in done.output


def test_a_file_that_others_can_read_or_in_the_study_is_refused(tmp_path: Path, study: Path):
    for file, words in (
        (written(tmp_path, mode=0o640), "read by others"),
        (written(study), "outside the study"),
    ):
        done = CliRunner().invoke(open_app, [str(study), "--no-browser", f"--sign-in={file}"])
        assert done.exit_code == 2
        assert words in " ".join(done.output.split())
