"""An invented field log for one demo site, as the export of one: a week in September.

``python -m windows.demo_log FOLDER`` writes ``field_log.json`` beside the site; the same seed gives
the same bytes. It serves the demo only: roof, people, batches and readings are made up.

The roof reads a little warmer and moister than the weather of the demo says, so that there is
something to learn; one entry is corrected, and one placement is short of readings.
"""

from __future__ import annotations

import sys
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from cure_models.psychrometrics import dew_point, relative_humidity
from cure_models.units import to_si
from windows.field.beside import beside, model_key, source_line, top_of
from windows.field.checked import flagged
from windows.field.desk import desk
from windows.field.wet_film import next_tooth
from windows.log.chain import FIRST, linked
from windows.log.entries import (
    Beside,
    Draft,
    Instrument,
    Moisture,
    Note,
    Opening,
    Placement,
    Rain,
    Reading,
    WetFilm,
    standing,
)
from windows.log.export import log_json
from windows.reports.output import write_whole
from windows.site import load_site
from windows.weather_choice import WeatherChoice

if TYPE_CHECKING:
    from windows.field.desk import Desk
    from windows.log.entries import Body, Entry

__all__ = ["FILE", "SITE", "demo_log"]

SITE, FILE = "cool_north", "field_log.json"
_SEED = 8
_AUTHOR = "Wren Ostby (invented)"
_SECTION_M2 = to_si(5000.0, "ft2")
_AIR_K, _DEW_K, _SURFACE_K = 0.9, 1.3, 1.6
"""How far the invented roof is off the invented weather. [K]"""

_PREPARING = ("09-16", "09-17", "09-18")
"""Days before the weather of the demo begins; what stands beside their readings is invented too."""


class _Maker:
    """The log as it grows: what was written, and the clock of the site."""

    def __init__(self, at: Desk) -> None:
        assert at.weather is not None  # the demo has its own
        self.desk = at
        self.site, self.system, self.weather = at.site, at.system, at.weather
        self.model = model_key(at.site)
        self.chance = np.random.default_rng(_SEED)
        self.entries: list[Entry] = []

    def at(self, day: str, clock: str) -> datetime:
        local = datetime.fromisoformat(f"2026-{day}T{clock}").replace(tzinfo=self.site.zone)
        return pd.Timestamp(local).tz_convert("UTC").to_pydatetime()

    def add(self, body: Body, corrects: int | None = None) -> int:
        """Write an entry five minutes after what it tells of ended; return its number."""
        written = (getattr(body, "end", None) or body.at) + timedelta(minutes=5)
        if self.entries:
            written = max(written, self.entries[-1].written)
        previous = self.entries[-1].hash if self.entries else FIRST
        before = [entry for entry in standing(self.entries) if entry.number != corrects]
        draft = Draft(_AUTHOR, flagged(self.desk, body, before), corrects)
        self.entries.append(linked(draft, len(self.entries) + 1, written, previous))
        return len(self.entries)

    def read(self, day: str, clock: str, section: str, layers: int, occasion: str = "") -> None:
        """Write a reading, off what stands beside it by the bias of the roof and some noise."""
        when = self.at(day, clock)
        top = top_of(self.site, self.system, layers)
        told = beside([when], self.weather, top, model=self.model)[0]
        told = told or self.invented(when)
        assert told.air_temp_c is not None  # both tell all of it
        assert told.dew_point_c is not None
        assert told.surface_temp_c is not None
        off = self.chance.normal(0.0, 0.4, 3)
        air = round(told.air_temp_c + _AIR_K + off[0], 1)
        dew = min(told.dew_point_c + _DEW_K + off[1], air)
        surface = round(told.surface_temp_c + _AIR_K + _SURFACE_K + off[2], 1)
        self.add(
            Reading.model_validate(
                {
                    "at": when, "section": section, "air_temp_c": air, "surface_temp_c": surface,
                    "rel_humidity": round(float(relative_humidity(air, dew)), 2),
                    "wind_m_s": told.wind_m_s, "instruments": ["TH-204", "IR-17"],
                    "occasion": occasion, "beside": told,
                }
            )
        )  # fmt: skip

    def invented(self, when: datetime) -> Beside:
        """Return what the source might have said of an hour that the demo has no weather for."""
        local = when.astimezone(self.site.zone)
        sun = float(np.sin(np.pi * (local.hour + local.minute / 60 - 6.5) / 13))
        air, humidity = 9.0 + 8.0 * sun, 0.85 - 0.35 * sun
        return Beside(
            source=source_line(self.weather), air_temp_c=round(air, 2),
            dew_point_c=round(float(dew_point(air, humidity)), 2),
            rel_humidity=round(humidity, 2), wind_m_s=3.5, surface_temp_c=round(air + 13 * sun, 2),
            model=self.model, sun_up=True, dry=True,
        )  # fmt: skip

    def lay(
        self, day: str, hours: tuple[str, str], section: str, layer: str, *, gal: float,
        wet_mil: tuple[float, float], batches: tuple[str, ...], readings: int = 50,
        direction: str = "north-south", corrects: int | None = None, note: str = "",
    ) -> int:  # fmt: skip
        """Write a placement; its wet film lies between two thicknesses, on teeth of a gauge."""
        low, high = (to_si(mil, "mil") for mil in wet_mil)
        teeth = [low]
        while next_tooth(teeth[-1]) <= high * (1 + 1e-9):
            teeth.append(next_tooth(teeth[-1]))
        film = self.chance.choice(np.round(teeth, 3), readings).tolist()
        where = [f"{'NS'[n % 2]}{'EW'[n // 2 % 2]} {n // 4 + 1}" for n in range(readings)]
        number = self.system.number(layer)
        return self.add(
            Placement(
                at=self.at(day, hours[0]), end=self.at(day, hours[1]), section=section,
                layer=layer, coating=self.system.layers[number].coating, area_m2=_SECTION_M2,
                volume_l=round(to_si(gal, "gal"), 3), batches=batches, crew="crew 2",
                method="spray", direction=direction, note=note,
                wet_film=tuple(
                    WetFilm(film_um=each, where=there)
                    for each, there in zip(film, where, strict=True)
                ),
            ),
            corrects,
        )  # fmt: skip


