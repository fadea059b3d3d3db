"""The JSON Schema of protocol files, from the same model that reads them, for editors."""

from __future__ import annotations

import json
from typing import Any

from planner.protocol.written import ProtocolWritten


def json_schema() -> dict[str, Any]:
    """The schema (draft 2020-12) that `protocols/protocol.schema.json` holds."""
    found = ProtocolWritten.model_json_schema(by_alias=True)
    found.pop("title", None)
    head = {"$schema": "https://json-schema.org/draft/2020-12/schema", "title": "Protocol of one visit"}
    return {**head, **_tidied(found)}


def schema_text() -> str:
    """The schema as the file holds it.

    To renew it: `python -m planner.protocol.schema > protocols/protocol.schema.json`.
    """
    return json.dumps(json_schema(), indent=1, ensure_ascii=False, sort_keys=True) + "\n"


def _tidied(node: Any, inside: str = "") -> Any:
    """Without titles made of names, defaults in another form than written, and null."""
    if isinstance(node, list):
        return [_tidied(one) for one in node]
    if not isinstance(node, dict):
        return node
    kept = {
        key: _tidied(value, key)
        for key, value in node.items()
        if inside == "properties"
        or not (key == "title" or (key == "default" and not isinstance(value, bool)))
    }
    options = kept.get("anyOf")
    if isinstance(options, list) and {"type": "null"} in options:
        rest = [one for one in options if one != {"type": "null"}]
        kept.pop("anyOf")
        kept.update(rest[0] if len(rest) == 1 else {"anyOf": rest})
    return kept


if __name__ == "__main__":
    print(schema_text(), end="")
