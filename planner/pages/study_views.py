"""The views of the Study page, and which of them shows a key, a table, or a line of a file."""

from __future__ import annotations

from planner.faults import Faults
from planner.files import yaml_tree
from planner.study.read import STUDY_FILE
from planner.study.sheets import FORMS

VIEW = "study-view"  # where the page keeps which view is shown
OWN = {"Days and rules": "days", "Devices": "rigs", "Visits": "visits", "On site": "on_site", "Text": ""}
VIEWS = ("Days and rules", "Devices", "Staff", "Shifts", "Participants", "Visits", "Availability", "Absences",
         "Out of use", "Fixed visits", "On site", "Text")  # fmt: skip
VIEW_OF = {view_key: view for view, view_key in OWN.items() if view_key} | {
    key: one.title for key, one in FORMS.items()
}


def view_of_line(study_text: str, file: str, line: int | None) -> str:
    """The view that shows that line of that file; the first where nothing better is known."""
    tree = yaml_tree(study_text, STUDY_FILE, Faults())
    if tree is None or not isinstance(tree.value, dict):
        return "Text"
    if file != STUDY_FILE:
        return next((VIEW_OF[key] for key in FORMS if tree.value.get(key) == file), VIEWS[0])
    above = [
        (place.line, str(path[0]))
        for path, place in tree.places.items()
        if path and path[0] in tree.value and place.line <= (line or 1)
    ]
    return VIEW_OF.get(max(above)[1], VIEWS[0]) if above else VIEWS[0]
