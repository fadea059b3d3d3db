"""The committed JSON Schema is the one that the model gives, and judges files as reading does."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pytest
from ruamel.yaml import YAML

from planner.protocol.schema import json_schema, schema_text

ROOT = Path(__file__).parents[2]
PROTOCOLS = sorted((ROOT / "protocols").glob("*.yaml"))
VALIDATOR = jsonschema.Draft202012Validator(json_schema())


def errors_of(text: str) -> list[str]:
    return [error.message for error in VALIDATOR.iter_errors(YAML(typ="safe", pure=True).load(text))]


def test_the_committed_schema_is_current():
    committed = (ROOT / "protocols" / "protocol.schema.json").read_text("utf-8")
    assert committed == schema_text(), (
        "renew it: python -m planner.protocol.schema > protocols/protocol.schema.json"
    )


def test_the_schema_is_one():
    jsonschema.Draft202012Validator.check_schema(json.loads(schema_text()))


@pytest.mark.parametrize("path", PROTOCOLS, ids=lambda path: path.stem)
def test_every_protocol_points_to_the_schema_and_fits_it(path: Path):
    text = path.read_text("utf-8")
    assert text.startswith("# yaml-language-server: $schema=protocol.schema.json\n")
    assert errors_of(text) == []


SEEN_BY_EDITORS = [
    *[
        "key-unknown",
        "key-missing-effort",
        "key-missing-late",
        "duration-bare-number",
        "duration-unknown-unit",
    ],
    *["quantity-without-unit", "identifier-with-space", "label-with-slash", "step-two-kinds", "step-no-kind"],
    *["efforts-zero", "visit-empty", "format-other", "mapping-where-text", "yes-is-not-true"],
]


@pytest.mark.parametrize("name", SEEN_BY_EDITORS)
def test_an_editor_underlines_what_reading_refuses(name: str):
    assert errors_of((ROOT / "tests" / "data" / "broken" / f"{name}.yaml").read_text("utf-8"))


@pytest.mark.parametrize(
    "path", sorted((ROOT / "tests" / "data" / "tricky").glob("*.yaml")), ids=lambda path: path.stem
)
def test_an_editor_does_not_underline_what_is_valid(path: Path):
    if path.stem != "quoted-everything":  # there the format is quoted, which only reading forgives
        assert errors_of(path.read_text("utf-8-sig")) == []
