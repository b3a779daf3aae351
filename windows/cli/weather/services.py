"""``dewgap weather sources``, ``fetch`` and ``cache``: services and what they answered."""

from __future__ import annotations

from typing import Annotated

import typer

from windows.cli.options import CacheDir, Json, Offline, Refresh, SiteArgument, SourceOption
from windows.cli.weather.table import Out, save, tell_saved

__all__ = ["cache", "fetch", "sources"]


def sources(as_json: Json = False) -> None:
    """List services and file formats, and what is set for them.

    Example: dewgap weather sources
    """
    from windows.cli.printing import line, print_json, table
    from windows.settings import load_settings, settings_path
    from windows.sources import LOGGER, SOURCES

    settings = load_settings()
    rows = [(source.NAME, source.KIND, source.HELP) for source in SOURCES]
    rows.append((LOGGER, "file", "table of a weather logger, read with --mapping"))
    contact, key = settings.contact or "", settings.open_meteo_key is not None
    if as_json:
        print_json(
            {
                "sources": [dict(zip(("name", "kind", "help"), row, strict=True)) for row in rows],
                "settings_file": str(settings_path()),
                "cache_dir": str(settings.cache_dir),
                "contact": contact or None,
                "open_meteo_key_set": key,
            }
        )
        return
    table(["name", "gives", "what it is"], [list(row) for row in rows])
    line(f"Settings: {settings_path()}{'' if settings_path().is_file() else ' (not there)'}")
    line(f"  contact: {contact or 'not set (nws and met_norway want one: DEWGAP_CONTACT)'}")
    line(f"  open_meteo_key: {'set' if key else 'not set (free tier, non-commercial use only)'}")
    line(f"Cache: {settings.cache_dir}")


def fetch(
    site: SiteArgument,
    out: Out,
    source: SourceOption = "auto",
    offline: Offline = False,
    refresh: Refresh = False,
    cache_dir: CacheDir = None,
    as_json: Json = False,
) -> None:
    """Fetch the forecast of a service at a site and write it as canonical CSV.

    Example: dewgap weather fetch demo_sites/cool_north --source open_meteo --out week.csv
    """
    from windows.cli.progress import busy
    from windows.site import load_site
    from windows.weather import fetched, told
    from windows.weather_choice import WeatherChoice

    place = load_site(site)
    choice = WeatherChoice(source=source, offline=offline, refresh=refresh, cache_dir=cache_dir)
    with busy(f"asking {source or 'the service'}"):
        hours = fetched(place, choice)
    save(hours, out)  # without what is told of this site, which its reader is told again
    tell_saved(told(hours, place), out, as_json)


def cache(
    clear: Annotated[bool, typer.Option("--clear", help="Forget all that was fetched.")] = False,
    cache_dir: CacheDir = None,
    as_json: Json = False,
) -> None:
    """Show what was fetched and is kept, or forget it.

    Example: dewgap weather cache
    """
    from windows.cli.printing import line, print_json, table
    from windows.settings import load_settings
    from windows.web import Web
    from windows.web_session import clear_cache

    settings = load_settings(cache_dir)
    if clear:
        clear_cache(settings)
    web = Web(settings)
    try:
        entries = web.entries()
    finally:
        web.close()
    if as_json:
        print_json(
            {
                "cache_dir": str(settings.cache_dir),
                "answers": [
                    {"address": p, "bytes": n, "fetched": f"{t:%Y-%m-%dT%H:%M:%SZ}", "old": old}
                    for p, n, t, old in entries
                ],
            }
        )
        return
    line(f"{settings.cache_dir}: {len(entries)} answers kept")
    if entries:
        table(
            ["address", "kB", "fetched (UTC)", "counts as"],
            [
                [p, f"{n / 1000:.0f}", f"{t:%Y-%m-%d %H:%M}", "old" if old else "new"]
                for p, n, t, old in entries
            ],
        )
