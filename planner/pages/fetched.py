"""Parts of the framework's front end that the first page needs not, fetched while somebody reads that page.

The browser fetches the code of each kind of element when the first of its kind is drawn. A page with several
kinds that none before it had would stand only after each of them had come.
"""

from __future__ import annotations

import json
import threading
from collections.abc import Iterable
from pathlib import Path

import streamlit as st

KINDS = ("PageLink", "Radio", "ImageList", "DownloadButton", "BidiComponent", "Table", "FileUploader",
         "remark-emoji")  # fmt: skip
_CODE = Path(st.__file__).parent / "static" / "static" / "js"
_DONE = "kinds-fetched"
SENT = threading.Event()  # a first page of this server is on its way: what reads ahead goes on
_REST_MS = 300  # the page that is being read comes first
_FETCH = """<script>
(() => {
  const frame = document.querySelector("script[type=module][src]");
  if (!frame) return;
  const fetchAll = () => %s.forEach((name) => import(new URL(name, frame.src)).catch(() => {}));
  setTimeout(() => (window.requestIdleCallback || setTimeout)(fetchAll), %d);
})();
</script>"""


def files_of(kinds: Iterable[str], code: Path = _CODE) -> list[str]:
    """The files of those kinds of element; of a kind that the installed framework has not, none."""
    return [path.name for kind in kinds for path in sorted(code.glob(f"{kind}.*.js"))]


def fetch_ahead() -> None:
    """Once a session, below all else: have the browser fetch what other pages will draw."""
    if st.session_state.get(_DONE):
        return
    st.session_state[_DONE] = True
    if names := files_of(KINDS):
        st.html(_FETCH % (json.dumps(names), _REST_MS), unsafe_allow_javascript=True)
    SENT.set()
