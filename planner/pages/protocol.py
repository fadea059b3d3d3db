"""What happens in a visit? A protocol as a picture, with its chances, and its text beside it."""

from __future__ import annotations

from pathlib import Path

import streamlit as st

from planner.documents.ruler import visit_chart, visit_words
from planner.faults import FaultyInput
from planner.pages.common import files_mark, show_faults, study_folder
from planner.protocol.model import Protocol
from planner.protocol.read import read_protocol
from planner.timing.forecast import Forecast, forecast
from planner.timing.lay_out import lay_out
from planner.timing.network import contradictions


def _files(folder: Path) -> list[Path]:
    """The protocol files that the study may use."""
    near = [*sorted(folder.glob("*.yaml")), *sorted(folder.parent.glob("protocols/*.yaml"))]
    return [path for path in near if path.name != "study.yaml"]


@st.cache_resource(max_entries=16, show_spinner=False)
def _read(path: Path, mark: object) -> Protocol | FaultyInput:
    try:
        protocol = read_protocol(path)
    except FaultyInput as error:
        return error
    found = contradictions(protocol)
    return FaultyInput(found, protocol.warnings) if found else protocol


@st.cache_resource(max_entries=16, show_spinner=False)
def _ahead(_protocol: Protocol, mark: object, share: int) -> Forecast:
    from decimal import Decimal

    return forecast(_protocol, Decimal(share) / 100)


def page() -> None:
    """The page."""
    st.title("What happens in a visit?")
    folder = study_folder()
    files = _files(folder)
    which, on = st.columns([3, 2])
    path = which.selectbox(
        "Protocol", files, format_func=lambda p: p.stem, key="protocol-file", persist_state="session"
    )
    share = on.slider("Plan so that this share of blocks has ended, in %", 50, 99, 80, key="protocol-share")
    if path is None:
        st.info("There is no protocol yet. Copy one from protocols/ into the study's folder.")
        return
    mark = files_mark(folder)
    found = _read(path, mark)
    if isinstance(found, FaultyInput):
        show_faults(found.faults, found.warnings)
    else:
        ahead = _ahead(found, (path, mark), share)
        from decimal import Decimal

        plan = lay_out(found, Decimal(share) / 100)
        st.altair_chart(visit_chart(plan, ahead), width="stretch")
        st.write(visit_words(plan, ahead))
        show_faults((), found.warnings)
    with st.expander("The text of the file"):
        st.code(path.read_text("utf-8"), language="yaml", line_numbers=True)


page()
