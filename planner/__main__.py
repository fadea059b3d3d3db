"""`python -m planner` is `testday`."""

from planner.commands import main

main()
