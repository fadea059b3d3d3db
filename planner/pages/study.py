"""Who comes, and with what? Participants, staff and devices of the study."""

from __future__ import annotations

import streamlit as st

from planner.pages.common import open_study


def page() -> None:
    """The page."""
    st.title("Who comes, and with what?")
    study = open_study()
    st.write(
        f"{len(study.participants)} participants, {sum(map(len, study.asked.values()))} visits asked for, "
        f"{len(study.people)} staff, {len(study.rigs)} devices, {len(study.open)} open days "
        f"from {study.first_day:%d %B %Y} to {study.last_day:%d %B %Y}."
    )
    st.dataframe(
        [{"Staff": p.id, "Roles": ", ".join(p.roles), "Days": len(p.works)} for p in study.people],
        hide_index=True,
    )
    st.dataframe([{"Device": rig.id, "Class": ", ".join(rig.classes)} for rig in study.rigs], hide_index=True)
    st.dataframe(
        [
            {"Participant": name, "Group": study.groups.get(name, ""), "Visits": len(study.asked[name])}
            for name in study.participants
        ],
        hide_index=True,
    )


page()
