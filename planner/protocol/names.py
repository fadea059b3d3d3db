"""References that lead nowhere, and names that stand twice."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import partial

from planner.protocol.nearest import nearest
from planner.protocol.seen import Seen, measured


def check_names(root: Seen) -> None:
    """Note every reference to nothing and every name that stands twice in a protocol."""
    steps = root.get("visit").items()
    manoeuvres = dict(root.get("manoeuvres").entries())
    _alike(((name, one.key_fault) for name, one in root.get("manoeuvres").entries()), "manoeuvre")
    _alike(((one.get("id").text, one.get("id").fault) for one in steps), "step")
    for step in steps:
        for one in measured(step):
            _check_measure(one, manoeuvres)
        _check_roles(step)
    for _, manoeuvre in root.get("manoeuvres").entries():
        _check_roles(manoeuvre)
    _check_priority(root, steps)
    _label_case(root, steps)


def _alike(names: Iterable[tuple[str | None, Callable[[str, str, str], None]]], what: str) -> None:
    """The second of two equal names, or of two that differ in case alone, is a fault."""
    before: dict[str, str] = {}
    for name, fault in names:
        if name is None:
            continue
        if (other := before.get(name.casefold())) is None:
            before[name.casefold()] = name
        elif other == name:
            fault("duplicate-id", f"the {what} {name!r} stands here again", "Give it a name of its own.")
        else:
            words = f"the {what} {name!r} differs from {other!r} in case alone"
            fault("case", words, "Names of files may not tell them apart.")


def _check_measure(measure: Seen, manoeuvres: dict[str, Seen]) -> None:
    before: set[str] = set()
    for one in measure.items():
        name = one.text
        if name is None:
            continue
        if name not in manoeuvres:
            hint = partial(nearest, name, manoeuvres, "manoeuvre")
            one.fault("unknown-manoeuvre", f"there is no manoeuvre {name[:80]!r}.", hint)
        if name in before:
            words = f"{name!r} stands twice in one `measure`"
            one.fault("twice-in-measure", words, "Write a second step for it.")
        before.add(name)


def _check_roles(owner: Seen) -> None:
    """A role or class of rig named twice in one list would be one person, one device, twice."""
    for key, what in (("rig", "class of rig"), ("staff", "role")):
        for place in (owner, owner.get("clear"), owner.get("watch")):
            before: set[str] = set()
            for one in place.get(key).items():
                if one.text in before:
                    one.fault("named-twice", f"the {what} {one.text!r} stands here twice")
                before.add(one.text or "")


def _check_priority(root: Seen, steps: list[Seen]) -> None:
    measures = {
        step.get("id").text or "": {one.text for measure in measured(step) for one in measure.items()}
        for step in steps
    }
    for one in root.get("priority").items():
        step, slash, manoeuvre = (one.text or "").partition("/")
        if one.text is None:
            continue
        if step not in measures:
            hint = partial(nearest, step, measures, "step")
            one.fault("unknown-step", f"there is no step {step[:80]!r}.", hint)
        elif slash and manoeuvre not in measures[step]:
            valid = sorted(name for name in measures[step] if name)
            hint = partial(nearest, manoeuvre, valid, "manoeuvre")
            one.fault("unknown-manoeuvre", f"the step {step!r} does not measure {manoeuvre[:80]!r}.", hint)


def _label_case(root: Seen, steps: list[Seen]) -> None:
    """Two labels that differ in case alone are most likely one, written in two ways."""
    before: dict[tuple[str, str], str] = {}
    owners = [one for _, one in root.get("manoeuvres").entries()] + steps
    for owner in owners:
        for key in ("rig", "staff"):
            for one in owner.get(key).items():
                name = one.text or ""
                other = before.setdefault((key, name.casefold()), name)
                if other != name:
                    words = f"{name!r} and {other!r} differ in case alone, and count as two"
                    one.warn("label-case", words, f"Write {other!r} if they are one.")
