"""What may go otherwise than planned on a running day."""

import dataclasses
from datetime import UTC, datetime

import pytest

from planner.packing.mend.troubles import Troubles

NOON = datetime(2027, 3, 1, 12, tzinfo=UTC)
ONE = datetime(2027, 3, 1, 13, tzinfo=UTC)


def test_nothing_is_wrong_by_default():
    assert Troubles().are_none


@pytest.mark.parametrize(
    "troubles",
    [
        Troubles(late={"Q01": 5}),
        Troubles(ended={("Q01", "run"): NOON}),
        Troubles(cancelled=("Q01",)),
        Troubles(out_of_use=(("M1", NOON, ONE),)),
        Troubles(absent=(("T1", NOON, ONE),)),
    ],
)
def test_each_trouble_counts(troubles: Troubles):
    assert not troubles.are_none


def test_troubles_cannot_be_changed():
    with pytest.raises(dataclasses.FrozenInstanceError):
        Troubles().cancelled = ("Q01",)  # type: ignore[misc]
