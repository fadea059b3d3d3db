"""What sign-in by OpenID Connect needs before the app may listen on a network, and the secret of its cookies.

The file is the page framework's own `secrets.toml` with a section `[auth]`. The secret that signs the
cookies is made at the first start, stands outside every study, for its owner alone, and is never made anew.
"""

from __future__ import annotations

import contextlib
import os
import re
import secrets
import stat
import sys
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import click

from planner.record.access import is_this_machine

NEEDED = ("redirect_uri", "client_id", "client_secret", "server_metadata_url")
CALLBACK = "/oauth2callback"
_HEAD = re.compile(r"^[ \t]*\[auth\][ \t]*(#.*)?$", re.MULTILINE)


def secrets_file(sign_in: Path, study: Path) -> Path:
    """The file that the server reads: the given one and the secret of cookies. UsageError: what it lacks."""
    text = _read(sign_in, study)
    if "cookie_secret" not in tomllib.loads(text)["auth"]:
        text = _HEAD.sub(lambda head: f'{head[0]}\ncookie_secret = "{cookie_secret()}"', text, count=1)
    target = state_folder() / f"sign-in-{os.getpid()}.toml"  # `open` becomes the server: the number stays
    _forget_others(target)
    _write(target, text)
    return target


def host_of(sign_in: Path) -> str:
    """The host by which people's browsers reach the app."""
    return urlsplit(_redirect(sign_in)).hostname or ""


def place_of(sign_in: Path) -> str:
    """The address that people open."""
    return _redirect(sign_in).removesuffix(CALLBACK)


def _redirect(sign_in: Path) -> str:
    return str(tomllib.loads(sign_in.read_text("utf-8"))["auth"]["redirect_uri"])


def state_folder() -> Path:
    """Where this user's programs keep their state, outside every study; for its owner alone."""
    base = os.environ.get("XDG_STATE_HOME") or Path.home() / ".local" / "state"
    folder = Path(base) / "testday"
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    return folder


def cookie_secret() -> str:
    """The secret that signs the cookies; made once, and the same from then on."""
    file = state_folder() / "cookie-secret"
    if not file.exists():
        beside = file.with_name(f"{file.name}.{os.getpid()}.part")
        _write(beside, secrets.token_hex(32) + "\n")
        with contextlib.suppress(FileExistsError):
            os.link(beside, file)  # appears whole, and never in the place of another
        beside.unlink()
    found = file.read_text("ascii").strip()
    _refuse_if_open_to_others(file)
    if len(found) < 32:
        raise click.UsageError(f"{file} holds no secret. Delete it: the next start makes one.")
    return found


def _read(sign_in: Path, study: Path) -> str:
    """Its text, once everything in it was found in order."""
    if sign_in.resolve().is_relative_to(study.resolve()):
        raise click.UsageError(
            f"--sign-in {sign_in}: keep this file outside the study, which is copied and shared"
        )
    _refuse_if_open_to_others(sign_in)
    try:
        text = sign_in.read_text("utf-8")
        auth = tomllib.loads(text).get("auth")
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise click.UsageError(f"--sign-in {sign_in}: this is no TOML file: {error}") from error
    if not isinstance(auth, Mapping) or not _HEAD.search(text):
        raise click.UsageError(f"--sign-in {sign_in}: a line [auth], and below it what it needs, is missing")
    if lacking := [name for name in NEEDED if not isinstance(auth.get(name), str) or not auth[name]]:
        raise click.UsageError(f"--sign-in {sign_in}: [auth] lacks {', '.join(lacking)}")
    _judge_addresses(sign_in, auth)
    return text


def _judge_addresses(sign_in: Path, auth: Mapping[str, Any]) -> None:
    """Signing in over plain http can be listened to, so it may only be used on this machine."""
    for name in ("redirect_uri", "server_metadata_url"):
        parts = urlsplit(auth[name])
        if parts.scheme == "http" and is_this_machine(parts.hostname or ""):
            continue
        if parts.scheme != "https" or not parts.hostname:
            raise click.UsageError(f"--sign-in {sign_in}: {name} must begin with https://")
    if not auth["redirect_uri"].endswith(CALLBACK):
        raise click.UsageError(f"--sign-in {sign_in}: redirect_uri must end with {CALLBACK}")


def _refuse_if_open_to_others(file: Path) -> None:
    if sys.platform != "win32" and stat.S_IMODE(file.stat().st_mode) & 0o077:
        raise click.UsageError(f"{file} can be read by others. Close it first: chmod 600 {file}")


def _write(file: Path, text: str) -> None:
    with open(os.open(file, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "w", encoding="utf-8") as out:
        out.write(text)
        out.flush()
        os.fsync(out.fileno())


def _forget_others(target: Path) -> None:
    """Files of servers that are gone hold a client's secret: they go too."""
    for file in target.parent.glob("sign-in-*.toml"):
        if file != target and not _lives(file.stem.rpartition("-")[2]):
            file.unlink(missing_ok=True)


def _lives(number: str) -> bool:
    try:
        os.kill(int(number), 0)
    except (ProcessLookupError, ValueError):
        return False
    except OSError:
        return True
    return True
