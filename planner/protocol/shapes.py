"""How written values are checked by pydantic and described by JSON Schema, from one declaration each."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from pydantic_core import PydanticCustomError, core_schema


def kind_of(node: object) -> str:
    """What stands in the file, in words."""
    if node is None:
        return "nothing"
    if isinstance(node, dict):
        return "a mapping of keys"
    return "a list" if isinstance(node, list) else repr(str(node)[:80])


@dataclass(frozen=True)
class Reads:
    """A text that `read` turns into a value; `noun` says in messages what is expected."""

    read: Callable[[str], Any]
    code: str
    noun: str
    schema: dict[str, Any] = field(hash=False)

    def __call__(self, node: object) -> Any:
        if not isinstance(node, str):
            words = f"{self.noun} is expected here, but {kind_of(node)} stands here"
            code = "empty-value" if node is None else "wrong-kind"
            raise PydanticCustomError(code, "{words}", {"words": words})
        try:
            return self.read(node)
        except ValueError as error:
            words = str(error).replace(repr(node), f"{node[:40]!r}…") if len(node) > 80 else str(error)
            raise PydanticCustomError(self.code, "{words}", {"words": words}) from None

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> core_schema.CoreSchema:
        return core_schema.no_info_plain_validator_function(self.__call__)

    def __get_pydantic_json_schema__(self, core: core_schema.CoreSchema, handler: Any) -> dict[str, Any]:
        return dict(self.schema)


@dataclass(frozen=True)
class Something:
    """A key may be left out, but where it stands something follows it."""

    def checked(self, node: object) -> object:
        """The node, unless it is nothing."""
        if node is None:
            words = "nothing stands here; write a value, or leave the key out"
            raise PydanticCustomError("empty-value", "{words}", {"words": words})
        return node

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> core_schema.CoreSchema:
        return core_schema.no_info_before_validator_function(self.checked, handler(source))


@dataclass(frozen=True)
class OneOrMany:
    """A list, of which a single one may stand without brackets; at least `least` items."""

    least: int = 0
    noun: str = "item"

    def listed(self, node: object) -> object:
        """The node as a list."""
        if node is None:
            words = f"at least one {self.noun} is expected here, but nothing stands here"
            raise PydanticCustomError("empty-value", "{words}", {"words": words})
        if isinstance(node, list) and len(node) < self.least:
            raise PydanticCustomError(
                "empty-list", "{words}", {"words": f"the list needs at least one {self.noun}"}
            )
        return node if isinstance(node, list) else [node]

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> core_schema.CoreSchema:
        return core_schema.no_info_before_validator_function(self.listed, handler(source))

    def __get_pydantic_json_schema__(self, core: core_schema.CoreSchema, handler: Any) -> dict[str, Any]:
        array = handler(core["schema"])
        array.pop("default", None)
        if self.least:
            array["minItems"] = self.least
        return {"anyOf": [array["items"], array]}


@dataclass(frozen=True)
class Short:
    """A mapping that may be written as one text, which stands for all of `keys`."""

    keys: tuple[str, ...]
    schema: dict[str, Any] = field(hash=False)
    noun: str = "text"
    as_list: bool = False

    def full(self, node: object) -> object:
        """The node as the mapping it stands for."""
        if isinstance(node, dict):
            return node
        if not isinstance(node, str):
            code = "empty-value" if node is None else "wrong-kind"
            words = f"{self.noun} or a mapping is expected here, but {kind_of(node)} stands here"
            raise PydanticCustomError(code, "{words}", {"words": words})
        return {key: [node] if self.as_list else node for key in self.keys}

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> core_schema.CoreSchema:
        return core_schema.no_info_before_validator_function(self.full, handler(source))

    def __get_pydantic_json_schema__(self, core: core_schema.CoreSchema, handler: Any) -> dict[str, Any]:
        return {"anyOf": [self.schema, handler(core["schema"])]}
