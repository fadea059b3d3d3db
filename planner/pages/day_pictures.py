"""The pictures of the Test day page, drawn once for what they show: a tap does not wait for them."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from decimal import Decimal

import streamlit as st

from planner.documents.agreement_strip import strip_chart, strip_words
from planner.documents.now_ruler import now_chart, now_words
from planner.pages.day_scene import Scene, text
from planner.protocol.model import EnoughLine, Manoeuvre
from planner.record.live import VisitNow

RULER_S = 10  # how long a ruler is shown before it is drawn anew
_Values = tuple[tuple[tuple[str, Decimal], ...], ...]  # of each effort, by reading


def show_ruler(scene: Scene, shown: VisitNow) -> None:
    """The visit under the mark for now, and the same in words."""
    plan = scene.schedule.version, scene.schedule.made.isoformat(), scene.schedule.fingerprint
    store = str(scene.store.engine.url), scene.store.rehearsed, scene.number
    moment = int(shown.now.timestamp()) // RULER_S
    _show(*_ruler((*store, *plan, shown.mark, moment), shown))


def show_strip(manoeuvre: Manoeuvre, line: EnoughLine, efforts: Sequence[Mapping[str, Decimal]]) -> None:
    """One line of the rule for when to finish: the values, and the bracket that they must share."""
    _show(*_strip(repr((manoeuvre, line)), tuple(tuple(one.items()) for one in efforts), manoeuvre, line))


@st.cache_resource(max_entries=32, show_spinner=False)
def _ruler(seen: tuple[object, ...], _shown: VisitNow) -> tuple[str, str]:
    chart = now_chart(_shown).configure_mark(aria=False)
    return json.dumps(chart.to_dict(validate=False)), now_words(_shown)


@st.cache_resource(max_entries=64, show_spinner=False)
def _strip(rule: str, values: _Values, _manoeuvre: Manoeuvre, _line: EnoughLine) -> tuple[str, str]:
    efforts = [dict(one) for one in values]
    chart = strip_chart(_manoeuvre, _line, efforts)
    return json.dumps(chart.to_dict(validate=False)), strip_words(_manoeuvre, _line, efforts)


def _show(spec: str, words: str) -> None:
    st.vega_lite_chart(json.loads(spec), width="stretch", alt=words)
    st.markdown(f":small[{text(words)}]")
