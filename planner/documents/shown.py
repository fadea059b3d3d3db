"""How visits, times and amounts are written on every document."""

from __future__ import annotations

from datetime import date, datetime

from planner.clock import duration_words
from planner.documents.texts import lines, say
from planner.documents.typeset import PAPERS as PAPERS
from planner.protocol.model import Protocol
from planner.schedule.as_it_stands import files_changed
from planner.schedule.model import PlacedVisit, Schedule
from planner.study.model import Study


def hhmm(moment: datetime) -> str:
    """The local clock time as HH:MM, cut, never rounded: on paper nobody waits for half a minute."""
    return f"{moment:%H:%M}"


def date_words(on: date) -> str:
    """Such as `Monday 1 March 2027`, in the language of the texts and not of the machine."""
    weekday = lines("common.weekdays")[on.weekday()]
    month = lines("common.months")[on.month - 1]
    return say("common.date", weekday=weekday, day=on.day, month=month, year=on.year)


def length_words(seconds: int) -> str:
    """Such as `1 h 30 min`, held together by spaces that do not break."""
    return duration_words(seconds).replace(" ", "\u00a0")


def minutes_words(seconds: float) -> str:
    """Whole minutes, rounded up, so that nobody is told too little: `43 min`, `1 h 5 min`."""
    minutes = -int(-seconds // 60)
    hours, rest = divmod(minutes, 60)
    parts = ([f"{hours} h"] if hours else []) + ([f"{rest} min"] if rest or not hours else [])
    return " ".join(parts).replace(" ", "\u00a0")


def hours_words(seconds: int) -> str:
    """How long before a visit, as people say it: hours up to two days, then days."""
    hours, minutes = seconds // 3600, seconds % 3600 // 60
    if hours > 48 and hours % 24 == 0:
        return say("common.days", n=hours // 24)
    if minutes or not hours:
        return say("common.minutes", n=60 * hours + minutes)
    return say("common.hour") if hours == 1 else say("common.hours", n=hours)


def visit_words(study: Study, kind_id: str, number: int | None, condition: str | None) -> str:
    """`practice`, `rowing 2`, or where nothing is blind `rowing 2: cold air`."""
    if number is None:
        return kind_id
    words = f"{kind_id} {number}"
    known = {kind.id: kind.blind for kind in study.kinds}
    if condition is None or known.get(kind_id, True):  # of a kind that is gone nobody knows: nothing is said
        return words
    return f"{words}: {condition}"


def placed_words(study: Study, visit: PlacedVisit) -> str:
    """The visit's name as people read it; a blind condition never stands in it."""
    return visit_words(study, visit.visit, visit.number, visit.condition)


def protocol_of(study: Study, visit: PlacedVisit) -> Protocol:
    """The protocol of a placed visit; KeyError where the study does not ask for such a visit.

    Of a participant who is gone, that by which others have a visit of this kind and condition.
    """
    for asked in study.asked.get(visit.participant, ()):
        if (asked.kind, asked.number) == (visit.visit, visit.number):
            return study.protocols[asked.protocol]
    others = () if visit.participant in study.asked else study.asked.values()
    for one in (one for own in others for one in own):
        if (one.kind, one.condition) == (visit.visit, visit.condition):
            return study.protocols[one.protocol]
    raise KeyError((visit.participant, visit.file_id))


def is_understood(study: Study, visit: PlacedVisit) -> bool:
    """Whether the study still has what the visit of an earlier plan consists of."""
    try:
        protocol = protocol_of(study, visit)
    except KeyError:
        return False
    steps = {step.id for step in protocol.visit}
    names = {None, *protocol.manoeuvres}
    return all(one.step in steps and one.manoeuvre in names for one in visit.activities)


def plan_words(schedule: Schedule) -> str:
    """The plan's version and when it was made, for every page."""
    return say("common.plan", version=schedule.version, made=f"{schedule.made:%Y-%m-%d %H:%M}")


def standing_words(study: Study, schedule: Schedule) -> str:
    """The plan's version and when it was made, and that the study's files changed since where they did."""
    since = say("common.since") if files_changed(schedule, study) else ""
    return " · ".join(filter(None, (plan_words(schedule), since)))


def page_values(study: Study, schedule: Schedule, title: str, *, paper: str) -> dict[str, object]:
    """What `base.typ` needs on every page: title, paper, date of making, footer."""
    demo = f"{say('common.demo')} · " if study.demo else ""
    return {
        "title": title,
        "paper": PAPERS[paper],
        "made": [schedule.made.year, schedule.made.month, schedule.made.day],
        "lang": say("common.language"),
        "region": say("common.region"),
        "foot-code": title,
        "foot": demo + say("common.footer", plan=standing_words(study, schedule)),
        "page": say("common.page"),
    }
