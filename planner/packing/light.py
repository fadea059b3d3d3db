"""The solver loaded without the table library that it names in its types and that no plan needs.

Loading that library is most of what the solver takes to load: 0.5 of 0.75 s of computing, measured, in
a command whose answer somebody waits for on a running day.
"""

from __future__ import annotations

import contextlib
import importlib
import sys
import threading
from types import ModuleType

TABLES = "pandas"


def load_solver() -> None:
    """Loads the solver for a program that will hand it no tables.

    Where tables are loaded already, or another thread might ask for them meanwhile, nothing is done: the
    solver then loads as it always does.
    """
    if TABLES in sys.modules or threading.active_count() > 1:
        return
    sys.modules[TABLES] = _names_only()
    try:
        with contextlib.suppress(
            AttributeError
        ):  # a version that asks for more than names: as it always does
            importlib.import_module("ortools.sat.python.cp_model")
    finally:
        del sys.modules[TABLES]


def _names_only() -> ModuleType:
    """A module with the names that the solver's types speak of, and nothing behind them."""
    names = ModuleType(TABLES)
    vars(names).update(Index=type("Index", (), {}), Series=type("Series", (), {}))
    return names
