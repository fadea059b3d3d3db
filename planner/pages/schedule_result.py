"""How good a plan is, how sure that is, why not more, and where each thing in the way can be mended."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import streamlit as st

from planner.pages import access, solving
from planner.pages.common import visit_plans_of
from planner.record.access import Right
from planner.record.store import open_store
from planner.schedule.changes import changes
from planner.schedule.in_force import put_in_force
from planner.schedule.model import Change, NotPlaced, Outcome, Reason, Schedule, Stage
from planner.schedule.verify import verify
from planner.study.model import Study

HERE = Path(__file__).parent
STATUS = {
    Outcome.OPTIMAL: "No better plan exists under these rules.",
    Outcome.FEASIBLE: "The plan works; it may not be the best.",
    Outcome.IMPOSSIBLE: "These demands cannot all be met.",
}
STAGES = {
    "placed": "Visits placed",
    "last_day": "Last day, in days after the first",
    "waiting_s": "Waiting and distance from due times, over all visits",
    "last_end_s": "From opening to the last end, over all days",
    "spare_s": "Spare time before the tightest window",
}
_MOST_CHANGES = 12  # shown at once; the rest behind a fold


def show_result(study: Study, schedule: Schedule) -> None:
    """What was placed, what stands in the way, and how good the plan is."""
    st.write(f"**{schedule.placed} of {schedule.asked} visits placed.** {STATUS[schedule.status]}")
    if schedule.reasons:
        st.subheader("What stands in the way")
    for place, (heads, demands) in enumerate(grouped(schedule.reasons)):
        st.markdown("**" + "; ".join(heads) + "**")
        for line, reason in enumerate(demands):
            _reason(study, reason, f"{place}-{line}")
    if schedule.not_placed:
        st.subheader("Without a place")
        st.table([_left_out(one) for one in schedule.not_placed], hide_index=True, border="horizontal")
    with st.expander("More: how good is it?"):
        st.table([_stage(stage) for stage in schedule.stages], hide_index=True, border="horizontal")


def grouped(reasons: Sequence[Reason]) -> list[tuple[list[str], tuple[Reason, ...]]]:
    """Each set of demands once, with what it is the reason of: one head for each participant it holds for."""
    found: dict[tuple[Reason, ...], list[str]] = {}
    head, demands = "These demands cannot all be met", list[Reason]()
    for reason in (*reasons, None):
        ends = reason is None or (reason.file is None and reason.message.endswith("be met"))
        if ends and demands:
            found.setdefault(tuple(demands), []).append(head)
            demands = []
        if reason is not None and ends:
            head = reason.message
        elif reason is not None:
            demands.append(reason)
    return [(heads, demands) for demands, heads in found.items()]


def _reason(study: Study, reason: Reason, place: str) -> None:
    """One demand, its line, and the page where it can be mended."""
    if not reason.file:
        st.markdown(f"- {reason.message}")
        return
    words, button = st.columns([4, 1], vertical_alignment="center")
    where = f" ({reason.file}, line {reason.line})" if reason.file and reason.line else ""
    words.warning(f"{reason.message}{where}")
    protocol = next((name for name in study.protocols if Path(name).name == Path(reason.file).name), None)
    page = "Protocol" if protocol else "Study"
    if button.button(f"Mend it: {page} page", key=f"schedule-mend-{place}", width="stretch"):
        if protocol:
            st.session_state["open-protocol"] = _path(study, protocol)
        st.switch_page(str(HERE / f"{page.lower()}.py"))


def _path(study: Study, protocol: str) -> Path:
    """The protocol's file as the Protocol page lists it."""
    near = study.folder / Path(protocol).name
    return near if near.exists() else study.folder.parent / "protocols" / Path(protocol).name


def _left_out(one: NotPlaced) -> dict[str, str]:
    return {"Participant": one.participant, "Visit": one.visit, "Why": one.message}


def _stage(stage: Stage) -> dict[str, str]:
    seconds = stage.name.endswith("_s")
    found, bound = (f"{v / 60:.0f} min" if seconds else str(v) for v in (stage.value, stage.bound))
    sure = "proven" if stage.status is Outcome.OPTIMAL else "not proven"
    return {
        "What": STAGES.get(stage.name, stage.name),
        "Found": found,
        "Cannot be better than": bound,
        "How sure": sure,
    }


def show_proposal(study: Study, schedule: Schedule, before: Schedule | None) -> None:
    """A plan that a search has made: put it in force, or throw it away; what moves by it."""
    st.subheader(f"Plan {schedule.version}, not yet in force")
    use, drop = st.columns(2)
    if use.button("Put this plan in force", type="primary", key="schedule-use", width="stretch"):
        _use(study, schedule)
    if drop.button("Throw it away", key="schedule-drop", width="stretch") and access.may(study, Right.PLAN):
        solving.forget(study.folder)
        st.rerun()
    if before is not None:
        _changes(schedule.changes or changes(before, schedule), before)


def _changes(found: tuple[Change, ...], before: Schedule) -> None:
    st.write(f"Against plan {before.version}: {len(found)} changes." if found else "Nothing moves.")
    for change in found[:_MOST_CHANGES]:
        st.markdown(f"- {change.message}")
    if found[_MOST_CHANGES:]:
        with st.expander(f"{len(found) - _MOST_CHANGES} more changes"):
            st.markdown("\n".join(f"- {change.message}" for change in found[_MOST_CHANGES:]))


def _use(study: Study, schedule: Schedule) -> None:
    """In force if the judge finds no broken rule."""
    if not access.may(study, Right.PLAN):
        return
    broken = verify(schedule, study, visit_plans_of(study)).broken
    for one in broken:
        st.error(one.message)
    if broken:
        return
    put_in_force(study.folder, schedule)
    with open_store(study) as store:
        store.plan_in_force(schedule)
    solving.forget(study.folder)
    st.rerun()
