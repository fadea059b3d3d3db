"""Visit plans of a study: one for each protocol file; none where a protocol contradicts itself."""

import pytest

from planner.faults import FaultyInput
from planner.schedule.plans import visit_plans


def test_a_plan_for_each_protocol(study, plans):
    assert set(plans) == {"practice.yaml", "rowing.yaml"}
    assert {visit.protocol for own in study.asked.values() for visit in own} == set(plans)


def test_a_contradictory_protocol_has_none(study_with):
    study = study_with(
        "rowing.yaml", "at: [2 min, 15 min], early: [0 s, 1 min]", "at: [2 min, 3 min], early: [0 s, 0 s]",
        "rowing.yaml", "late: [1 min, 3 min]", "late: [1 min, 1 min]",
    )  # fmt: skip
    with pytest.raises(FaultyInput) as caught:
        visit_plans(study)
    (fault,) = caught.value.faults
    assert fault.place.file == "rowing.yaml"
    assert fault.place.line > 1
