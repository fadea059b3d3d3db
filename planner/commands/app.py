"""`open`: the app in the browser, on this machine only."""

from __future__ import annotations

import os
import socket
import sys
from pathlib import Path

import click

from planner.commands.words import in_plain_words, say

LOCAL = "127.0.0.1"
A_FILE = click.Path(exists=True, dir_okay=False, path_type=Path)


@click.command("open")
@click.argument("folder", metavar="STUDY", type=click.Path(file_okay=False, path_type=Path))
@click.option("--new", is_flag=True, help="Begin a study: the folder is made if it is not there.")
@click.option("--port", type=click.IntRange(1024, 65535), help="Where to listen; a free one if not given.")
@click.option("--browser/--no-browser", default=True, help="Open a browser window.")
@click.option("--address", default=LOCAL, show_default=True, help="Where to listen; others need --sign-in.")
@click.option("--sign-in", metavar="FILE", type=A_FILE, help="How people sign in (OpenID Connect).")
@click.option("--certificate", metavar="FILE", type=A_FILE, help="For https; with --key.")
@click.option("--key", metavar="FILE", type=A_FILE, help="The certificate's key.")
@in_plain_words
def open_app(  # one parameter an option
    folder: Path,
    new: bool,
    port: int | None,
    browser: bool,
    address: str,
    sign_in: Path | None,
    certificate: Path | None,
    key: Path | None,
) -> None:
    """Open the app on a study, on this machine only unless told otherwise. Stop it with Ctrl-C."""
    from planner.commands.sign_in import host_of, place_of, secrets_file
    from planner.record.access import is_this_machine

    if sign_in is None and not is_this_machine(address):
        raise click.UsageError(
            f"--address {address}: others could open the study; on a network it takes --sign-in"
        )
    if (certificate is None) != (key is None):
        raise click.UsageError("--certificate and --key belong together")
    _there(folder, make=new)
    given = _given(folder.resolve())
    chosen = port or _free_port()
    words = server_words(chosen, browser=browser, address=address)
    if sign_in is not None:
        words.append(f"--secrets.files={secrets_file(sign_in, folder)}")
        words.append(f"--browser.serverAddress={host_of(sign_in)}")  # who comes from there is let in
    if certificate is not None:
        words += [f"--server.sslCertFile={certificate}", f"--server.sslKeyFile={key}"]
    scheme = "http" if certificate is None else "https"
    place = place_of(sign_in) if sign_in else f"{scheme}://{address}:{chosen}"
    say(f"Opening {folder.resolve().name} at {place} (stop with Ctrl-C)")
    os.execve(sys.executable, words, os.environ | given)


def _given(folder: Path) -> dict[str, str]:
    """What tells the server which study to open; a demo is made while the server reads in what it needs."""
    from planner.commands.demo import in_the_making, ready_copy, working_copy

    study = ready_copy(folder)
    if study is None and os.name == "posix":  # elsewhere a file number is not handed on
        told, maker = in_the_making(folder)
        return {"TESTDAY_STUDY_FROM": f"{told} {maker}"}
    return {"TESTDAY_STUDY": str(study or working_copy(folder, say))}


def _there(folder: Path, *, make: bool) -> None:
    """The folder is there, or is made; else a usage error that says how to begin a study."""
    if not folder.exists() and not make:
        raise click.UsageError(
            f"there is no folder {folder}. To begin a study there: testday open {folder} --new"
        )
    folder.mkdir(parents=True, exist_ok=True)


def _free_port() -> int:
    """A port that nobody listens on now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def server_words(port: int, *, browser: bool, address: str = LOCAL) -> list[str]:
    """The server's command line: this machine only unless told otherwise, nothing sent out, our theme."""
    here = Path(__file__).parents[1] / "pages"
    return [
        sys.executable,
        "-m",
        "planner.pages.serve",
        "run",
        str(here / "main.py"),
        f"--server.address={address}",
        f"--server.port={port}",
        f"--server.headless={'false' if browser and _has_screen() else 'true'}",
        "--browser.gatherUsageStats=false",
        "--client.toolbarMode=viewer",
        "--client.showErrorLinks=false",
        "--runner.postScriptGC=false",
        "--server.fileWatcherType=none",
        f"--theme.base={here / 'theme.toml'}",
    ]


def _has_screen() -> bool:
    """Whether a browser window can be opened at all."""
    return sys.platform in ("darwin", "win32") or bool(
        os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")
    )
