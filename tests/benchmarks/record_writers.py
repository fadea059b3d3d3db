"""Eight writers at once for 60 s, at ten times a real day's rate and as fast as they can.

    python tests/benchmarks/record_writers.py [--seconds 60]

A real day is a quarter of an effort a second. Printed: the slowest writer's share of the fastest one's
efforts, the 99th percentile of an acknowledged effort, and the disk's own synchronous write, measured in
the same run. The clock starts when each writer has prepared its record, one after the other: as the app does
when its pages open.
"""

from __future__ import annotations

import argparse
import multiprocessing
import os
import random
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median, quantiles

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE.parents[1]), str(HERE)]

from record_kills import module  # noqa: E402

WRITERS = 8
RATE = 10 * 0.25  # efforts a second, all writers together


def write(
    open_it: Callable, drafts_of: Callable, writer: int, seconds: float, paced: bool, ready, out
) -> None:
    """Enter efforts for so long; send how long each took to be acknowledged, and errors."""
    store = open_it()
    for turn in range(WRITERS):
        ready.wait()
        if turn == writer % WRITERS:
            store.prepare()
    ready.wait()
    took, errors = [], 0
    start = time.monotonic()
    due = start + random.Random(writer).random() * WRITERS / RATE
    number = 1
    while (now := time.monotonic()) < start + seconds:
        if paced and now < due:
            time.sleep(due - now)
        due += WRITERS / RATE  # each writer's efforts come at even distances, whatever the others do
        began = time.perf_counter()
        try:
            outcomes = store.append(drafts_of(store.study, writer + 1, number), whole=True)
            errors += any(one.what != "added" for one in outcomes)
        except Exception as error:
            print(f"writer {writer}: {error}", file=sys.stderr)
            errors += 1
        took.append(time.perf_counter() - began)
        number += 1
    out.send((took, errors))


def sync_writes(folder: Path, stop, out) -> None:
    """The disk's own synchronous write of a page, wanted every tenth of a second beside the writers.

    Counted twice: by itself, and from the moment at which it was wanted. While the disk stands still for a
    while, one write is caught by it, and as many efforts as come in that time.
    """
    took = []
    due = time.perf_counter()
    with open(folder / "sync", "wb") as stream:
        while not stop.wait(max(0.0, due - time.perf_counter())):
            began = time.perf_counter()
            stream.write(b"x" * 4096)
            stream.flush()
            os.fsync(stream.fileno())
            took.append((time.perf_counter() - began, time.perf_counter() - due))
            due += 0.1
    out.send(took)


def run(name: str, open_it: Callable, folder: Path, seconds: float, paced: bool) -> bool:
    """One run; whether it keeps the bars."""
    drafts_of = module(HERE.parent / "record" / "test_kill.py").drafts_of
    context = multiprocessing.get_context("fork")
    stop = context.Event()
    sync_in, sync_out = context.Pipe(duplex=False)
    beside = context.Process(target=sync_writes, args=(folder, stop, sync_out))
    beside.start()
    offset = 0 if paced else 50
    ready = context.Barrier(WRITERS)
    pipes, processes = [], []
    for writer in range(WRITERS):
        ours, theirs = context.Pipe(duplex=False)
        args = (open_it, drafts_of, writer + offset, seconds, paced, ready, theirs)
        processes.append(context.Process(target=write, args=args))
        pipes.append(ours)
    for process in processes:
        process.start()
    found = [pipe.recv() for pipe in pipes]
    stop.set()
    syncs = sync_in.recv()
    for process in [*processes, beside]:
        process.join()
    return report(name, paced, seconds, found, syncs)


def report(name: str, paced: bool, seconds: float, found: list, syncs: list[tuple[float, float]]) -> bool:
    """Print the figures; whether they keep the bars of the paced run and the fairness of both."""
    took = [one for times, _ in found for one in times]
    errors = sum(count for _, count in found)
    counts = [len(times) for times, _ in found]
    ninety_nine, fair = percentile_99(took), min(counts) / max(counts)
    print(
        f"{name}, {'ten real days at once' if paced else 'as fast as they can'}: {len(took)} efforts "
        f"({len(took) / seconds:.1f}/s), {errors} errors; slowest/fastest {fair:.2f}; acknowledged median "
        f"{median(took) * 1e3:.1f} ms, 99th percentile {ninety_nine * 1e3:.1f} ms",
        flush=True,
    )
    ratios = [
        probe(words, ninety_nine, [one[n] for one in syncs])
        for n, words in enumerate(("by itself", "from when it was wanted"))
    ]
    return errors == 0 and fair >= 0.8 and (not paced or ratios[0] <= 10)


def probe(words: str, ninety_nine: float, syncs: list[float]) -> float:
    """Print what the disk needed; how often it goes into an effort's time, both the slowest of a hundred."""
    disk = percentile_99(syncs)
    print(
        f"    synchronous write {words}: median {median(syncs) * 1e3:.1f} ms, 99th percentile "
        f"{disk * 1e3:.1f} ms; an effort's 99th percentile is {ninety_nine / disk:.1f} times as much "
        f"({ninety_nine / median(syncs):.1f} times its median)",
        flush=True,
    )
    return ninety_nine / disk


def percentile_99(values: list[float]) -> float:
    """So long at most in 99 of 100."""
    return quantiles(values, n=100)[98]


def main() -> int:
    """Both databases, paced and not; 1 where a bar is not kept."""
    words = argparse.ArgumentParser()
    words.add_argument("--seconds", type=float, default=60)
    asked = words.parse_args()
    kept = True
    with tempfile.TemporaryDirectory(prefix="testday-writers-", dir=os.environ.get("TMPDIR")) as folder:
        for name, open_it in module(HERE / "record_places.py").both(Path(folder)):
            open_it().close()
            for paced in (True, False):
                kept &= run(name, open_it, Path(folder), asked.seconds, paced)
    return 0 if kept else 1


if __name__ == "__main__":
    sys.exit(main())
