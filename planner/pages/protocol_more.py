"""What stands one click away: chances and suggestions, the text, two versions compared, a new protocol."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

import streamlit as st

from planner.documents.protocol_changes import changes
from planner.files.drafts import Draft, text_in, write_text
from planner.files.edit import with_value
from planner.files.marks import CannotEdit
from planner.files.shipped import shipped_protocols
from planner.pages.access import deed, may_edit
from planner.pages.common import show_faults
from planner.pages.fold import fold
from planner.pages.protocol_forms import change
from planner.pages.protocol_text import Found, as_node, read_text, suggestions
from planner.protocol.model import Protocol
from planner.protocol.values import identifier
from planner.record.access import Right
from planner.timing.forecast import Forecast
from planner.timing.suggest import Suggestion, words_for

EMPTY = """\
format: 1
name: {name}
title: {title}
version: "1.0"
cautions: [Stop when the participant asks to.]
manoeuvres: {{}}
visit:
  - id: arrive
    title: Arrival and screening questions
    takes: 10 min
"""


def chances(draft: Draft, found: Found, plan: Forecast | None) -> None:
    """How often each time point is on time, and what would mend those that are too often missed."""
    if plan is not None:
        st.table(_chance_rows(plan))
    if found.protocol is not None:
        _what_is_learned(found.protocol)
    wanted = st.slider("Wanted: on time in so many of 100 visits", 50, 99, 95, key="wanted-chance")
    if not st.toggle("Look for changes that would reach it", key="suggest", persist_state="session"):
        return
    if found.protocol is None:
        st.info("Mend the mistakes of form first; then changes can be tried.")
        return
    with st.spinner("Trying changes, each by 20 000 simulated visits"):
        ways = suggestions(draft.text, draft.path.name, wanted)
    if not ways:
        st.write("No single change is needed, or none reaches it.")
    for number, way in enumerate(ways):
        with st.container(border=True):
            words = words_for(way)
            st.write(f"{words[:1].upper()}{words[1:]}.")
            can = deed(Right.EDIT)
            st.button("Make this change", key=f"mend-{number}", on_click=_apply, args=(draft, way), **can)


def _what_is_learned(protocol: Protocol) -> None:
    if inside := fold("Assumed, and learned from the record", "protocol-more-learned"):
        from planner.pages.protocol_learned import learned  # with the record and all that it needs

        with inside:
            learned(protocol)


def _apply(draft: Draft, way: Suggestion) -> None:
    change(draft, lambda text: with_value(text, tuple(way.path), as_node(way.value)))


def _chance_rows(plan: Forecast) -> list[dict[str, str]]:
    rows = []
    seen = set()
    for index, chance in plan.chances.items():
        activity = plan.plan.activities[index]
        if activity.path in seen:
            continue  # the blocks of one time point share its chance
        seen.add(activity.path)
        step = plan.plan.protocol.step(activity.step)
        rows.append(
            {
                "Part of the visit": step.title,
                "Time point": f"{(activity.at_s or 0) / 60:g} min",
                "On time in": f"{100 * chance.share:.0f} of 100 simulated visits",
                "± from simulating": f"{100 * chance.error:.1f}",
            }
        )
    return rows


def text_editor(draft: Draft, found: Found) -> None:
    """The file's text, with each mistake at its line."""
    key = f"text-{draft.path.name}"
    if st.session_state.get(key) != draft.text:
        st.session_state[key] = draft.text
    st.text_area(
        "The text of the file",
        key=key,
        height=420,
        on_change=_take_text,
        args=(draft, key),
        **deed(Right.EDIT),
    )
    lines = draft.text.split("\n")
    for fault in found.faults:
        line = fault.place.line
        st.error(f"Mistake in line {line}: {fault.words}")
        if 0 < line <= len(lines):
            st.code(f"{line:4}  {lines[line - 1]}", language="yaml")
    if inside := fold("With line numbers", f"lines-{draft.path.name}"):
        inside.code(draft.text, language="yaml", line_numbers=True)


def _take_text(draft: Draft, key: str) -> None:
    if may_edit():
        draft.change(str(st.session_state[key]))


def compare(draft: Draft, found: Found, others: Mapping[str, str]) -> None:
    """What changed between this text and another version of it."""
    which = st.selectbox(
        "Compare with", list(others), key="compare-with", index=None, persist_state="session"
    )
    dropped = st.file_uploader("Or drop an older version here", type=["yaml", "yml"], key="compare-file")
    text = dropped.getvalue().decode("utf-8", "replace") if dropped else others.get(which or "")
    if text is None:
        st.write("Choose another version; what changed is listed for an amendment.")
        return
    other = read_text(text, "the other version")
    if other.protocol is None or found.protocol is None:
        show_faults(other.faults or found.faults)
        return
    listed = changes(other.protocol, found.protocol)
    if not listed:
        st.write("Both ask for the same; comments and the order of keys may differ.")
    else:
        st.table([{"Where": c.where, "Before": c.before or "", "Now": c.after or ""} for c in listed])


def start_new(folder: Path) -> None:
    """A new protocol file in the study's folder, from one that came with the program or from nothing."""
    from_file = {path.stem: path for path in shipped_protocols()}
    begin = st.selectbox(
        "Start from",
        ["an empty visit", *from_file],
        format_func=lambda name: f"{name}: {_title(from_file[name])}" if name in from_file else name,
        key="new-from",
        persist_state="session",
    )
    typed = st.text_input(
        "Short name of the new protocol", key="new-name", help="Letters, digits, - and _, such as cycling."
    )
    name = "-".join(typed.split())  # a person writes words; a file's name holds no spaces
    if not st.button("Start a new protocol", key="new-start", **deed(Right.EDIT)):
        return
    try:
        text = _begun(from_file.get(begin or ""), identifier(name), " ".join(typed.split()))
    except (ValueError, CannotEdit) as error:
        st.error(f"Short name: {error}")
        return
    path = folder / f"{name}.yaml"
    if path.exists() or path.name == "study.yaml":
        st.error(f"There is a file {path.name} already. Choose another name.")
        return
    if not may_edit():
        return
    write_text(path, text)
    st.session_state["open-protocol"] = path
    st.rerun()


@st.cache_data(show_spinner=False)
def _title(path: Path) -> str:
    """What that protocol says it is."""
    title = re.search(r"^title: *(.+)$", text_in(path), re.MULTILINE)
    return title[1] if title else ""


def _begun(path: Path | None, name: str, title: str) -> str:
    if path is None:
        return with_value(EMPTY.format(name=name, title=name), ("title",), title)
    return with_value(path.read_text("utf-8"), ("name",), name)
