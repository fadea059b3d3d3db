"""The fields and tables of study.yaml, for the same forms that protocols use."""

from __future__ import annotations

from planner.pages.protocol_fields import Field
from planner.pages.protocol_sheets import Sheet

HEAD = (
    Field("Short name", ("name",), help="Letters, digits, - and _."),
    Field("Time zone", ("time_zone",), help="Such as America/Halifax or Europe/Berlin."),
    Field("First day", ("days", "from"), help="Such as 2027-03-01.", is_when=True),
    Field("Last day", ("days", "to"), help="Such as 2027-04-16.", is_when=True),
    Field("Closed on", ("days", "closed"), "list", "Dates, with commas."),
)
RULES = (
    Field(
        "Give each part time enough in this share of visits",
        ("plan_on",),
        help="80 % where nothing is written.",
    ),
    Field("Days between visits, at least", ("between_visits", "at_least"), help="Such as 2 d."),
    Field("Days between visits, at most", ("between_visits", "at_most"), help="Such as 21 d."),
    Field("Same time of day, within", ("same_time_of_day",), help="Such as 2 h."),
    Field("Visits a day, at most", ("at_most_visits_a_day",)),
    Field("Waiting, at most", ("at_most_waiting",), help="Longest stretch, such as 40 min."),
    Field(
        "Keep the same within a visit", ("keep_same", "within_visit"), "list", "Classes of device or roles."
    ),
    Field(
        "Keep the same across visits", ("keep_same", "across_visits"), "list", "Classes of device or roles."
    ),
    Field("Number that repeats the same draw", ("seed",)),
)
ON_SITE = tuple(
    Field(name.capitalize(), ("on_site", name))
    for name in ("person in charge", "emergency number", "defibrillator", "oxygen", "reliever")
)
_VISIT_ID = Field("Visit", ("id",))
VISIT = (
    _VISIT_ID,
    Field("Protocol", ("protocol",), help="File name, such as rowing.yaml or ../protocols/rowing.yaml."),
    Field("Conditions", ("conditions",), "list"),
    Field("Order", ("order",), help="balanced, listed, or a table such as orders.csv."),
    Field("Blind", ("blind",), "flag"),
    Field("Start", ("start",), help="When such a visit may start, such as 07:30-11:00.", is_when=True),
)
GAPS = (
    _VISIT_ID,
    Field("Days since the visit before, at least", ("since_last", "at_least")),
    Field("Days since the visit before, at most", ("since_last", "at_most")),
    Field("Days between conditions, at least", ("between_conditions", "at_least")),
    Field("Days between conditions, at most", ("between_conditions", "at_most")),
)
VISITS = Sheet(("visits",), VISIT)
VISIT_GAPS = Sheet(("visits",), GAPS, is_free=False)
OPEN = Sheet(
    ("days", "open"),
    (Field("Open", (), "list", "Such as 08:00-17:00.", is_when=True),),
    is_named=True,
    name="Days",
    is_when=True,
)
RIGS = Sheet(
    ("rigs",), (Field("Devices", (), "list", "Codes, such as S1, S2."),), is_named=True, name="Class"
)
FIRST_USE = Sheet(
    ("before_first_use",),
    (Field("Takes", ("takes",)), Field("Staff", ("staff",), "list")),
    is_named=True,
    name="Class",
)
