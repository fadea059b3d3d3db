"""The solver without its table library: it solves, and tables asked for later are the real ones."""

from __future__ import annotations

import subprocess
import sys

import pytest

SOLVED = """
import sys
from planner.packing.light import load_solver
{before}
load_solver()
from ortools.sat.python import cp_model
model = cp_model.CpModel()
x = model.new_int_var(0, 5, "x")
model.maximize(2 * x)
solver = cp_model.CpSolver()
assert solver.solve(model) == cp_model.OPTIMAL and solver.value(x) == 5
print("pandas" in sys.modules)
import pandas
print(pandas.Series([1, 2]).sum())
"""


@pytest.mark.parametrize(
    ("before", "has_tables"),
    [
        ("", "False"),
        ("import pandas", "True"),
        ("import threading; threading.Thread(target=threading.Event().wait, daemon=True).start()", "True"),
    ],
)
def test_the_solver_solves_and_tables_stay_whole(before: str, has_tables: str):
    done = subprocess.run(
        [sys.executable, "-c", SOLVED.format(before=before)], capture_output=True, text=True, check=False
    )
    assert done.stdout.split() == [has_tables, "3"], done.stderr


def test_a_solver_that_asks_for_more_is_loaded_as_it_always_is():
    """A version that uses something else of the tables while it loads."""
    less = "import planner.packing.light as light; light._names_only = lambda: light.ModuleType('pandas')"
    done = subprocess.run(
        [sys.executable, "-c", SOLVED.format(before=less)], capture_output=True, text=True, check=False
    )
    assert done.stdout.split() == ["True", "3"], done.stderr


def test_mending_a_plan_loads_no_tables():
    script = (
        "import sys\nfrom planner.commands.group import testday\n"
        "testday.main(['repack', 'tests/data/small', '--plan', 'tests/data/small-plan.json', '--now',"
        " '2027-03-01T07:00', '--late', 'ROW-01=5'], standalone_mode=False)\n"
        "print('pandas' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=False)
    assert done.stdout.split()[-1:] == ["False"], done.stderr
