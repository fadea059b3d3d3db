"""Who comes, and with what? Participants, staff and devices of the study, as tables that can be filled in."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import streamlit as st

from planner.clock import zone
from planner.faults import Fault, Faults, FaultyInput
from planner.files import Node, yaml_tree
from planner.files.drafts import Draft
from planner.pages.access import deed
from planner.pages.arrival import title
from planner.pages.common import files_mark, show_all, show_faults, study_folder
from planner.pages.drawing import draw
from planner.pages.fold import held, words_of_picture
from planner.pages.grid import draft_bar, show_could_not
from planner.pages.protocol_forms import change
from planner.pages.protocol_more import text_editor
from planner.pages.protocol_text import Found
from planner.pages.study_own import own
from planner.pages.study_picture import presence, tried_out
from planner.pages.study_tables import study_table
from planner.pages.study_views import OWN, VIEW, VIEW_OF, VIEWS
from planner.record.access import Right
from planner.schedule.in_force import in_force
from planner.study.missing import Missing, missing
from planner.study.model import Study
from planner.study.read import STUDY_FILE
from planner.study.sheets import FORMS

HERE = Path(__file__).parent
_UNFILLED = ("missing-key", "empty", "no-file")  # mistakes that are only not filled in yet
BEGUN = "format: 1\nname: {name}\n"
ZONE = "time_zone: {zone}\n"


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


def _picture(study: Study, mark: object) -> None:
    """Who is there when, before any table."""
    spec, words = presence(study, mark)
    draw(spec, words)
    st.markdown(
        ":small[One stretch for each open day, side by side. Numbers: how many participants may come. "
        "Bars: a device can be used, a staff member works, a participant may come. Dashed: out of use.]"
    )
    words_of_picture(words, "study-in-words")


def _summary(study: Study) -> None:
    st.markdown(
        f"{len(study.participants)} participants, {sum(map(len, study.asked.values()))} visits asked for, "
        f"{len(study.people)} staff, {len(study.rigs)} devices, {len(study.open)} open days "
        f"from {study.first_day.day} {study.first_day:%B %Y} "
        f"to {study.last_day.day} {study.last_day:%B %Y}."
    )


def _elsewhere(
    faults: tuple[Fault, ...], found: Found, titles: Mapping[str, str], lacking: tuple[Missing, ...]
) -> None:
    """Where mistakes lie, by the view that shows them; what is still to be filled in is no mistake yet."""
    own = {STUDY_FILE, *titles}
    in_vain = [fault for fault in faults if fault.place.file not in own]  # what a protocol asks for
    show_faults(in_vain)
    if in_vain:
        st.page_link(str(HERE / "protocol.py"), label="Go to the Protocol page")
    waiting = {VIEW_OF.get(one.key, VIEWS[0]) for one in lacking}
    counts: dict[str, int] = {}
    for fault in faults:
        if fault.place.file not in own:
            continue
        where = _view_of(fault, found, titles)
        if fault.code not in _UNFILLED or where not in waiting:
            counts[where] = counts.get(where, 0) + 1
    show_all(
        st.error,
        [
            f"{count} mistake{'s' if count > 1 else ''}, shown under {where}."
            for where, count in counts.items()
        ],
    )


def _view_of(fault: Fault, found: Found, titles: Mapping[str, str]) -> str:
    """The view that shows that mistake of the study's own files."""
    if fault.place.file != STUDY_FILE:
        return titles[fault.place.file]
    path = found.at.get((fault.place.line, fault.place.column), ())
    named = next((key for key in VIEW_OF if f"'{key}'" in fault.message), "")
    key = named if fault.code == "missing-key" else str(path[0]) if path else ""
    return VIEW_OF.get(key, VIEWS[0]) if key or fault.code == "missing-key" else "Text"


def page() -> None:
    """The page."""
    title("Who comes, and with what?")
    folder = study_folder()
    study, tables = _drafts(folder)
    drafts = [study, *tables.values()]
    texts = {draft.path.name: draft.text for draft in drafts if draft.is_changed}
    mark = files_mark(folder), tuple(sorted(texts.items()))
    tried = tried_out(folder, *mark)
    faults = tried.faults if isinstance(tried, FaultyInput) else ()
    warnings = tried.warnings
    with held("above"):
        show_could_not()
        if isinstance(tried, Study):
            _summary(tried)
            _picture(tried, mark)
    if not study.text.strip():
        _begin(study)
        return
    lacking = missing(folder, texts)
    found = _found(study, faults, warnings)
    titles = {draft.path.name: FORMS[key].title for key, draft in tables.items()}
    with held("mistakes"):
        _to_fill_in(lacking)
        _elsewhere(faults, found, titles, lacking)
    draft_bar(drafts, "study")
    with held("next"):
        if isinstance(tried, Study) and not texts and in_force(folder) is None:
            st.page_link(str(HERE / "schedule.py"), label="Next: make the schedule")
    view = st.segmented_control(
        "Show",
        VIEWS,
        default=VIEWS[0],
        key=VIEW,
        persist_state="session",
        label_visibility="collapsed",
        required=True,
    )
    waiting = [one.key for one in lacking]
    faults = tuple(one for one in faults if one.code not in _UNFILLED or not waiting)
    if "shifts" in waiting:
        warnings = tuple(one for one in warnings if one.code != "no-shift")  # of everybody, until then
    _show(view or VIEWS[0], study, found, faults, warnings)


def _begin(study: Draft) -> None:
    """The first step of a new study."""
    st.info(
        "There is no study here yet. Begin it; then this page says what to fill in, first things first. "
        "Nothing is lost meanwhile: what you type is kept on this machine, and saved when you press Save."
    )
    name = "".join(sign if sign.isascii() and sign.isalnum() else "-" for sign in study.study.name)
    begun = BEGUN.format(name=name.strip("-")[:40] or "new-study")
    if _is_zone(here := st.context.timezone):
        begun += ZONE.format(zone=here)  # where the browser is: most often where the laboratory is
    st.button(
        "Begin a study",
        key="begin-study",
        type="primary",
        on_click=_begin_with,
        args=(study, begun),
        **deed(Right.EDIT),
    )


def _begin_with(study: Draft, text: str) -> None:
    change(study, lambda _: text)


def _is_zone(name: str | None) -> bool:
    """Whether the browser told a time zone that names a place."""
    try:
        return name is not None and "/" in name and bool(zone(name))
    except ValueError:
        return False


def _show(
    view: str, study: Draft, found: Found, faults: tuple[Fault, ...], warnings: tuple[Fault, ...]
) -> None:
    is_readable = isinstance(found.value, dict)
    if view == "Text" or not is_readable:
        if not is_readable:
            st.info("study.yaml has a mistake of form, so that only its text can be shown.")
        text_editor(study, found)
    elif view in OWN:
        own(view, study, found)
    else:
        sheet = next(one for one in FORMS.values() if one.title == view)
        study_table(sheet, study, _names(found.value).get(sheet.key), faults, warnings)


page()
