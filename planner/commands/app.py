"""`open`: the app in the browser, on this machine only."""

from __future__ import annotations

import os
import socket
import sys
from pathlib import Path

import click

from planner.commands.words import in_plain_words, say, study_folder


@click.command("open")
@study_folder
@click.option("--port", type=click.IntRange(1024, 65535), help="Where to listen; a free one if not given.")
@click.option("--browser/--no-browser", default=True, help="Open a browser window.")
@in_plain_words
def open_app(folder: Path, port: int | None, browser: bool) -> None:
    """Open the app on a study, on this machine only. Stop it with Ctrl-C."""
    from planner.commands.demo import working_copy

    study = working_copy(folder.resolve(), say)
    chosen = port or _free_port()
    say(f"Opening {study.name} at http://127.0.0.1:{chosen} (stop with Ctrl-C)")
    environment = os.environ | {"TESTDAY_STUDY": str(study)}
    os.execve(sys.executable, server_words(chosen, browser=browser), environment)


def _free_port() -> int:
    """A port that nobody listens on now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def server_words(port: int, *, browser: bool) -> list[str]:
    """The server's command line: this machine only, no statistics sent, our theme."""
    here = Path(__file__).parents[1] / "pages"
    return [
        sys.executable,
        "-m",
        "streamlit",
        "run",
        str(here / "main.py"),
        "--server.address=127.0.0.1",
        f"--server.port={port}",
        f"--server.headless={'false' if browser and _has_screen() else 'true'}",
        "--browser.gatherUsageStats=false",
        "--client.toolbarMode=viewer",
        "--server.fileWatcherType=none",
        f"--theme.base={here / 'theme.toml'}",
    ]


def _has_screen() -> bool:
    """Whether a browser window can be opened at all."""
    return sys.platform in ("darwin", "win32") or bool(
        os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")
    )
