"""Rules between the steps of a visit: kinds of step, anchors, windows."""

from __future__ import annotations

from functools import partial
from itertools import pairwise

from planner.protocol import values
from planner.protocol.nearest import nearest
from planner.protocol.seen import Seen

MOST_BLOCKS = 10_000
KINDS = ("takes", "measure", "rest")
OF_TASKS = ("rig", "staff", "clear", "watch")


def check_visit(steps: list[Seen]) -> None:
    """Note every broken rule between the steps, in the order of the file."""
    ids = [step.get("id").text or "" for step in steps]
    for number, step in enumerate(steps):
        if not isinstance(step.node, dict):
            continue
        _check_kind(step)
        _check_length(step.get("takes"))
        for during in step.get("during").items():
            _check_times(during, falling=False)
        if isinstance(step.get("due").node, dict):
            _check_due(number, steps, ids)
    _check_size(steps)
    if steps and steps[0].has("starts_within"):
        steps[0].get("starts_within").key_fault("nothing-before", "no step comes before the first one")


def _check_size(steps: list[Seen]) -> None:
    """A few lines can ask for millions of blocks: every time point measures every manoeuvre."""
    count = 0
    for step in steps:
        times = len(step.get("due").get("at").items()) or 1
        count += times * (len(step.get("measure").items()) or 1)
        for during in step.get("during").items():
            count += len(during.get("at").items()) * len(during.get("measure").items())
        if count > MOST_BLOCKS:
            step.key_fault("too-many-blocks", f"with this step, the visit has more than {MOST_BLOCKS} blocks")
            return


def _check_kind(step: Seen) -> None:
    kinds = [kind for kind in KINDS if step.has(kind)]
    name = step.get("id").text or "the step"
    if not kinds:
        step.key_fault("step-kind", f"{name!r} needs one of `takes`, `measure` or `rest`")
    for extra in kinds[1:]:
        words = f"{name!r} has both `{kinds[0]}` and `{extra}`"
        step.get(extra).key_fault("step-kind", words, "Make two steps of it.")
    if "takes" not in kinds:
        if step.has("during"):
            step.get("during").key_fault(
                "misplaced-key", "only a step with `takes` has something `during` it"
            )
        if step.get("exercise").read(values.true_or_false):
            step.get("exercise").key_fault("misplaced-key", "exercise is a step with `takes`")
    if kinds == ["measure"]:
        for key in OF_TASKS:
            if step.has(key):
                words = f"`{key}` does not belong to a step with `measure`"
                step.get(key).key_fault(
                    "misplaced-key", words, "Its manoeuvres name rig, staff and clearing."
                )


def _check_length(takes: Seen) -> None:
    shortest, about, longest = (takes.get(key).seconds for key in ("shortest", "about", "longest"))
    if shortest is None or about is None or longest is None:
        return
    if shortest > longest:
        takes.get("shortest").fault("length-order", "`shortest` is longer than `longest`")
    elif not shortest <= about <= longest:
        takes.get("about").fault("length-order", "`about` lies outside `shortest` and `longest`")


def _check_times(window: Seen, *, falling: bool) -> None:
    """`at` in order, `early` and `late` one for all or one for each."""
    times = window.get("at").items()
    for before, after in pairwise(times):
        first, second = before.seconds, after.seconds
        if first is None or second is None:
            continue
        if (second >= first) if falling else (second <= first):
            order = "fall, as they happen" if falling else "rise"
            after.fault(
                "at-order", f"the times in `at` must {order}: {before.text} stands before {after.text}"
            )
    for key in ("early", "late"):
        bounds = window.get(key)
        if isinstance(bounds.node, list) and times and bounds.node and len(bounds.node) != len(times):
            words = f"`{key}` has {len(bounds.node)} durations, but `at` has {len(times)}"
            bounds.key_fault("count", words, "Write one for all, or one for each.")


def _check_due(number: int, steps: list[Seen], ids: list[str]) -> None:
    due = steps[number].get("due")
    sides = [side for side in ("after", "before") if due.has(side)]
    if not sides:
        due.key_fault("missing-key", "`due` needs `after` or `before`", "Write for example after: row")
    if len(sides) == 2:
        due.get("before").key_fault("after-and-before", "`due` has `after` or `before`, not both")
    if sides == ["before"] and due.has("from"):
        words = "`from` belongs to `after`; a time before a step always counts to its start"
        due.get("from").key_fault("misplaced-key", words)
    for side in sides:
        _check_anchor(due.get(side), side, number, steps, ids)
    _check_times(due, falling=sides == ["before"])


def _check_anchor(anchor: Seen, side: str, number: int, steps: list[Seen], ids: list[str]) -> None:
    name = anchor.read(values.identifier)
    if name is None:
        return
    if name not in ids:
        valid = ids[:number] if side == "after" else ids[number + 1 :]
        hint = partial(nearest, name, valid, "step")
        anchor.fault("unknown-step", f"there is no step {name!r}.", hint)
        return
    place = ids.index(name)
    if place == number:
        anchor.fault("anchor-order", f"{name!r} cannot be due {side} itself")
    elif (place > number) == (side == "after"):
        listed = "later" if side == "after" else "earlier"
        words = f"{ids[number]!r} is due {side} {name!r}, but {name!r} is listed {listed}"
        anchor.fault("anchor-order", words)
    elif len(steps[place].get("due").get("at").items()) > 1:
        words = f"{name!r} happens several times, so nothing can be due {side} it"
        anchor.fault("anchor-repeats", words, "Name a step that happens once.")
