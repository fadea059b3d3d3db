"""Pools change no answer: what counts as one has room for as many as it is."""

from __future__ import annotations

from planner.packing.core import EVER, Core, Job, Resource, Use, Wants
from planner.packing.model import make_model
from planner.packing.objective import AIMS
from planner.packing.pools import pool
from planner.packing.solve import Limits, run


def day(roles: int, people: int, visits: int = 1) -> Core:
    """Visits of one activity of 10 steps that wants so many of alike people at once; a day of 15 steps."""
    staff = tuple(Resource(f"T{n}", True, frozenset({"a", "b"}), ((0, 15),)) for n in range(people))
    everybody = tuple(range(people))
    jobs = tuple(Job(j, (10,), (), (), ((0, 15),), (EVER,), 0, 0, 10, None, False) for j in range(visits))
    uses = tuple(
        tuple(Use(j, Wants.STAFF, f"role {n}", 0, 0, 0, everybody) for n in range(roles))
        for j in range(visits)
    )
    return Core(1, 15, jobs, uses, staff)


def most(core: Core) -> int:
    """How many visits have a place, proven, and apart with people of their own."""
    pools = pool(core)
    v = make_model(pools.core)
    found = run(v, AIMS["placed"](v).expression, Limits(10, workers=1))
    assert found.answer is not None
    assert found.value == found.bound
    for given in pools.part(found.answer).given:
        assert given is None or len(set(given)) == len(given)
    return -found.value


def test_two_alike_people_serve_two_roles_of_one_activity() -> None:
    """Operator and cheek support may be the same two people for all blocks: the visit has its place."""
    assert most(day(roles=2, people=2)) == 1


def test_so_many_visits_as_alike_people_allow() -> None:
    """Five alike people serve two visits with two roles each, or five with one."""
    assert most(day(roles=2, people=5, visits=4)) == 2
    assert most(day(roles=1, people=5, visits=7)) == 5
