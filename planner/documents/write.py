"""A study's papers into a folder: for a day, a person, a participant, or everything."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from datetime import date
from pathlib import Path
from typing import NamedTuple

from planner.documents.folder import Folder
from planner.documents.index import index_text
from planner.documents.jobs import Job, Wanted, jobs
from planner.documents.texts import say
from planner.schedule.model import Schedule
from planner.study.model import Study
from planner.timing.plan import VisitPlan

INDEX = "README.txt"


class Made(NamedTuple):
    """How far the writing is: so many of so many files, and the last one's name."""

    done: int
    of: int
    name: str

    def __str__(self) -> str:
        return say("folder.progress", done=self.done, of=self.of, name=self.name)


def write(
    study: Study,
    schedule: Schedule,
    plans: Mapping[str, VisitPlan],
    folder: Path,
    *,
    paper: str = "a4",
    day: date | None = None,
    person: str | None = None,
    participant: str | None = None,
    replaced: Schedule | None = None,
    progress: Callable[[Made], None] | None = None,
) -> tuple[Path, ...]:
    """Write the papers and return the paths of all of them, sorted.

    `paper` is `a4` or `letter`. `day`, `person` and `participant` narrow what is made. `replaced` is
    the plan before: its calendar entries that are gone are cancelled. A file that a person changed is
    left alone and the new one lies beside it; when everything is made, what earlier plans left behind
    moves to a folder of its own. `progress` is called about twenty times. ValueError for an unknown paper.
    """
    wanted = Wanted(day, person, participant)
    todo = list(jobs(study, schedule, plans, wanted, paper=paper, replaced=replaced))
    target = Folder(folder, study.name)
    paths, current = [], [INDEX]
    for number, (job, content) in enumerate(_made(todo), 1):
        path = target.put(job.name, content)
        paths.append(path)
        current += [job.name, path.name]
        if progress and (number % max(1, len(todo) // 20) == 0 or number == len(todo)):
            progress(Made(number, len(todo), path.name))
    if wanted.is_everything:
        target.retire(current)
    text = index_text(study, schedule, target, [path.name for path in paths])
    paths.append(target.put(INDEX, text.encode()))
    target.close()
    return tuple(sorted(paths))


def _made(todo: list[Job]) -> Iterator[tuple[Job, bytes]]:
    """Every job with its bytes, in order; the typesetter leaves the interpreter free, so threads help."""
    with ThreadPoolExecutor(max_workers=min(4, os.cpu_count() or 2)) as workers:
        yield from zip(todo, workers.map(lambda job: job.make(), todo), strict=True)
