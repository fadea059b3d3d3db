"""What happens in a visit? A protocol as a picture with its chances, as forms and tables, and as its text."""

from __future__ import annotations

from pathlib import Path

import streamlit as st

from planner.files.drafts import Draft, text_in
from planner.files.shipped import shipped_protocols
from planner.pages import protocol_more, protocol_parts
from planner.pages.arrival import title
from planner.pages.common import study_folder
from planner.pages.drawing import draw
from planner.pages.fold import fold, held, words_of_picture
from planner.pages.grid import draft_bar, show_could_not
from planner.pages.protocol_mistakes import VIEW, mistakes
from planner.pages.protocol_picture import SHARE, protocol_files, ruler
from planner.pages.protocol_text import Found, ahead, read_text
from planner.study.read import STUDY_FILE
from planner.timing.forecast import Forecast

HERE = Path(__file__).parent


def _chosen(folder: Path, files: list[Path]) -> tuple[Path, int]:
    which, on = st.columns([3, 2])
    if new := st.session_state.pop("open-protocol", None):
        st.session_state["protocol-file"] = new
    if st.session_state.get("protocol-file") not in files:
        st.session_state.pop("protocol-file", None)
    path = which.selectbox(
        "Protocol",
        files,
        format_func=lambda p: p.stem if p.parent == folder else f"{p.stem} (shared with other studies)",
        key="protocol-file",
        persist_state="session",
    )
    share = on.slider(
        "Time enough in so many of 100 visits",
        50,
        99,
        SHARE,
        key="protocol-share",
        persist_state="session",
    )
    return path, int(share)


def _picture(draft: Draft, found: Found, share: int) -> Forecast | None:
    """The ruler; where there is no plan, the last one that there was, and said so."""
    plan = ahead(draft.text, draft.path.name, share)
    last = f"last-picture-{draft.path}"
    if plan is not None:
        st.session_state[last] = draft.text
    elif last in st.session_state:
        st.caption("The picture shows the protocol as it was before the mistakes below.")
    shown = plan or ahead(st.session_state.get(last, ""), draft.path.name, share)
    if shown is not None:
        text = draft.text if plan is not None else st.session_state[last]
        spec, words = ruler(text, draft.path.name, share, shown)
        draw(spec, words)
        st.markdown(
            ":small[Solid: half of all visits end by here. Lighter: as planned. Black stroke: where the end "
            "lies in 8 of 10 visits. Brackets: windows, over each how many of 100 visits are on time.]"
        )
        words_of_picture(words, "protocol-in-words")
    else:
        st.info("The picture appears as soon as the mistakes below are mended.")
    return plan


def _versions(draft: Draft, files: list[Path]) -> dict[str, str]:
    """The texts that this one can be compared with."""
    found = {"the file as it is saved": text_in(draft.path)}
    found |= {f"the text {n} changes ago": text for n, text in enumerate(draft.earlier()[:20], 1)}
    found |= {
        f"{path.stem} of this study": Draft(draft.study, path).text for path in files if path != draft.path
    }
    return found | {f"{path.stem} as it came with the program": text_in(path) for path in shipped_protocols()}


def _nothing_yet(folder: Path) -> None:
    """The two ways to begin where there is no protocol."""
    st.info(
        "There is no protocol yet. Start one here; it becomes a file in the study's folder. "
        "One that comes with the program can be changed in every part."
    )
    if not (folder / STUDY_FILE).exists():
        st.page_link(str(HERE / "study.py"), label="Or begin with the Study page: who comes, and with what")
    protocol_more.start_new(folder)


def page() -> None:
    """The page."""
    title("What happens in a visit?")
    folder = study_folder()
    files = protocol_files(folder)
    if not files:
        _nothing_yet(folder)
        return
    path, share = _chosen(folder, files)
    draft = Draft(folder, path)
    found = read_text(draft.text, path.name)
    with held("above"):
        show_could_not()
        plan = _picture(draft, found, share)
    draft_bar([draft], "protocol")
    with held("mistakes"):
        mistakes(found, plan)
    views = ("Parts", "Manoeuvres", "Windows", "Chances", "Text", "Compare", "New")
    view = st.segmented_control(
        "Show",
        views,
        default="Parts",
        key=VIEW,
        persist_state="session",
        label_visibility="collapsed",
        required=True,
    )
    _show(view or "Parts", draft, found, plan, files)


def _show(view: str, draft: Draft, found: Found, plan: Forecast | None, files: list[Path]) -> None:
    if view == "Text":
        protocol_more.text_editor(draft, found)
    elif view == "Chances":
        protocol_more.chances(draft, found, plan)
    elif view == "Compare":
        protocol_more.compare(draft, found, _versions(draft, files))
    elif view == "New":
        protocol_more.start_new(draft.study)
    elif not isinstance(found.value, dict):
        st.info("The text has a mistake of form, so that it cannot be shown as forms. Mend it under Text.")
    elif view == "Manoeuvres":
        protocol_parts.manoeuvres(draft, found)
    elif view == "Windows":
        protocol_parts.windows(draft, found)
    else:
        label = "Name, cautions, what to keep when time is short, preparation"
        if inside := fold(label, "protocol-more-head"):
            with inside:
                protocol_parts.head(draft, found)
        protocol_parts.parts(draft, found)


page()
