"""Small parts that the framework lacks: buttons for gloves, figures a hand high that count down, the address.

They take all they show from the page and hold no rule. A tap tells which deed of which shown state it
was, and the device's own clock. Figures count from two stored instants, never from ticks.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

import streamlit as st

_PAD_CSS = """
.row { display: grid; grid-template-columns: repeat(auto-fit, minmax(148px, 1fr)); gap: 16px 32px;
  margin-bottom: 12px; }
button { min-height: 96px; border-radius: .6rem; font: 600 1.5rem var(--st-font); cursor: pointer;
  padding: .4rem; background: var(--st-background-color); color: var(--st-text-color);
  border: 3px solid var(--st-text-color); touch-action: manipulation; }
button.next { background: var(--st-text-color); color: var(--st-background-color); }
button.wait { min-height: 80px; }
.row:has(.safety) { grid-template-columns: repeat(auto-fit, minmax(240px, 1fr)); }
button.safety { min-height: 80px; border-style: double; border-width: 9px; }
.row:has(.small) { display: flex; flex-wrap: wrap; }
button.small { min-height: 64px; flex: 1 0 96px; border-width: 2px; font-size: 1.15rem; }
button[aria-pressed="true"] { border-width: 6px; }
button:disabled { border-style: dashed; border-width: 2px; font-weight: 400; cursor: not-allowed; }
button.next:disabled { background: var(--st-background-color); color: var(--st-text-color); }
button:focus-visible { outline: 4px solid var(--st-primary-color); outline-offset: 3px; }
p { font: 600 1rem var(--st-font); color: var(--st-text-color); margin: 0; min-height: 1.3rem; }
"""

_PAD_JS = """
export default function ({ parentElement, data, setTriggerValue }) {
  const place = parentElement.querySelector(".pad");
  const mark = JSON.stringify(data);
  if (place.dataset.mark === mark) return;
  const focused = place.tapped || (parentElement.activeElement && parentElement.activeElement.dataset.deed);
  place.tapped = null;
  clearTimeout(place.waiting);
  place.dataset.mark = mark;
  place.replaceChildren();
  const said = document.createElement("p");
  said.setAttribute("role", "status");
  const buttons = [];
  for (const keys of data.rows) {
    const row = document.createElement("div");
    row.className = "row";
    for (const key of keys) {
      const button = document.createElement("button");
      button.textContent = key.label;
      button.className = key.kind;
      if (key.hint) button.title = key.hint;
      if (key.pressed !== null) button.setAttribute("aria-pressed", key.pressed);
      button.disabled = !key.enabled;
      button.dataset.deed = key.deed;
      button.onclick = () => {
        place.tapped = key.deed;  // a button that is switched off loses the focus
        buttons.forEach((one) => { one.disabled = true; });
        said.textContent = data.doing;
        setTriggerValue("tap", { deed: key.deed, token: key.token, part: key.part, number: key.number,
          device: new Date().toISOString() });
        place.waiting = setTimeout(() => {
          said.textContent =
            "Not recorded yet. Check the connection, then tap again: sent twice, it is kept once.";
          place.dataset.mark = "";
          buttons.forEach((one, n) => { one.disabled = !one.wasEnabled; });
        }, 6000);
      };
      button.wasEnabled = key.enabled;
      buttons.push(button);
      row.append(button);
    }
    place.append(row);
  }
  place.append(said);
  const again = buttons.find((one) => one.dataset.deed === focused && !one.disabled);
  if (focused) (again || buttons.find((one) => !one.disabled) || place).focus();
}
"""

_FIGURE_CSS = """
.figure { font: 700 min(96px, 12vw)/1.1 var(--st-font); font-variant-numeric: tabular-nums;
  color: var(--st-text-color); text-align: center; min-height: 106px; }
