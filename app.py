"""The app; `testday open STUDY` starts it."""

from planner.pages.main import run

run()
