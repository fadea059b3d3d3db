"""Every text that a document prints, in one file a language: `say("run_sheet.cleared")`."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path

HERE = Path(__file__).parent


@cache
def _texts(language: str) -> dict[str, object]:
    return tomllib.loads((HERE / f"{language}.toml").read_text("utf-8"))


def _found(key: str, language: str) -> object:
    value: object = _texts(language)
    for part in key.split("."):
        if not isinstance(value, dict) or part not in value:
            raise KeyError(key)
        value = value[part]
    return value


def say(key: str, /, *, language: str = "en", **values: object) -> str:
    """The text of that key with its {places} filled; KeyError for an unknown key or a place left empty."""
    text = _found(key, language)
    if not isinstance(text, str):
        raise KeyError(key)
    return text.format_map(values) if values else text


def lines(key: str, /, *, language: str = "en") -> tuple[str, ...]:
    """The list of texts under that key; KeyError where there is none."""
    found = _found(key, language)
    if not isinstance(found, list):
        raise KeyError(key)
    return tuple(str(line) for line in found)
