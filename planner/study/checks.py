"""Names that lead from one file to another: classes of rig and roles, from protocols and study.yaml."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass

from planner.faults import Faults, Place
from planner.files import Tree
from planner.protocol.model import Clearing, KeyPath, Protocol
from planner.protocol.nearest import nearest
from planner.study.written import Written

_CLASS = "class of device"


@dataclass(frozen=True, slots=True)
class Names:
    """What the study has."""

    classes: Collection[str]
    roles: Collection[str]


def check_protocol(protocol: Protocol, names: Names, faults: Faults) -> None:
    """Every class of rig and every role that the protocol asks for is there in the study."""
    for kind, name, path in _asked_for(protocol):
        known = names.classes if kind == _CLASS else names.roles
        if name not in known:
            lacks = "the study has no such device" if kind == _CLASS else "nobody in the staff table has it"
            words = f"this asks for the {kind} {name!r}, and {lacks}"
            hint = f"Add it to the study, or change the protocol. {_nearest(name, known, kind)}"
            faults.add(protocol.place(*path), "unknown-name", words, hint)


def _nearest(name: str, known: Collection[str], kind: str) -> str:
    """The nearest name; where several stand as one with commas between them, how they are written."""
    for one in known:
        if name in [part.strip() for part in one.split(",")]:
            return f"{one!r} counts as one: put ; between several."
    return nearest(name, known, kind)


def _asked_for(protocol: Protocol) -> Iterator[tuple[str, str, KeyPath]]:
    used = {name for step in protocol.visit for name in step.measure}
    used |= {name for step in protocol.visit for during in step.during for name in during.measure}
    for name in sorted(used):
        manoeuvre, path = protocol.manoeuvres[name], ("manoeuvres", name)
        yield from ((_CLASS, rig, (*path, "rig")) for rig in manoeuvre.rigs)
        yield from (("role", role, (*path, "staff")) for role in manoeuvre.staff)
        yield from _clearing(manoeuvre.clear, path)
    for number, step in enumerate(protocol.visit):
        here: KeyPath = ("visit", number)
        yield from ((_CLASS, rig, (*here, "rig")) for rig in step.rigs)
        yield from (("role", role, (*here, "staff")) for role in step.staff)
        yield from _clearing(step.clear, here)
        yield from (
            ("role", role, (*here, "watch", "staff")) for role in (step.watch.staff if step.watch else ())
        )


def _clearing(clear: Clearing | None, path: KeyPath) -> Iterator[tuple[str, str, KeyPath]]:
    yield from (("role", role, (*path, "clear", "staff")) for role in (clear.staff if clear else ()))


def check_study_names(written: Written, tree: Tree, names: Names, faults: Faults) -> None:
    """`keep_same` and `before_first_use` name what is there."""
    for key in ("within_visit", "across_visits"):
        for number, name in enumerate(getattr(written.keep_same, key)):
            known = [*names.classes, *names.roles]
            place = tree.value_place(("keep_same", key, number))
            words = f"{name!r} is neither a class of rig nor a role of this study"
            _note_unknown(name, known, place, words, "the class or role", faults)
    for rig_class, first_use in written.before_first_use.items():
        place = tree.place(("before_first_use", rig_class))
        words = f"{rig_class!r} is no class of rig of this study"
        _note_unknown(rig_class, names.classes, place, words, "the class of rig", faults)
        for role in first_use.staff:
            place = tree.place(("before_first_use", rig_class, "staff"))
            _note_unknown(role, names.roles, place, f"nobody has the role {role!r}", "the role", faults)


def warn_of_idle_roles(
    protocols: Collection[Protocol], written: Written, roles: Collection[str], place: Place, faults: Faults
) -> None:
    """Warn of roles that nothing asks for: a slip of the pen in the staff table looks like one."""
    asked = _roles_asked_for(protocols, written)
    for role in roles:
        if role not in asked:
            words = f"no protocol of this study asks for the role {role!r}"
            several = all(part.strip() in asked for part in role.split(","))  # commas for semicolons
            hint = "Put ; between several roles." if several else nearest(role, asked, "the role")
            faults.warn(place, "idle-role", words, hint)


def need_staff(protocols: Collection[Protocol], written: Written, place: Place, faults: Faults) -> None:
    """A fault where the staff table has no line, and yet somebody is asked for: each role is named."""
    if asked := _roles_asked_for(protocols, written):
        words = f"nobody stands in the staff table, and these roles are asked for: {', '.join(sorted(asked))}"
        faults.add(place, "empty", words, "Write a line for each person: a code, and the roles.")


def _roles_asked_for(protocols: Collection[Protocol], written: Written) -> set[str]:
    """The roles that the protocols, or the rigs' checks before their first use, ask for."""
    asked = {name for one in protocols for kind, name, _ in _asked_for(one) if kind == "role"}
    return asked | {role for first_use in written.before_first_use.values() for role in first_use.staff}


def _note_unknown(
    name: str, known: Collection[str], place: Place, words: str, what: str, faults: Faults
) -> None:
    if name not in known:
        faults.add(place, "unknown-name", words, nearest(name, known, what))
