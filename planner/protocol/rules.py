"""What the form alone cannot say: every rule between the keys of a protocol file."""

from __future__ import annotations

from planner.faults import Faults
from planner.files import Tree


def check_rules(tree: Tree, faults: Faults) -> None:
    """Note every broken rule; values that have not the right form are told of elsewhere and passed over."""
