"""Whatever the record holds: every effort is accounted for once, and the document can be written."""

import json
from datetime import timedelta

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from planner.adherence.as_json import document
from planner.adherence.compare import compare
from planner.adherence.drift import drift
from planner.adherence.learn import lessons
from planner.adherence.log import log_rows
from planner.adherence.methods import methods_paragraph
from planner.adherence.words import summary_words
from planner.record.effort import Effort, Happened, Mark, VisitKey

SECONDS = st.integers(-90_000, 90_000)
KEYS = st.builds(
    VisitKey,
    st.sampled_from(["ROW-01", "ROW-09"]),
    st.sampled_from(["rowing", "other"]),
    st.sampled_from([1, 2, None]),
)
STEPS = st.sampled_from(["arrive", "ready", "row", "after", "sit", "nowhere"])
TIMES = st.sampled_from([None, 60, 300, 900, 77])
EFFORTS = st.lists(
    st.tuples(
        KEYS,
        STEPS,
        TIMES,
        st.sampled_from(["fvc", "mep", "sniff"]),
        st.integers(1, 12),
        SECONDS,
        st.text(max_size=3),
    ),
    max_size=40,
)
MARKS = st.lists(
    st.tuples(KEYS, STEPS, TIMES, st.sampled_from(["start", "end", "stopped"]), SECONDS), max_size=12
)


@settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(efforts=EFFORTS, marks=MARKS, with_plan=st.booleans())
def test_every_effort_is_accounted_for(by_hand, efforts, marks, with_plan):
    def moment(seconds):
        return by_hand.start + timedelta(seconds=seconds)

    happened = Happened(
        tuple(Effort(*rest, moment(s), (), note) for *rest, s, note in efforts),
        tuple(Mark(*rest, moment(s)) for *rest, s in marks),
    )
    found = compare(by_hand.study, by_hand.schedule if with_plan else None, happened)
    counts = found.counts
    assert counts.recorded == len(efforts) == counts.matched + counts.extra + counts.refused
    listed = [line for line in found.efforts if line.happened is not None]
    assert len(listed) == counts.matched + counts.extra
    assert len(found.efforts) - len(listed) == counts.missing
    parsed = json.loads(json.dumps(document(found)))
    points = parsed["summary"]["time_points"]
    assert points["of"] + points["no_anchor"] + points["stopped"] == len(parsed["time_points"])
    assert points["on_time"] + points["early"] + points["late"] + points["never_measured"] == points["of"]
    assert len(log_rows(found)) == len(found.deviations)
    assert summary_words(found)
    assert drift(found).words
    assert methods_paragraph(by_hand.study, found)
    assert all(one.observations > 0 for one in lessons(by_hand.study, happened))
