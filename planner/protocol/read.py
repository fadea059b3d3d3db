"""A protocol file to a frozen `Protocol`, or all its faults at once."""

from __future__ import annotations

from pathlib import Path

from pydantic import ValidationError

from planner.faults import Faults
from planner.files import Tree, read_yaml
from planner.protocol import build
from planner.protocol.likes import with_likes
from planner.protocol.model import Protocol
from planner.protocol.noted import Noted
from planner.protocol.rules import check_rules
from planner.protocol.shape_faults import note_shape_faults
from planner.protocol.written import ProtocolWritten


def read_protocol(path: Path, *, shown: str | None = None) -> Protocol:
    """The protocol of that file; `shown` is its name in messages. Raises FaultyInput with every fault."""
    faults = Faults()
    tree = read_yaml(path, faults, shown=shown)
    if tree is None:
        faults.raise_if_any()
        raise AssertionError("a file that cannot be read has a fault")
    return protocol_of(tree, faults)


def protocol_of(tree: Tree, faults: Faults) -> Protocol:
    """The protocol of a tree that was read; raises FaultyInput, also for what `faults` already holds."""
    noted = Noted(faults)
    likes = with_likes(tree, noted)
    tree, found = likes.tree, None
    try:
        found = ProtocolWritten.model_validate(tree.value)
    except ValidationError as error:
        note_shape_faults(error, tree, noted, likes.unlike)
    check_rules(likes, noted)
    faults.raise_if_any()
    if found is None:
        raise AssertionError("a file without faults has the form of the model")
    return _built(found, tree, faults)


def _built(found: ProtocolWritten, tree: Tree, faults: Faults) -> Protocol:
    return Protocol(
        name=found.name,
        title=found.title,
        version=found.version,
        cautions=found.cautions,
        manoeuvres={name: build.manoeuvre(name, one) for name, one in found.manoeuvres.items()},
        visit=tuple(map(build.step, found.visit)),
        priority=found.priority,
        preparation=tuple(map(build.preparation, found.preparation)),
        source=found.source,
        file=tree.file,
        places=tree.places,
        warnings=tuple(faults.warnings),
    )
