"""Whether the app still answers, told by the page itself: a cut line or a stopped app cannot tell it."""

from __future__ import annotations

import streamlit as st

SILENT_S = 6  # a page that works is brought up to date each second
_WORDS = (
    "No answer from the app for {s} s. What was recorded stays. What you tap or type now is recorded only "
    "once it answers again: keep this page open, do not reload it, and write on the run sheet meanwhile."
)

_CSS = """
p { position: fixed; left: 0; right: 0; bottom: 0; z-index: 10000000; margin: 0; padding: 1rem;
  font: 600 1.25rem/1.4 var(--st-font); background: var(--st-background-color); color: var(--st-text-color);
  border-top: 6px double var(--st-text-color); }
p:empty { display: none; }
"""

# A reading that stands in a form and was not sent is nowhere else: the browser asks before it throws it away.
_JS = """
export default function ({ parentElement, data }) {
  const place = parentElement.querySelector("p");
  const heard = performance.now();
  const typed = () => [...document.querySelectorAll('[data-testid="stForm"] input')].some(
    (one) => ["number", "text"].includes(one.type) && one.getAttribute("role") !== "combobox" && one.value);
  const ask = (leaving) => { if (typed()) leaving.preventDefault(); };
  place.textContent = "";
  clearInterval(place.waiting);
  place.waiting = setInterval(() => {
    const silent = Math.floor((performance.now() - heard) / 1000);
    if (silent >= data.silent) place.textContent = data.words.replace("{s}", silent);
  }, 1000);
  removeEventListener("beforeunload", place.ask);
  place.ask = ask;
  addEventListener("beforeunload", ask);
  return () => { clearInterval(place.waiting); removeEventListener("beforeunload", ask); };
}
"""

_heard = st.components.v2.component("day_heard", html='<p role="alert"></p>', css=_CSS, js=_JS)


def heard(beat: str) -> None:
    """Tells the page that the app answers; `beat` must differ each time. In silence it says so."""
    _heard(key="day-heard", data={"beat": beat, "words": _WORDS, "silent": SILENT_S})
