"""How long the program has been running: the seconds of a command are for the whole of it.

Imported before anything that takes time, so that its own import is the start of the program.
"""

from __future__ import annotations

import threading
import time

INTERPRETER_S = 0.1  # what the interpreter itself takes before that
LEAST_S = 0.5  # for the work itself, however long starting up and reading took

_BEGAN = time.monotonic() - INTERPRETER_S
_is_program = threading.Event()


def run_as_program() -> None:
    """Says that this process is one command, so that its seconds count from its start."""
    _is_program.set()


def seconds_left(seconds: float, workers: int) -> float:
    """What is left of a command's seconds; all of them for one worker, who goes by work done."""
    if workers == 1 or not _is_program.is_set():
        return seconds
    return max(LEAST_S, seconds - (time.monotonic() - _BEGAN))
