"""``dewgap log``: the field log of a job."""

from __future__ import annotations

import typer

from windows.cli.log import check, keep, look, note, place, read, record

__all__ = ["app"]

app = typer.Typer(
    no_args_is_help=True,
    help="The field log of a job: what was laid, in what weather, by whom; never changed, "
    "only added to.",
)
app.command("place")(place.place)
app.command("read")(read.read)
app.add_typer(check.app, name="check")
app.command("note")(note.note)
app.command("rain")(note.rain)
app.command("cover")(note.cover)
app.command("prepare")(note.prepare)
app.command("instrument")(note.instrument)
app.command("withdraw")(note.withdraw)
app.command("show")(look.show)
app.command("due")(look.due)
app.command("learn")(look.learn)
app.command("record")(record.record)
app.command("verify")(keep.verify)
app.command("export")(keep.export)
app.command("schema")(keep.schema)
app.command("template")(keep.template)
app.command("import")(keep.take_in)
app.command("backup")(keep.backup)
app.command("repair")(keep.repair)
