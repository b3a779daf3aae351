"""``dewgap log``: the field log of a job."""

from __future__ import annotations

from windows.cli.app import App
from windows.cli.log import check, keep, look, note, place, read, record
from windows.cli.log.entry import FIRST

__all__ = ["app"]

app = App(
    "The field log of a job: what was laid, in what weather, by whom; never changed, only added "
    f"to.\n\nExample: {FIRST}"
)
app.named("place", first=FIRST)(place.place)
app.named("read", first=FIRST)(read.read)
app.add_typer(check.app, name="check")
app.named("note", first=FIRST)(note.note)
app.named("rain", first=FIRST)(note.rain)
app.named("cover", first=FIRST)(note.cover)
app.named("prepare", first=FIRST)(note.prepare)
app.named("instrument", first=FIRST)(note.instrument)
app.named("withdraw", first=FIRST)(note.withdraw)
app.named("show", first=FIRST)(look.show)
app.named("due", first=FIRST)(look.due)
app.named("learn", first=FIRST)(look.learn)
app.named("record", first=FIRST)(record.record)
app.named("verify", first=FIRST)(keep.verify)
app.named("export", first=FIRST)(keep.export)
app.named("schema")(keep.schema)
app.named("template")(keep.template)
app.named("import")(keep.take_in)
app.named("backup", first=FIRST)(keep.backup)
app.named("repair", first=FIRST)(keep.repair)
