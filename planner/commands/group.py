"""`testday`: which commands there are. Each is imported only when it runs, so `check` starts fast."""

from __future__ import annotations

import importlib
from collections.abc import Sequence

import click

from planner.commands.since import run_as_program

_ROOMS = {
    "check": "protocol",
    "time": "protocol",
    "changes": "protocol",
    "schema": "protocol",
    "pack": "plan",
    "repack": "mend",
    "verify": "judge",
    "use": "judge",
    "documents": "papers",
    "rehearse": "record",
    "record": "record",
    "adherence": "adherence",
    "audit": "keep",
    "backup": "keep",
    "restore": "keep",
    "withdraw": "keep",
    "export": "keep",
    "set-up-database": "keep",
    "open": "app",
}


class LateGroup(click.Group):
    """A group that knows its commands by name and imports each only when it is asked for."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """All commands, in the order of a study's life."""
        return list(_ROOMS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command of that name, or None."""
        if cmd_name not in _ROOMS:
            return None
        room = importlib.import_module(f"planner.commands.{_ROOMS[cmd_name]}")
        command = getattr(room, "open_app" if cmd_name == "open" else cmd_name.replace("-", "_"))
        assert isinstance(command, click.Command)
        return command


@click.group(cls=LateGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="testday-planner")
def testday() -> None:
    """Plan and keep exercise test days: time a protocol, pack participants, print, record, compare.

    Exit status: 0 done; 1 the input has faults; 2 the command line is wrong; 3 no schedule can satisfy
    the study.
    """


def main(argv: Sequence[str] | None = None) -> None:
    """Run the command line."""
    if argv is None:
        run_as_program()
    testday.main(args=None if argv is None else list(argv), prog_name="testday")
