"""How good a plan is, how sure that is, why not more, and where each thing in the way can be mended."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Literal

import streamlit as st

from planner.documents.shown import placed_words
from planner.files.drafts import text_in
from planner.pages import access, solving
from planner.pages.common import visit_plans_of
from planner.pages.fold import fold
from planner.pages.study_views import VIEW, view_of_line
from planner.record.access import Right
from planner.record.store import open_store
from planner.schedule.changes import change_words, changes, is_known, own_changes
from planner.schedule.in_force import put_in_force
from planner.schedule.model import NotPlaced, Outcome, PlacedVisit, Reason, Schedule, Stage
from planner.schedule.not_mended import HEAD, not_mended
from planner.schedule.stage_words import amount_words, order_words, stage_words
from planner.schedule.time_ended import HEAD as CUT_SHORT
from planner.schedule.time_ended import is_time_ended, time_ended
from planner.schedule.verify import verify
from planner.study.model import Study
from planner.study.read import STUDY_FILE

HERE = Path(__file__).parent
STATUS = {
    Outcome.OPTIMAL: "No better plan exists under these rules.",
    Outcome.FEASIBLE: "The plan works; it may not be the best.",
    Outcome.IMPOSSIBLE: "These demands cannot all be met.",
}
NOT_IN = "not in the plan"
UNMET = "These demands cannot all be met"
_MOST_CHANGES = 12  # shown at once; the rest behind a fold


def show_summary(schedule: Schedule) -> None:
    """How many visits have a place, and how sure it is that there are no more; before any picture."""
    cut_short = CUT_SHORT if time_ended(schedule) else STATUS[schedule.status]
    words = HEAD if not_mended(schedule) else cut_short
    visits = f"{schedule.asked} visit{'' if schedule.asked == 1 else 's'}"
    st.write(f"**{schedule.placed} of {visits} placed.** {words}")


def show_result(study: Study, schedule: Schedule) -> None:
    """What stands in the way, and how good the plan is."""
    reasons = [one for one in schedule.reasons if not is_time_ended(one)]  # the summary says so
    if reasons:
        st.subheader("What stands in the way")
    is_decided = not schedule.stages or schedule.stages[0].status is not Outcome.FEASIBLE  # how many can come
    head = UNMET if is_decided else "Not decided in the time; known so far"
    for place, (heads, demands) in enumerate(grouped(reasons, head)):
        st.markdown("**" + "; ".join(heads) + "**")
        for line, reason in enumerate(demands):
            _reason(study, reason, f"{place}-{line}")
    if schedule.not_placed:
        st.subheader("Without a place")
        st.table([_left_out(one) for one in schedule.not_placed], hide_index=True, border="horizontal")
    if inside := fold("More: how good is it?", "schedule-more-good"):
        inside.table([_stage(stage) for stage in schedule.stages], hide_index=True, border="horizontal")
        if order := order_words([stage.name for stage in schedule.stages]):
            inside.caption(order)


def grouped(reasons: Sequence[Reason], head: str = UNMET) -> list[tuple[list[str], tuple[Reason, ...]]]:
    """Each set of demands once, with what it is the reason of: one head for each participant it holds for.

    `head` stands over reasons that come before any that says whose they are.
    """
    found: dict[tuple[Reason, ...], list[str]] = {}
    demands = list[Reason]()
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
        else:
            text = text_in(study.folder / STUDY_FILE)
            st.session_state[VIEW] = view_of_line(text, Path(reason.file).name, reason.line)
        st.switch_page(str(HERE / f"{page.lower()}.py"))


def _path(study: Study, protocol: str) -> Path:
    """The protocol's file as the Protocol page lists it."""
    near = study.folder / Path(protocol).name
    return near if near.exists() else study.folder.parent / "protocols" / Path(protocol).name


def _left_out(one: NotPlaced) -> dict[str, str]:
    return {"Participant": one.participant, "Visit": one.visit, "Why": one.message}


def _stage(stage: Stage) -> dict[str, str]:
    sure = "proven" if stage.status is Outcome.OPTIMAL else "not proven"
    return {
        "What": stage_words(stage.name).found,
        "Found": amount_words(stage.name, stage.value),
        "Cannot be better than": amount_words(stage.name, stage.bound),
        "How sure": sure,
    }


def show_proposal(study: Study, schedule: Schedule) -> None:
    """A plan that a search has made: put it in force, or throw it away."""
    st.subheader(f"Plan {schedule.version}, not yet in force")
    use, drop = st.columns(2)
    kind: Literal["primary", "secondary"] = "primary" if schedule.placed == schedule.asked else "secondary"
    can = access.deed(Right.PLAN)
    if use.button("Put this plan in force", key="schedule-use", width="stretch", type=kind, **can):
        put_in_use(study, schedule)
    dropped = drop.button("Throw it away", key="schedule-drop", width="stretch", **can)
    if dropped and access.may(study, Right.PLAN):
        solving.forget(study.folder)
        st.rerun()


def show_changes(study: Study, before: Schedule, after: Schedule) -> None:
    """Which visits begin at another time; every single change behind a fold where there are many."""
    found = own_changes(after) or changes(before, after)
    known = [one for one in after.changes if is_known(one, after)]
    if not found:
        st.write("Nothing moves.")
        return
    visits = {(change.participant, change.visit) for change in found if change.visit}
    moved = other_starts(study, before, after)
    lost = sum(row["Now"] == NOT_IN for row in moved)
    new = sum(row["Before"] == NOT_IN for row in moved)
    said = [
        f"{len(moved) - lost - new} visits begin at another time",
        f"{max(0, len(visits) - len(moved))} more change within",
        f"{lost} are no longer in the plan" if lost else "",
        f"{new} are new in it" if new else "",
    ]
    st.write(f"Against plan {before.version}, {', '.join(filter(None, said))}.")
    if moved:
        st.table(moved, hide_index=True, border="horizontal")
    with st.expander(f"Every change ({len(found)})", expanded=len(found) <= _MOST_CHANGES):
        st.markdown("\n".join(f"- {change_words(change, after)}" for change in (*found, *known)))


def other_starts(study: Study, before: Schedule, after: Schedule) -> list[dict[str, str]]:
    """A row for each visit that begins at another time than before, or is no longer or newly in the plan."""
    old, new = ({(v.participant, v.file_id): v for v in plan.visits} for plan in (before, after))
    rows = []
    for name in sorted({*old, *new}):
        was, becomes = old.get(name), new.get(name)
        one = becomes or was
        assert one is not None
        if was is None or becomes is None or was.start != becomes.start:
            rows.append(
                {
                    "Participant": one.participant,
                    "Visit": placed_words(study, one),
                    "Before": _begins(was),
                    "Now": _begins(becomes),
                }
            )
    return rows


def _begins(visit: PlacedVisit | None) -> str:
    return f"{visit.start:%a %d %b, %H:%M}" if visit else NOT_IN


def put_in_use(study: Study, schedule: Schedule) -> None:
    """In force if the judge finds no broken rule."""
    if not access.may(study, Right.PLAN):
        return
    broken = verify(schedule, study, visit_plans_of(study, schedule)).broken
    for one in broken:
        st.error(one.message)
    if broken:
        return
    put_in_force(study.folder, schedule)
    with open_store(study) as store:
        store.plan_in_force(schedule)
    solving.forget(study.folder)
    st.rerun()
