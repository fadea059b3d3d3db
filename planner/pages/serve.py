"""The page server, which reads the heavy libraries while the browser is still opening: `python -m` runs it.

A first page needs pandas, altair and more, over a second of reading; the browser needs as long to load the
frame that every page stands in. What other pages need is read once the first page stands, which needs both
cores until then, so that no page waits for it later.

What was read stays as long as the server runs. Python is told so (`gc.freeze`): looking all of it through for
what is no longer used takes a tenth of a second, and the framework would do so at the end of each click. It
is told not to, by `runner.postScriptGC` in the server's words; what a click leaves behind is found all the
same, when there is enough of it.
"""

from __future__ import annotations

import contextlib
import gc
import importlib
import logging
import os
import select
import sys
import threading
import time
from collections.abc import Iterable
from pathlib import Path

LOG = logging.getLogger(__name__)

FIRST = (
    "planner.pages.common",
    "planner.pages.arrival",
    "planner.documents.ruler",
    "planner.pages.protocol_picture",
)
# Of these, what needs no server: read while a study is in the making.
MEANWHILE = ("planner.documents.ruler", "planner.study.read", "planner.schedule.plan_file", "pandas")
NEXT = ("planner.pages.protocol_more", "planner.pages.grid", "planner.pages.protocol_mistakes")
LATER = (
    "planner.pages.study_own",
    "planner.pages.study_picture",
    "planner.pages.study_tables",
    "planner.pages.schedule_picture",
    "planner.pages.schedule_files",
    "planner.pages.schedule_result",
    "planner.pages.schedule_odds",
    "planner.pages.schedule_earlier",
    "planner.pages.protocol_learned",
    "planner.pages.documents_made",
    "planner.pages.documents_shown",
    "planner.pages.protocol_parts",
    "planner.pages.study_fields",
    "planner.study.missing",
    "planner.pages.schedule_capacity",
    "planner.pages.schedule_visit",
    "planner.pages.day_scene",
    "planner.pages.day_choose",
    "planner.pages.day_column",
    "planner.pages.day_device",
    "planner.pages.day_dry_run",
    "planner.pages.day_notes",
    "planner.pages.day_now",
    "planner.pages.day_readings",
    "planner.pages.day_replan",
    "planner.pages.day_strange",
    "planner.pages.day_take",
    "planner.pages.heard",
    "planner.documents.write",
    "planner.documents.ethics_pdf",
    "planner.documents.adherence_pictures",
    "planner.documents.adherence_report",
)
# Whose `draw_ahead` draws what their pages open with: at once, or when all has been read.
DRAWN_FIRST = ("planner.pages.protocol_picture",)
DRAWN_LATER = (
    "planner.pages.study_picture",
    "planner.pages.schedule_picture",
    "planner.pages.documents_made",
    "planner.pages.day_scene",
)
_PAUSE_S = 0.05
# How long the first page is waited for, where somebody opens one at once; and left to the browser to draw.
FIRST_PAGE_S = 8.0
DRAWN_S = 1.0


def read_ahead() -> None:
    """Import what the pages need and draw what they open with: nothing before the server answers."""
    from streamlit import runtime

    while not runtime.exists():
        time.sleep(_PAUSE_S)
    try:
        _read(FIRST, DRAWN_FIRST)
        _read(NEXT)
        _await_first_page()
        _read(LATER, DRAWN_LATER)
    finally:
        settle()


def _read(names: Iterable[str], drawn: Iterable[str] = ()) -> None:
    for name in names:
        importlib.import_module(name)
        time.sleep(_PAUSE_S)  # whoever waits for a page comes first
    for name in drawn:
        draw_ahead(name)


def _await_first_page() -> None:
    """Until a first page has been sent and the browser has had time to draw it; not for ever."""
    from planner.pages import fetched

    if fetched.SENT.wait(FIRST_PAGE_S):
        time.sleep(DRAWN_S)


def draw_ahead(name: str) -> None:
    """Let that module draw; what cannot be drawn is the matter of the page, which says why."""
    folder = os.environ.get("TESTDAY_STUDY")
    if not folder:
        return
    try:
        importlib.import_module(name).draw_ahead(Path(folder))
    except Exception:  # whatever it is, the page meets it again where somebody reads it
        LOG.debug("nothing was drawn ahead by %s", name, exc_info=True)
    time.sleep(_PAUSE_S)


def settle() -> None:
    """All that is there now stays: it is not looked through again for what is no longer used."""
    gc.collect()
    gc.freeze()
    gc.enable()


def await_study() -> None:
    """Where the study is still in the making: read in what needs no server until its folder is told."""
    given = os.environ.pop("TESTDAY_STUDY_FROM", "")
    if not given:
        return
    number, maker = map(int, given.split())
    for name in MEANWHILE:
        if select.select([number], [], [], 0)[0]:
            break
        importlib.import_module(name)
    with os.fdopen(number, "rb") as told:
        study = os.fsdecode(told.read())
    with contextlib.suppress(ChildProcessError):
        os.waitpid(maker, 0)  # this child alone: others may live as long as the server
    if not study:
        sys.exit(1)  # whoever made it has said why not
    os.environ["TESTDAY_STUDY"] = study


def main() -> None:
    """Start the server as the words after the name of this module say."""
    gc.disable()  # until `settle`: what is read in stays, so that looking through it is in vain
    from streamlit.web.cli import main as serve

    await_study()
    threading.Thread(target=read_ahead, daemon=True).start()
    serve(prog_name="streamlit")


if __name__ == "__main__":
    main()
