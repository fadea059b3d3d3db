"""Recorded moments as local times: many of them fall into the same few hours."""

from __future__ import annotations

from datetime import datetime, timedelta, tzinfo

from planner.record.efforts_file import local_text

_LENGTH = len("2027-03-01T09:00:00+00:00")


class Times(dict[str, tuple[float, str]]):
    """By the recorded text: the instant, and its local words in the study's zone."""

    def __init__(self, zone: tzinfo) -> None:
        self.zone = zone
        self._hours: dict[str, float | None] = {}

    def __missing__(self, text: str) -> tuple[float, str]:
        found = self._in_hour(text) or self._alone(text)
        self[text] = found
        return found

    def _in_hour(self, text: str) -> tuple[float, str] | None:
        """Where the text tells the local time, whole seconds, of an hour in which no clock is changed."""
        if len(text) != _LENGTH or text[19] not in "+-":
            return None
        hour = f"{text[:13]}:00:00{text[19:]}"
        if hour not in self._hours:
            self._hours[hour] = self._plain(hour)
        if (began := self._hours[hour]) is None:
            return None
        return began + 60 * int(text[14:16]) + int(text[17:19]), text[:19]

    def _plain(self, hour: str) -> float | None:
        """The instant of its beginning, where that holds."""
        first = datetime.fromisoformat(hour)
        for moment in (first, first + timedelta(minutes=59, seconds=59)):
            local = moment.astimezone(self.zone)
            if local_text(local) != moment.replace(tzinfo=None).isoformat():
                return None
        return first.timestamp()

    def _alone(self, text: str) -> tuple[float, str]:
        moment = datetime.fromisoformat(text).astimezone(self.zone)
        return moment.timestamp(), local_text(moment)
