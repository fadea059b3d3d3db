"""What stands in study.yaml itself, as forms and tables: days and rules, devices, visits, what is on site."""

from __future__ import annotations

from pathlib import Path

import streamlit as st

from planner.files.drafts import Draft
from planner.pages.access import deed
from planner.pages.fold import fold
from planner.pages.protocol_forms import change, form
from planner.pages.protocol_parts import table
from planner.pages.protocol_picture import protocol_files
from planner.pages.protocol_sheets import rows_of, with_edits
from planner.pages.protocol_text import Found
from planner.pages.study_fields import FIRST_USE, HEAD, ON_SITE, OPEN, RIGS, RULES, VISIT_GAPS, VISITS
from planner.record.access import Right

MOST_BUTTONS = 4  # side by side


def _protocol_names(folder: Path) -> list[str]:
    """What may be written as a visit's protocol."""
    files = protocol_files(folder)
    return [path.name if path.parent == folder else f"../protocols/{path.name}" for path in files]


def _protocols(folder: Path) -> str:
    names = _protocol_names(folder)
    return f"Protocols that there are: {', '.join(names)}." if names else ""


def _add_visits(study: Draft, found: Found) -> None:
    """A button for each protocol of the study's own that no visit names yet."""
    names = [name for name in _protocol_names(study.study) if "/" not in name]
    used = {str(row["Protocol"]) for row in rows_of(found.value, VISITS)}
    with st.container(horizontal=True):
        for name in [one for one in names if one not in used][:MOST_BUTTONS]:
            words = f"Add a visit by {name}"
            can = deed(Right.EDIT)
            st.button(words, key=f"add-visit-{name}", on_click=_add_visit, args=(study, name), **can)


def _add_visit(study: Draft, protocol: str) -> None:
    row = {"Visit": protocol.removesuffix(".yaml"), "Protocol": protocol}
    change(study, lambda text: with_edits(text, VISITS, {"added_rows": [row]}))


def own(view: str, study: Draft, found: Found) -> None:
    """What stands in study.yaml itself."""
    if view == "Devices":
        st.markdown(
            "**Devices by class.** The class is the word that protocols use, such as spirometer; the devices "
            "are codes, such as S1, S2. A device may stand in two classes: it is the same device."
        )
        table(study, found, RIGS, "rigs")
        st.markdown("**Before the first use of a day**")
        table(study, found, FIRST_USE, "first-use")
    elif view == "Visits":
        st.markdown(f"In the order in which each participant comes. {_protocols(study.study)}")
        _add_visits(study, found)
        table(study, found, VISITS, "visits")
        if inside := fold("Days between visits", "visit-gaps"):
            with inside:
                table(study, found, VISIT_GAPS, "visit-gaps", locked=("Visit",))
    elif view == "On site":
        st.markdown("Printed on every sheet; what is empty stays a blank to fill by hand.")
        form(study, found, (), ON_SITE)
    else:
        form(study, found, (), HEAD)
        st.markdown("**Opening hours**, such as mon-fri and 08:00-16:00")
        table(study, found, OPEN, "open")
        st.markdown("**Rules**; what is left empty is not asked for")
        form(study, found, (), RULES)
