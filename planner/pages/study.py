"""Who comes, and with what? Participants, staff and devices of the study, as tables that can be filled in."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import streamlit as st

from planner.faults import Fault, Faults, FaultyInput
from planner.files import Node, yaml_tree
from planner.files.drafts import Draft
from planner.pages.common import files_mark, study_folder
from planner.pages.grid import draft_bar, show_could_not
from planner.pages.protocol_forms import form
from planner.pages.protocol_more import text_editor
from planner.pages.protocol_parts import table
from planner.pages.protocol_text import Found
from planner.pages.study_fields import FIRST_USE, HEAD, ON_SITE, OPEN, RIGS, RULES, VISITS
from planner.pages.study_tables import study_table
from planner.study.missing import Missing, missing
from planner.study.model import Study
from planner.study.read import STUDY_FILE
from planner.study.sheets import FORMS
from planner.study.trial import read_trial

OWN = {"Days and rules": "days", "Devices": "rigs", "Visits": "visits", "On site": "on_site", "Text": ""}
VIEWS = ("Days and rules", "Devices", "Staff", "Shifts", "Participants", "Visits", "Availability", "Absences",
         "Out of use", "Fixed visits", "On site", "Text")  # fmt: skip
VIEW_OF = {"days": "Days and rules", "rigs": "Devices", "visits": "Visits"} | {
    key: one.title for key, one in FORMS.items()
}

BEGUN = "format: 1\nname: new-study\n"


@st.cache_resource(max_entries=8, show_spinner=False)
def _tried(folder: Path, mark: object, texts: tuple[tuple[str, str], ...]) -> Study | FaultyInput:
    try:
        return read_trial(folder, dict(texts))
    except FaultyInput as error:
        return error


def _names(value: Node) -> dict[str, str]:
    """The table files that study.yaml names, by key."""
    found = value if isinstance(value, dict) else {}
    return {
        key: name
        for key in FORMS
        if isinstance(name := found.get(key), str) and "/" not in name and "\\" not in name
    }


def _drafts(folder: Path) -> tuple[Draft, dict[str, Draft]]:
    """The draft of study.yaml, and one for each table that it names."""
    study = Draft(folder, folder / STUDY_FILE)
    tree = yaml_tree(study.text, STUDY_FILE, Faults())
    return study, {
        key: Draft(folder, folder / name) for key, name in _names(tree.value if tree else None).items()
    }


def _found(study: Draft, faults: tuple[Fault, ...], warnings: tuple[Fault, ...]) -> Found:
    """study.yaml with its own faults, for the forms."""
    tree = yaml_tree(study.text, STUDY_FILE, Faults())
    own = [fault for fault in faults if fault.place.file == STUDY_FILE]
    notes = [fault for fault in warnings if fault.place.file == STUDY_FILE]
    if tree is None:
        return Found(faults=tuple(own))
    at = {(place.line, place.column): path for path, place in tree.places.items()}
    at |= {(place.line, place.column): path for path, place in tree.values.items() if path}
    return Found(tree.value, None, tuple(own), tuple(notes), at)


def _to_fill_in(lacking: tuple[Missing, ...]) -> None:
    """What is missing, first things first."""
    if lacking:
        lines = [
            f"{n}. **{VIEW_OF.get(one.key, 'Days and rules')}**: {one.words}"
            for n, one in enumerate(lacking, 1)
        ]
        st.info("Still to be filled in, in this order:\n\n" + "\n".join(lines))


def _summary(study: Study) -> None:
    st.markdown(
        f"{len(study.participants)} participants, {sum(map(len, study.asked.values()))} visits asked for, "
        f"{len(study.people)} staff, {len(study.rigs)} devices, {len(study.open)} open days "
        f"from {study.first_day:%d %B %Y} to {study.last_day:%d %B %Y}."
    )


def _elsewhere(faults: tuple[Fault, ...], titles: Mapping[str, str]) -> None:
    """Where mistakes lie, by file."""
    by_file: dict[str, int] = {}
    for fault in faults:
        by_file[fault.place.file] = by_file.get(fault.place.file, 0) + 1
    for file, count in by_file.items():
        where = titles.get(file, "Text" if file == STUDY_FILE else "the Protocol page")
        st.error(f"{count} mistake{'s' if count > 1 else ''} in {file}: shown under {where}.")


def page() -> None:
    """The page."""
    st.title("Who comes, and with what?")
    folder = study_folder()
    study, tables = _drafts(folder)
    drafts = [study, *tables.values()]
    texts = {draft.path.name: draft.text for draft in drafts if draft.is_changed}
    tried = _tried(folder, files_mark(folder), tuple(sorted(texts.items())))
    faults = tried.faults if isinstance(tried, FaultyInput) else ()
    warnings = tried.warnings
    show_could_not()
    if isinstance(tried, Study):
        _summary(tried)
    _to_fill_in(missing(folder, texts))
    _elsewhere(faults, {draft.path.name: FORMS[key].title for key, draft in tables.items()})
    draft_bar(drafts, "study")
    view = st.segmented_control(
        "Show",
        VIEWS,
        default=VIEWS[0],
        key="study-view",
        persist_state="session",
        label_visibility="collapsed",
        required=True,
    )
    _show(view or VIEWS[0], study, _found(study, faults, warnings), faults)


def _show(view: str, study: Draft, found: Found, faults: tuple[Fault, ...]) -> None:
    is_readable = isinstance(found.value, dict)
    if not study.text.strip():
        st.markdown("This folder holds no study yet.")
        st.button("Begin a study here", key="begin-study", on_click=study.change, args=(BEGUN,))
        return
    if view == "Text" or not is_readable:
        if not is_readable:
            st.info("study.yaml has a mistake of form, so that only its text can be shown.")
        text_editor(study, found)
    elif view in OWN:
        _own(view, study, found)
    else:
        sheet = next(one for one in FORMS.values() if one.title == view)
        study_table(sheet, study, _names(found.value).get(sheet.key), faults)


def _own(view: str, study: Draft, found: Found) -> None:
    """What stands in study.yaml itself."""
    if view == "Devices":
        st.markdown("**Devices by class.** A device may stand in two classes: it is the same device.")
        table(study, found, RIGS, "rigs")
        st.markdown("**Before the first use of a day**")
        table(study, found, FIRST_USE, "first-use")
    elif view == "Visits":
        st.markdown("In the order in which each participant comes.")
        table(study, found, VISITS, "visits")
    elif view == "On site":
        st.markdown("Printed on every sheet; what is empty stays a blank to fill by hand.")
        form(study, found, (), ON_SITE)
    else:
        form(study, found, (), HEAD)
        st.markdown("**Opening hours**")
        table(study, found, OPEN, "open")
        st.markdown("**Rules**")
        form(study, found, (), RULES)


page()
