"""Logs made by hand for tests of the record: entries bound to each other, and no file."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from windows.log.chain import FIRST, linked
from windows.log.entries import KINDS, Draft, Opening, Withdrawal

NEW_YORK = ZoneInfo("America/New_York")
FT2, GAL, MIL = 0.3048**2, 231 * 0.0254**3 * 1000, 25.4


def local(text):
    """Return "2026-06-01 09:00" by the clock of New York, in UTC."""
    return datetime.fromisoformat(text).replace(tzinfo=NEW_YORK).astimezone(UTC)


class Log:
    """A log that grows in memory; an entry is written a minute after what it tells of."""

    def __init__(self, opened="2026-06-01 06:00"):
        self.entries = []
        self.add(Opening(at=local(opened), log="L-1", site="Test roof", zone=NEW_YORK.key))

    @property
    def head(self):
        return self.entries[-1].number, self.entries[-1].hash

    def add(self, body, corrects=None, author="A. Foreman", written=None):
        """Append a body; return the number of its entry."""
        number = len(self.entries) + 1
        previous = self.entries[-1].hash if self.entries else FIRST
        when = written or getattr(body, "end", None) or body.at
        draft = Draft(author, body, corrects)
        self.entries.append(linked(draft, number, when + timedelta(minutes=1), previous))
        return number

    def told(self, kind, at, corrects=None, **fields):
        """Append an entry of a kind; ``end`` is by the clock of New York, as ``at``."""
        if "end" in fields:
            fields["end"] = local(fields["end"])
        return self.add(KINDS[kind](at=local(at), **fields), corrects)

    def placed(self, at, end, *, section="North", layer="base", corrects=None, **fields):
        """Append a placement, by default of 1,000 ft2."""
        given = {"area_m2": 1000 * FT2} | fields
        return self.told("placement", at, corrects, end=end, section=section, layer=layer, **given)

    def read(self, at, corrects=None, **fields):
        """Append a reading, by default of air, surface and humidity."""
        given = {"air_temp_c": 20.0, "surface_temp_c": 25.0, "rel_humidity": 0.5} | fields
        return self.told("reading", at, corrects, **given)

    def withdraw(self, number, at, why):
        return self.add(Withdrawal(at=local(at), note=why), number)