def demo_log(folder: Path) -> str:
    """Return the invented log of the demo site below a folder, as its export (JSON)."""
    here = folder / SITE
    site, now = load_site(here), pd.Timestamp("2026-09-22T22:00Z")
    made = _Maker(desk(here, site, None, now, WeatherChoice(file=here / "weather.csv")))
    made.add(
        Opening(
            at=made.at("09-16", "07:05"), log="demo", site=site.name, zone=site.zone.key,
            system=made.system.name, note="invented for the demo",
        )
    )  # fmt: skip
    for serial, what in (
        ("TH-204", "thermo-hygrometer"), ("IR-17", "infrared thermometer"),
        ("MM-3", "moisture meter"),
    ):  # fmt: skip
        made.add(
            Instrument.model_validate(
                {
                    "at": made.at("09-16", "07:10"), "serial": serial, "what": what,
                    "calibrated": "2026-03-02", "due": "2027-03-02",
                }
            )
        )  # fmt: skip
    for section, moisture in (("A", 0.09), ("B", 0.11)):
        made.add(
            Moisture(
                at=made.at("09-16", "09:00"), section=section, where="two cuts by the drain",
                moisture=moisture, limit=0.15, method="meter on a core", instruments=("MM-3",),
            )
        )  # fmt: skip
    for day in _PREPARING:
        for clock in ("08:00", "12:00", "16:00"):
            made.read(day, clock, "A", 0)
    made.add(Rain(at=made.at("09-19", "05:00"), end=made.at("09-19", "08:30"), rain_mm=7.6))
    made.read("09-21", "09:30", "A", 0, "before start")
    primer = made.lay(
        "09-21", ("10:00", "11:30"), "A", "primer", gal=37, wet_mil=(8, 9), batches=("P-118",)
    )
    made.read("09-21", "12:00", "B", 0, "change")
    made.lay(
        "09-21", ("12:00", "13:30"), "B", "primer", gal=27, wet_mil=(8, 9),
        batches=("P-118", "P-119"),
    )  # fmt: skip
    made.add(
        Rain(at=made.at("09-21", "12:15"), end=made.at("09-21", "12:40"), rain_mm=2.5,
             note="a shower; B was dried by blower and laid on")
    )  # fmt: skip
    made.read("09-21", "13:30", "B", 0, "finish")
    made.add(Note(at=made.at("09-21", "15:00"), note="owner's inspector on the roof, no remarks"))
    made.lay(
        "09-21", ("10:00", "11:30"), "A", "primer", gal=27, wet_mil=(8, 9), batches=("P-118",),
        corrects=primer, note="27 gal: the sheet of the day had the pails of both sections",
    )  # fmt: skip
    made.read("09-22", "09:40", "A", 1, "before start")
    made.lay(
        "09-22", ("10:00", "14:00"), "A", "base", gal=170, wet_mil=(24, 26),
        batches=("B-2071", "B-2072", "B-2073"), readings=46, direction="east-west",
    )  # fmt: skip
    made.read("09-22", "14:00", "A", 2, "finish")
    return log_json(made.entries)


if __name__ == "__main__":
    home = Path(sys.argv[1] if len(sys.argv) > 1 else "demo_sites")
    write_whole(home / SITE / FILE, demo_log(home))
