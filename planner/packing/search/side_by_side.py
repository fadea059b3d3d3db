"""Several searches at once, one on each worker: a solver at work lets the others go on."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import FIRST_EXCEPTION, ThreadPoolExecutor, wait
from typing import TypeVar

Result = TypeVar("Result")


def side_by_side(tasks: Sequence[Callable[[], Result]], give_up: Callable[[], None]) -> list[Result]:
    """What each of the tasks returns, in their order; the first fault of one is raised.

    `give_up` ends whatever is still at work when one has failed or somebody has broken in.
    """
    if len(tasks) == 1:
        return [tasks[0]()]
    with ThreadPoolExecutor(len(tasks)) as pool:
        futures = [pool.submit(task) for task in tasks]
        try:
            wait(futures, return_when=FIRST_EXCEPTION)
        except BaseException:
            give_up()
            raise
        if any(future.done() and future.exception() for future in futures):
            give_up()
    return [future.result() for future in futures]
