"""What the form alone cannot say: every rule between the keys of a protocol file."""

from __future__ import annotations

from planner.protocol.care import check_care
from planner.protocol.likes import Likes
from planner.protocol.manoeuvre_rules import check_manoeuvre
from planner.protocol.names import check_names
from planner.protocol.noted import Noted
from planner.protocol.seen import Seen
from planner.protocol.visit_rules import check_visit

PREPARATIONS = ("bring", "wear", "avoid", "stay away")


def check_rules(likes: Likes, noted: Noted) -> None:
    """Note every broken rule; values that have not the right form are told of elsewhere and passed over."""
    root = Seen(likes.tree, noted, likes.tree.value)
    steps = root.get("visit").items()
    check_names(root)
    for name, manoeuvre in root.get("manoeuvres").entries():
        taken = likes.taken.get(name, frozenset())
        check_manoeuvre(name, manoeuvre, taken, whole=name not in likes.unlike)
    check_visit(steps)
    for one in root.get("preparation").items():
        _check_preparation(one)
    check_care(root, steps)


def _check_preparation(one: Seen) -> None:
    if not isinstance(one.node, dict):
        return
    kinds = [kind for kind in PREPARATIONS if one.has(kind)]
    if not kinds:
        one.key_fault("missing-key", "this needs one of `bring`, `wear`, `avoid` or `stay away`")
    for extra in kinds[1:]:
        one.get(extra).key_fault(
            "one-of", f"`{kinds[0]}` and `{extra}` stand together", "Make two lines of it."
        )
    if one.has("for") and kinds and "avoid" not in kinds:
        one.get("for").key_fault("misplaced-key", "`for` says how long something is avoided")