.figure span { display: block; font: 600 1.75rem/1.3 var(--st-font); }
"""

_FIGURE_JS = """
export default function ({ parentElement, data }) {
  const place = parentElement.querySelector(".figure");
  const seen = performance.now();
  const words = (s) => {
    const t = Math.max(0, s), h = Math.floor(t / 3600), m = Math.floor(t / 60) % 60;
    const two = (n) => String(n).padStart(2, "0");
    return (h ? h + ":" + two(m) : m) + ":" + two(Math.floor(t) % 60);
  };
  const show = () => {
    const gone = (performance.now() - seen) / 1000 * data.speed;
    const left = data.up ? data.seconds + gone : Math.ceil(data.seconds - gone);
    const over = !data.up && left <= 0;
    place.replaceChildren(words(left), Object.assign(document.createElement("span"),
      { textContent: over ? data.over : data.label }));
    if (over && data.signal && place.dataset.told !== data.id) {
      place.dataset.told = data.id;
      signal();
    }
  };
  const signal = () => {
    if (navigator.vibrate) navigator.vibrate([300, 150, 300]);
    try {
      const sound = new AudioContext(), tone = sound.createOscillator(), soft = sound.createGain();
      soft.gain.value = 0.2;
      tone.frequency.value = 660;
      tone.connect(soft).connect(sound.destination);
      tone.start();
      tone.stop(sound.currentTime + 0.4);
    } catch (silent) { /* the figure says it as well */ }
  };
  clearInterval(place.ticking);
  show();
  place.ticking = setInterval(show, 200);
  return () => clearInterval(place.ticking);
}
"""

_ADDRESS_JS = """
export default function ({ data }) {
  if (!window.location.pathname.endsWith("/" + data.page)) return;  // another page is on its way already
  const said = new URLSearchParams(window.location.search);
  for (const [name, value] of Object.entries(data.told)) {
    if (value) said.set(name, value); else said.delete(name);
  }
  const words = said.size ? "?" + said : "";
  if (words === window.location.search) return;
  window.history.replaceState(window.history.state, "", window.location.pathname + words);
}
"""

_pad = st.components.v2.component("day_pad", html='<div class="pad"></div>', css=_PAD_CSS, js=_PAD_JS)
_figure = st.components.v2.component(
    "day_figure",
    html='<div class="figure" role="timer" aria-live="off"></div>',
    css=_FIGURE_CSS,
    js=_FIGURE_JS,
)

_address = st.components.v2.component("day_address", html="<span></span>", js=_ADDRESS_JS)


@dataclass(frozen=True, slots=True)
class Key:
    """One button. `deed`, `part` and `number` say what it records, `token` in which shown state."""

    deed: str
    label: str
    token: str
    part: int
    number: int = 0
    enabled: bool = True
    kind: str = ""  # `next`: what comes next; `wait`; `safety`; `small`: less high, still for gloves
    hint: str = ""
    pressed: bool | None = None  # of a choice: whether it is the chosen one


def pad(rows: Sequence[Sequence[Key]], key: str, doing: str = "Recording") -> None:
    """The buttons; what is tapped on them waits for `tapped`. `doing` is said until the page answers."""
    shown = {"rows": [[asdict(one) for one in row] for row in rows], "doing": doing}

    def keep() -> None:
        tapped = st.session_state[key].get("tap")
        if isinstance(tapped, dict):
            st.session_state[f"{key}-tapped"] = tapped

    _pad(key=key, data=shown, on_tap_change=keep)


def tapped(key: str) -> dict[str, Any] | None:
    """What was tapped on that pad since the page was shown, with the device's clock in `device`."""
    said = st.session_state.pop(f"{key}-tapped", None)
    return said if isinstance(said, dict) else None


def figure(
    seconds: float,
    label: str,
    over: str,
    *,
    up: bool = False,
    speed: float = 1,
    signal: bool = False,
    mark: str,
) -> None:
    """Large figures: seconds left (`up`: gone) now, then counted by the device; at the end `over` is said."""
    data = {"seconds": seconds, "label": label, "over": over, "up": up, "speed": speed}
    data |= {"signal": signal, "id": mark}
    _figure(key="day-figure", data=data)


def address(page: str, told: Mapping[str, str]) -> None:
    """What the page shows stands in its address, so that a reload shows it again; what is empty does not.

    The present step of the browser's history is written over: the framework itself would add one, and
    nobody could go back past a page that adds a step at each arrival.
    """
    _address(key=f"address-of-{page}", data={"page": page, "told": dict(told)})
