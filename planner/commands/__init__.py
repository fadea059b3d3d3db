"""The command line: the whole road in short functions, one a command: `main(argv)`."""

from planner.commands.group import main

__all__ = ["main"]
