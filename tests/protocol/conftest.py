"""What the tests of this room share."""

from __future__ import annotations

import importlib.util
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest


@pytest.fixture
def mutants() -> Callable[[int, int], Iterator[bytes]]:
    """`mutants(seed, count)`: mutated protocol files, the same for the same seed."""
    spec = importlib.util.spec_from_file_location("mutate", Path(__file__).with_name("mutate.py"))
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module.mutants
