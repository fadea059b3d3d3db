"""A tolerant view of what was written: rules between keys look at it while some values are still wrong.

Whatever has not the right form reads as None or as nothing here; its fault is told where forms are
checked. So every fault of a file comes out at once.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TypeVar

from planner.clock import duration_s
from planner.faults import Place
from planner.files import KeyPath, Node, Tree
from planner.protocol import values
from planner.protocol.noted import Hint, Noted
from planner.protocol.shape_faults import value_place
from planner.quantity import Quantity, quantity

Value = TypeVar("Value")


@dataclass(frozen=True, slots=True)
class Seen:
    """A node of the tree with its path; `get` and `items` lead further down."""

    tree: Tree
    noted: Noted
    node: Node
    path: KeyPath = ()

    def get(self, key: str) -> Seen:
        """The value of that key; nothing where it is not written."""
        node = self.node.get(key) if isinstance(self.node, dict) else None
        return Seen(self.tree, self.noted, node, (*self.path, key))

    def has(self, key: str) -> bool:
        """Whether the key is written, be it wrongly."""
        return isinstance(self.node, dict) and key in self.node

    def items(self) -> list[Seen]:
        """The items of a list; a single one may stand without brackets."""
        if isinstance(self.node, list):
            return [Seen(self.tree, self.noted, one, (*self.path, i)) for i, one in enumerate(self.node)]
        return [] if self.node is None else [self]

    def entries(self) -> Iterator[tuple[str, Seen]]:
        """Keys and values of a mapping."""
        for key in self.node if isinstance(self.node, dict) else ():
            yield key, self.get(key)

    def read(self, how: Callable[[str], Value]) -> Value | None:
        """The text read in that way, or None where it is no text or a wrong one."""
        if not isinstance(self.node, str):
            return None
        try:
            return how(self.node)
        except ValueError:
            return None

    @property
    def text(self) -> str | None:
        """The text with outer spaces removed."""
        return self.read(str.strip)

    @property
    def seconds(self) -> int | None:
        """The duration."""
        return self.read(duration_s)

    @property
    def quantity(self) -> Quantity | None:
        """The decimal with its unit."""
        return self.read(quantity)

    @property
    def number(self) -> int | None:
        """The whole number."""
        return self.read(values.whole_number)

    @property
    def key_place(self) -> Place:
        """Where the key or item begins."""
        return self.tree.place(self.path)

    @property
    def place(self) -> Place:
        """Where the value begins; of a list or mapping, where its key does."""
        return value_place(self.tree, self.path) if self.path in self.tree.values else self.key_place

    def fault(self, code: str, message: str, hint: Hint = "") -> None:
        """Note a fault of this value."""
        self.noted.add(self.place, code, message, hint)

    def key_fault(self, code: str, message: str, hint: Hint = "") -> None:
        """Note a fault of this key."""
        self.noted.add(self.key_place, code, message, hint)

    def warn(self, code: str, message: str, hint: str = "") -> None:
        """Note a warning at this key."""
        self.noted.warn(self.key_place, code, message, hint)


def efforts_of(manoeuvre: Seen) -> tuple[int, int] | None:
    """`at_least` and `at_most`, however written."""
    efforts = manoeuvre.get("efforts")
    if (number := efforts.number) is not None:
        return number, number
    least, most = efforts.get("at_least").number, efforts.get("at_most").number
    return None if least is None or most is None else (least, most)


def measured(step: Seen) -> list[Seen]:
    """Every list `measure` of a step: its own and those during it."""
    lists = [step.get("measure"), *(one.get("measure") for one in step.get("during").items())]
    return [one for one in lists if one.node is not None]
