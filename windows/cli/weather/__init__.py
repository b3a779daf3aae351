"""``dewgap weather``: fetch, convert, check and keep hourly weather."""

from __future__ import annotations

from windows.cli.app import App
from windows.cli.weather import files, history, services

__all__ = ["app"]

app = App(
    "Hourly weather: services, files, quality, long histories.\n\n"
    "Example: dewgap weather check demo_sites/cool_north/weather.csv"
)
app.named("sources")(services.sources)
app.named("fetch")(services.fetch)
app.named("convert")(files.convert)
app.named("check")(files.check)
app.named("mapping")(files.mapping)
app.named("cache")(services.cache)
app.named("history")(history.history)
