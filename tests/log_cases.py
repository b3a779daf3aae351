"""Field logs to test with: drafts of several kinds, and a file changed behind the log's back."""

import random
import sqlite3
from contextlib import closing
from datetime import UTC, datetime, timedelta

from windows.log.entries import Draft, Note, Opening, Placement, Rain, Reading, Withdrawal
from windows.log.store import begin_log, open_log

START = datetime(2026, 6, 8, 11, tzinfo=UTC)
OPENING = Opening(at=START, log="3f9c", site="Warehouse", zone="America/New_York", system="acrylic")
AUTHORS = ("A. Roofer", "Zoë Dach", "屋根屋")


def create_log(path, opening, author):
    """Begin a log with its first entry, in a new file, and open it."""
    with begin_log(path, (Draft(author, opening),)):
        pass
    return open_log(path)


def hours(number):
    return START + timedelta(hours=number)


def reading(hour=0, **fields):
    given = {"at": hours(hour), "section": "A", "air_temp_c": 21.5, "rel_humidity": 0.6} | fields
    return Reading(**given)


def placement(hour=0, **fields):
    given = {
        "at": hours(hour), "end": hours(hour + 3), "section": "A", "layer": "top", "area_m2": 400,
    }  # fmt: skip
    return Placement(**given | fields)


def withdrawal(number, author="A. Roofer"):
    return Draft(author, Withdrawal(at=START, note="entered twice"), number)


def draft(rng, number):
    """Return some draft; ``number`` keeps them apart."""
    author = rng.choice(AUTHORS)
    words = " ".join(rng.choice(("dew", "nap", "seam", "Naht", "雨", "é")) for _ in range(9))
    kind = rng.randrange(4)
    if kind == 0:
        return Draft(author, placement(number, note=words, volume_l=rng.uniform(1, 900)))
    if kind == 1:
        return Draft(author, Rain(at=hours(number), end=None, rain_mm=rng.uniform(0, 9)))
    if kind == 2:
        return Draft(author, Note(at=hours(number), note=f"{words} {number}"))
    return Draft(author, reading(number, air_temp_c=rng.uniform(-5, 40), note=words))


def filled(path, entries, seed=1, at_once=7):
    """Return an open log of so many entries: its opening and others, some of them corrected."""
    rng = random.Random(seed)
    log = create_log(path, OPENING, "A. Roofer")
    while (number := log.head[0]) < entries:
        drafts = [draft(rng, number + k) for k in range(min(at_once, entries - number))]
        if number > 3 and rng.random() < 0.5:
            old = log.latest(rng.randrange(2, number + 1))
            body = log.get(old).body
            if not isinstance(body, Withdrawal):
                changed = body.model_copy(update={"note": f"mended {number}"})
                drafts[0] = withdrawal(old) if rng.random() < 0.3 else Draft("Mender", changed, old)
        log.append(drafts, written=hours(number))
    return log


def change(path, sql, values=()):
    """Run SQL on the file of a closed log as somebody would who wants to change it."""
    with closing(sqlite3.connect(path, isolation_level=None)) as db:
        db.execute("PRAGMA ignore_check_constraints = ON")
        found = db.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall()
        for (name,) in found:
            db.execute(f"DROP TRIGGER {name}")
        return db.execute(sql, values).rowcount
