"""What one browser tab keeps over a reload: the staff code that was picked in it, and nothing else.

It stays in the tab (session storage), goes with it, and never stands in the address.
"""

from __future__ import annotations

from collections.abc import Collection

import streamlit as st

_JS = """
export default function ({ data, setTriggerValue }) {
  const name = "testday-picked";
  if (data.value) {
    sessionStorage.setItem(name, data.value);
  } else if (data.fresh && sessionStorage.getItem(name)) {
    setTriggerValue("known", sessionStorage.getItem(name));
  } else {
    sessionStorage.removeItem(name);
  }
}
"""

_tab = st.components.v2.component("tab_memory", html="<span></span>", js=_JS)


def remember(key: str, allowed: Collection[str]) -> None:
    """Keep what the widget of that key holds; after a reload give it back, where it is allowed still."""
    fresh = f"{key}-asked" not in st.session_state

    def give_back() -> None:
        known = st.session_state[f"{key}-tab"].get("known")
        st.session_state[f"{key}-asked"] = True
        if known in allowed and not st.session_state.get(key):
            st.session_state[key] = known

    value = st.session_state.get(key) or ""
    if value:
        st.session_state[f"{key}-asked"] = True
    _tab(key=f"{key}-tab", data={"value": value, "fresh": fresh}, on_known_change=give_back)
