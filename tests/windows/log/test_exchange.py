"""A log out and in again: nothing is lost or half taken, and each refusal is a sentence."""

import csv
import io
import json
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import log_bodies as lb
import log_cases as cases
import pytest
from how_many import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator
from log_cases import create_log
from outside import library

from windows.errors import DewgapError, HoursError, LogError
from windows.log import exchange as ex
from windows.log.cells import guarded, unguarded
from windows.log.chain import FIRST, linked
from windows.log.columns import CONVERTED, FIELDS
from windows.log.entries import (
    KINDS,
    Beside,
    Draft,
    DryFilm,
    Note,
    Photo,
    Placement,
    Reading,
    Repair,
    WetFilm,
)
from windows.log.logger_rows import logger_readings
from windows.log.proof import verify
from windows.log.store import begin_log
from windows.log.told import told_of
from windows.sources.logger_mapping import LoggerMapping

ZONE = ZoneInfo("America/New_York")
SCHEMA = json.loads(ex.log_schema())
VALIDATOR = Draft202012Validator(SCHEMA, format_checker=Draft202012Validator.FORMAT_CHECKER)
FORMS = {"csv": ex.log_csv, "json": ex.log_json, "parquet": ex.log_parquet}
WRITTEN = datetime(2026, 6, 8, 20, tzinfo=UTC)


def content(entries, form):
    told = FORMS[form](entries)
    return told if isinstance(told, bytes) else told.encode()


def back(told):
    return [told_of(row, None, ZONE).entry for row in ex.read_entries(told, "here")]


@pytest.fixture
def log(tmp_path):
    with create_log(tmp_path / "log", cases.OPENING, "Ann") as log:
        yield log


@pytest.fixture
def full(log):
    """Return a log of an opening, a placement (2), a reading (3) and a note (4)."""
    log.append(
        [
            Draft("Ann", cases.placement(
                volume_l=300, wet_film=(WetFilm(film_um=609.6, where="north edge"),
                                        WetFilm(film_um=635)), batches=("A1", "A2"))),
            Draft("Ann", cases.reading(1, air_temp_c=18.333333333333332)),
            Draft("Ben", Note(at=cases.hours(2), note="dry")),
        ],
        written=WRITTEN,
    )  # fmt: skip
    return log


def take(log, told, **how):
    """Take the bytes or the text of a file in, and return the plan."""
    told = told.encode() if isinstance(told, str) else told
    rows = ex.read_entries(told, "here")
    plan = ex.plan_import(rows, log, **{"author": "Cy", "zone": ZONE} | how)
    ex.apply_import(plan, log, written=WRITTEN)
    return plan


def fault(log, told, *parts, **how):
    """Return the sentence with which a file is refused; nothing of it may be in the log."""
    before = log.head
    with pytest.raises(LogError) as caught:
        take(log, told, **how)
    sentence = str(caught.value)
    assert sentence.startswith("here: ")
    assert "\n" not in sentence
    assert len(sentence) < 500
    for part in parts:
        assert part in sentence
    assert log.head == before
    return sentence


def edited(told, number, /, **cells):
    """Return a CSV with some cells of an entry changed; ``None`` takes a cell out."""
    rows = list(csv.DictReader(io.StringIO(told)))
    for row in rows:
        if row["number"] == str(number):
            row.update({name: value or "" for name, value in cells.items()})
    out = io.StringIO()
    writer = csv.DictWriter(out, rows[0])
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()


# ------------------------------------------------------------------------------------- the schema


def test_the_schema_is_one_and_agrees_with_the_models():
    Draft202012Validator.check_schema(SCHEMA)
    branches = SCHEMA["properties"]["entries"]["items"]["oneOf"]
    assert [each["properties"]["kind"]["const"] for each in branches] == list(KINDS)
    tables = KINDS | {"photo": Photo, "wet_film": WetFilm, "beside": Beside}
    for name, model in tables.items():
        table = SCHEMA["$defs"][name]
        assert table["additionalProperties"] is False
        assert list(table["properties"]) == list(model.model_fields), name
        needed = {n for n, field in model.model_fields.items() if field.is_required()}
        assert needed | ({"note"} if name == "withdrawal" else set()) == set(table["required"])
        for key, field in model.model_fields.items():
            told = table["properties"][key]
            assert told["description"].endswith((".", "]"))
            inner, checks = lb.meaning(field.annotation, field.metadata)
            given = {n: v for n, v in told.items() if n.endswith("imum")}
            assert given == (lb.bounds(checks) if inner in (int, float) else {}), (name, key)
            if inner is str:
                assert told["$ref"] == f"#/$defs/{lb.text_of(checks)}"


@settings(max_examples=examples(30), deadline=None)
@given(lb.logs())
def test_every_export_is_valid_by_the_schema(outside, entries):
    told = json.loads(ex.log_json(entries))
    outside.equal(
        "faults of exported logs by their schema",
        [str(each.message)[:200] for each in VALIDATOR.iter_errors(told)], [],
        points=len(entries), source=library("jsonschema"),
    )  # fmt: skip


def changed(told, path, value):
    *before, last = path
    for key in before:
        told = told[key]
    if value is KeyError:
        del told[last]
    else:
        told[last] = value


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("version",), 2), (("format",), "log"), (("more",), 1), ((1, "kind"), "reading"),
        ((1, "body", "area_m2"), 0), ((1, "body", "section"), ""), ((1, "body", "at"), "2026-06"),
        ((1, "body", "at"), "2026-06-31T10:00:00Z"), ((1, "body", "colour"), "red"),
        ((1, "body", "section"), KeyError), ((1, "body", "crew"), "a\nb"), ((1, "number"), 0),
        ((1, "hash"), "A" * 64), ((1, "hash"), "0" * 63), ((1, "previous"), KeyError),
        ((2, "body", "air_temp_c"), "20"), ((2, "body", "rel_humidity"), 1.2), ((1, "corrects"), 0),
        ((3, "body", "note"), KeyError), ((2, "body", "wind_from_deg"), 361), ((0, "corrects"), 1),
        ((1, "body", "wet_film", 0, "film_um"), KeyError), ((1, "body", "method"), "spoon"),
    ],
)  # fmt: skip
def test_the_schema_is_strict(full, path, value):
    told = json.loads(ex.log_json(full.entries()))
    assert VALIDATOR.is_valid(told)
    changed(told["entries"] if isinstance(path[0], int) else told, path, value)
    assert not VALIDATOR.is_valid(told)


# --------------------------------------------------------------------------------- out and in again


@settings(max_examples=examples(60), deadline=None)
@given(lb.logs(), st.sampled_from(list(FORMS)))
def test_every_entry_comes_back_equal(outside, entries, form):
    outside.equal(
        "entries of random logs exported and taken in again, three formats",
        back(content(entries, form)), entries, source="the entries before",
    )  # fmt: skip


@settings(max_examples=examples(30), deadline=None)
@given(lb.logs(), st.sampled_from((",", ";", "\t")), st.sampled_from(("\n", "\r\n")),
       st.sampled_from(("utf-8", "utf-8-sig", "utf-16")))  # fmt: skip
def test_a_table_comes_back_however_a_spreadsheet_saves_it(entries, mark, ending, encoding):
    out = io.StringIO()
    rows = csv.reader(io.StringIO(ex.log_csv(entries), newline=""))
    csv.writer(out, delimiter=mark, lineterminator=ending, quoting=csv.QUOTE_ALL).writerows(
        [cell.replace("\n", ending) for cell in row] for row in rows
    )
    assert back(out.getvalue().encode(encoding)) == entries


@settings(max_examples=examples(40), deadline=None)
@given(lb.logs())
def test_no_cell_of_a_table_begins_like_a_formula(entries):
    for row in csv.DictReader(io.StringIO(ex.log_csv(entries))):
        for name, cell in row.items():
            if cell.startswith(("=", "+", "-", "@", "\t", "\r")):
                assert float(cell) < 0, (name, cell)


@given(lb.LINES | st.text(max_size=4))
def test_a_guard_comes_off_again(text):
    assert unguarded(guarded(text)) == text
    assert not guarded(text).startswith(("=", "+", "-", "@", "\t", "\r"))


@pytest.mark.parametrize("form", FORMS)
def test_a_log_with_everything_makes_the_same_log(tmp_path, form):
    with cases.filled(tmp_path / "one", 60) as one, begin_log(tmp_path / "two") as two:
        told = content(one.entries(), form)
        plan = take(two, told)
        assert (plan.known, plan.new, plan.changed) == (0, (), ())
        assert list(two.entries()) == list(one.entries())
        assert two.head == one.head
        assert verify(two).ok
        assert take(two, told) == ex.Import(known=60)
        one.append([Draft("Ann", Note(at=cases.START, note="later"))])
        assert len(take(two, content(one.entries(), form)).adopt) == 1
        assert two.head == one.head


def test_cells_that_people_read():
    photo = Photo(file="a|b c.jpg", sha256="0" * 64, size=12)
    placement = cases.placement(
        wet_film=(WetFilm(film_um=610, where="north edge"), WetFilm(film_um=635.5)),
        batches=("A1", "=A|2", "C\\3"), photos=(photo,), note='says "no"\nand @ stops',
    )  # fmt: skip
    (_, row) = entries_of(placement)
    cells = next(csv.DictReader(io.StringIO(ex.log_csv([row]))))
    assert cells["wet_film"] == "610 @ north edge | 635.5"
    assert cells["batches"] == "A1 | =A\\|2 | C\\\\3"
    assert cells["photos"] == f"a\\|b c.jpg {'0' * 64} 12"
    assert cells["at"] == "2026-06-08T11:00:00Z"
    assert cells["area_m2"] == "400"
    assert cells["note"] == 'says "no"\nand @ stops'
    assert list(cells) == [
        "number", "kind", "at", "end", "written", "author", "corrects", "section", "layer",
        "coating", "area_m2", "volume_l", "wet_film", "batches", "crew", "method", "direction",
        "note", "photos", "flags", "previous", "hash",
    ]  # fmt: skip


def entries_of(*bodies):
    entries = [linked(Draft("Ann", cases.OPENING), 1, WRITTEN, FIRST)]
    for body in bodies:
        number = len(entries) + 1
        entries.append(linked(Draft("Ann", body), number, WRITTEN, entries[-1].hash))
    return entries


def test_parquet_has_types():
    import pyarrow.parquet as pq

    beside = Beside(source="nws", sun_up=True)
    told = ex.log_parquet(entries_of(cases.reading(beside=beside), cases.placement()))
    types = {field.name: str(field.type) for field in pq.read_schema(io.BytesIO(told))}
    assert types["at"] == types["written"] == "timestamp[ms, tz=UTC]"
    assert types["number"] == "int64"
    assert types["air_temp_c"] == "double"
    assert types["beside_sun_up"] == "bool"
    assert types["batches"] == "list<element: string>"
    assert types["wet_film"].startswith("list<element: struct<film_um: double, where: string>")


def test_parquet_without_its_library_is_a_sentence(full, monkeypatch):
    told = ex.log_parquet(full.entries())
    monkeypatch.setitem(sys.modules, "pyarrow.parquet", None)
    for act in (lambda: ex.log_parquet(full.entries()), lambda: ex.read_entries(told, "here")):
        with pytest.raises(DewgapError, match="pip install pyarrow"):
            act()


def test_a_form_by_the_ending_of_the_name_and_some_kinds(full):
    entries = list(full.entries())
    assert ex.export_log(entries, None, Path("a.JSON")) == ex.log_json(entries)
    assert ex.export_log(entries, "csv", Path("a.json")) == ex.log_csv(entries)
    assert ex.export_log(entries, None, Path("a.parquet"))[:4] == b"PAR1"
    some = ex.log_csv([entry for entry in entries if entry.kind == "note"])
    assert some.splitlines()[0] == (
        "number,kind,at,end,written,author,corrects,section,layer,note,photos,flags,previous,hash"
    )
    assert len(some.splitlines()) == 2
    with pytest.raises(LogError, match=r"a\.xlsx: its ending does not say"):
        ex.export_log(entries, None, Path("a.xlsx"))


# --------------------------------------------------------------------------------- filled by hand

BY_HAND = """\
kind,at,end,author,section,layer,area_ft2,volume_gal,wet_film_mil,batches,air_temp_f,\
rel_humidity_pct,wind_mph,rain_in,note
placement,6/8/2026 7:30,6/8/2026 11:00,,A,top,"2400",36,24 @ north edge | 25,A1 | A2,,,,,
,,,,,,,,,,,,,,
reading,2026-06-08 12:00,,Ben,A,,,,,,77,55,10,,="77"
rain,2026-06-08T16:00:00Z,6/8/2026 1:30 PM,,,,,,,,,,,0.5,
"""


def test_the_sheet_of_a_superintendent_in_us_units(log):
    plan = take(log, BY_HAND.replace('="77"', "'+ warm"))
    assert [draft.author for draft in plan.new] == ["Cy", "Ben", "Cy"]
    placement, reading, rain = (entry.body for entry in log.entries(after=1))
    # 1 ft2 = 0.09290304 m2, 1 gal = 3.785411784 L, 1 mil = 25.4 um, 1 mph = 0.44704 m/s
    assert placement.area_m2 == 222.967296
    assert placement.volume_l == 136.274824
    assert [(film.film_um, film.where) for film in placement.wet_film] == [
        (609.6, "north edge"), (635.0, ""),
    ]  # fmt: skip
    assert placement.batches == ("A1", "A2")
    assert placement.at == datetime(2026, 6, 8, 11, 30, tzinfo=UTC)  # New York: four hours behind
    assert placement.end == datetime(2026, 6, 8, 15, tzinfo=UTC)
    assert (reading.air_temp_c, reading.rel_humidity, reading.wind_m_s) == (25.0, 0.55, 4.4704)
    assert reading.at == datetime(2026, 6, 8, 16, tzinfo=UTC)
    assert reading.note == "+ warm"
    assert rain.rain_mm == 12.7
    assert rain.end - rain.at == timedelta(hours=1.5)
    assert {entry.written for entry in log.entries(after=1)} == {WRITTEN}
    assert verify(log).ok


def test_a_sheet_taken_in_again_adds_what_is_new(log):
    sheet = BY_HAND.replace('="77"', "")
    take(log, sheet)
    plan = take(log, sheet + "note,2026-06-08 18:00,,,,,,,,,,,,,home\n")
    assert (plan.known, len(plan.new)) == (3, 1)
    # Two that say the same are two.
    film = "kind,at,section,film_mil,method\n" + "dry_film,2026-06-09 10:00,A,20,slit\n" * 2
    assert len(take(log, film).new) == 2
    more = film + "dry_film,2026-06-09 10:00,A,20,slit\n"
    assert (take(log, more).known, len(list(log.entries("dry_film")))) == (2, 3)
    # What was corrected since does not come back.
    log.append([Draft("Ann", DryFilm(at=cases.START, section="A", film_um=1, method="slit"), 6)])
    assert take(log, more) == ex.Import(known=3)


def test_a_row_that_takes_back_is_known_the_second_time(full):
    sheet = "kind,at,corrects,note\nwithdrawal,2026-06-08 18:00,4,wrong roof\n"
    assert len(take(full, sheet).new) == 1
    assert take(full, sheet) == ex.Import(known=1)


def test_what_is_added_on_entry_does_not_make_another(log):
    beside = Beside(source="nws", air_temp_c=20)
    body = cases.reading()
    log.append([Draft("Ann", body.model_copy(update={"beside": beside, "flags": ("far off",)}))])
    assert ex.not_in(log, [Draft("Ann", body)]) == ((), 1)
    assert ex.not_in(log, []) == ((), 0)


def test_names_of_the_job_are_settled_before_rows_are_compared(log):
    def settle(body):
        if getattr(body, "section", "") == "Q":
            raise LogError("there is no section Q; known: A")
        return body.model_copy(update={"layer": "top"}) if body.kind == "placement" else body

    sheet = "kind,at,end,section,layer,area_ft2\nplacement,2026-06-08 7:00,2026-06-08 9:00,A,2,90\n"
    assert take(log, sheet, settle=settle).new
    assert take(log, sheet, settle=settle) == ex.Import(known=1)
    bad = sheet.replace(",A,", ",Q,")
    assert fault(log, bad, settle=settle) == "here: line 2: there is no section Q; known: A"


@pytest.mark.parametrize("us", [False, True])
@pytest.mark.parametrize("kind", [k for k in KINDS if k not in {"opening", "repair"}])
def test_a_template_can_be_filled_in(kind, us):
    names = ex.template_csv(kind, us=us).strip().split(",")
    assert names[:2] == ["kind", "at"]
    fields = {CONVERTED.get(name, (name,))[0] for name in names}
    left = {n for n in FIELDS[kind] if n.startswith("beside_")} | {"photos", "flags"}
    assert fields == set(FIELDS[kind]) - left | {"kind", "author", "corrects"}
    assert ("air_temp_f" in names) == (us and kind == "reading")
    assert ("moisture_pct" in names) == (kind == "moisture")
    assert ex.read_entries(ex.template_csv(kind, us=us).encode(), "here") == []


def test_a_template_of_no_kind():
    with pytest.raises(LogError, match="'repair' is no kind to fill in; did you mean"):
        ex.template_csv("repair")


NOTE = "kind,at,note,section\n"
READ = "kind,at,air_temp_f,rel_humidity_pct\n"
PLACE = "kind,at,end,section,layer,area_ft2\n"


@pytest.mark.parametrize(
    ("told", "sentence"),
    [
        ("", "the file is empty; give an export of a log, or a filled template"),
        ("kind,at,nots\nnote,2026-06-08 10:00,x\n",
         "line 1: column 'nots' is not known; did you mean 'note'? take the columns of "
         "an export or "
         "of a template, and delete others"),
        ("kind,at,air_temp_c,air_temp_f\n",
         "line 1: columns 'air_temp_c' and 'air_temp_f' are the same in two units; delete one"),
        ("kind,at,note,note\n", "line 1: column 'note' is there twice; delete one"),
        (NOTE + "note,2026-06-08 10:00,a,b,c\n",
         "line 2: 'c' stands in column 5, which has no name; name the column, or put a text with a "
         "delimiter in quotation marks"),
        (NOTE + ",2026-06-08 10:00,x,\n",
         "line 2: kind is missing; fill it in, or name the kind of all such rows"),
        (NOTE + "notes,2026-06-08 10:00,x,\n", "line 2: kind is 'notes'; did you mean 'note'? "),
        (NOTE + "note,,x,\n", "line 2: at is missing; fill it in"),
        (NOTE + "note,2026-06-08,x,\n", "line 2: at: '2026-06-08' is not a time; write it as "),
        (NOTE + "note,13/6/2026 10:00,x,\n",
         "line 2: at: '13/6/2026 10:00' is not a time; write it as 2026-06-08 10:00, or "
         "month first "
         "as 6/8/2026 10:00"),
        (NOTE + "note,2026-03-08 02:30,x,\n",
         "line 2: at: 2026-03-08 02:30 does not exist: clocks go forward then; write a later hour"),
        (NOTE + "note,11/1/2026 1:30,x,\n", "comes twice, since clocks go back then"),
        (NOTE + "note,2026-06-08 10:00,,\n",
         "line 2: a note is empty; give words or a photo"),
        (READ + 'reading,2026-06-08 10:00,"1,077",55\n',
         "line 2: air_temp_f: '1,077' has a comma; write the number plain, as 2400 or 18.5"),
        (READ + "reading,2026-06-08 10:00,77 F,55\n",
         "line 2: air_temp_f: '77 F' is more than a number; write the number alone, its unit is in "
         "the column's name"),
        (READ + "reading,2026-06-08 10:00,warm,55\n",
         "line 2: air_temp_f: 'warm' is not a number; mend it, or leave the cell empty"),
        (READ + "reading,2026-06-08 10:00,1e999,55\n",
         "line 2: air_temp_f: '1e999' is not a number that can be; mend it"),
        (READ + "reading,2026-06-08 10:00,182,55\n",
         "line 2: air_temp_f must be at most 140 degF, but is 182; mend it"),
        (READ + "reading,2026-06-08 10:00,77,155\n",
         "line 2: rel_humidity_pct: '155' is not a percentage from 0 to 100; mend it"),
        (READ + "reading,2026-06-08 10:00,,\n",
         "line 2: it has no value; give what was read, as the air temperature"),
        (READ + "note,2026-06-08 10:00,77,\n",
         "line 2: air_temp_f is '77', but a note has no such column; clear the cell, or mend the "
         "kind"),
        (PLACE + "placement,2026-06-08 10:00,2026-06-08 09:00,A,top,5\n",
         "line 2: it ends at 2026-06-08T13:00Z, not after its start at 2026-06-08T14:00Z; mend"),
        (PLACE + "placement,2026-06-08 10:00,2026-06-08 11:00,,top,5\n",
         "line 2: section is missing; fill it in"),
        (PLACE + "placement,2026-06-08 10:00,2026-06-08 11:00,A,top,0\n",
         "line 2: area_ft2 must be above 0 ft2, but is 0; mend it"),
        ("kind,at,note,number\nnote,2026-06-08 10:00,x,3\n",
         "line 2: it has a number and no hash; leave both as they were exported, or "
         "clear both for a "
         "new entry"),
        ("kind,at,note,written\nnote,2026-06-08 10:00,x,2026-06-08T10:00:00Z\n",
         "line 2: written of a new entry is set when it is written; clear the cell"),
        ("kind,at,note\nwithdrawal,2026-06-08 10:00,x\n",
         "line 2: a withdrawal takes an entry back; write its number under corrects"),
        ("kind,at,note,corrects\nnote,2026-06-08 10:00,x,9\n",
         "line 2: there is no entry 9 to correct; the last one is 4"),
        ("kind,at,note,corrects\nnote,2026-06-08 10:00,x,3\n",
         "line 2: entry 3 is of kind reading, not note; mend corrects or the kind"),
        ("kind,at,note,corrects\nnote,2026-06-08 10:00,x,1\n",
         "line 2: entry 1 is of kind opening, which nobody corrects or withdraws"),
        ("kind,at,note,corrects\n" + "withdrawal,2026-06-08 10:00,x,4\n" * 2,
         "line 3: entry 4 is corrected twice in the file; keep one of the rows"),
        ("kind,at,log,site,zone\nopening,2026-06-08 10:00,x,y,UTC\n",
         "line 2: an entry of kind opening is not written by hand; delete the row"),
        (NOTE + 'note,2026-06-08 10:00,"x,\n',
         "line 2 has a quotation mark that does not close, or text after one; double a "
         "quotation mark "
         "inside a cell"),
        (NOTE + "note,2026-06-08 10:00,a\x07b,\n",
         "line 2: note: 'a\\x07b' has control characters"),
        (NOTE + f"note,2026-06-08 10:00,x,{'A' * 201}\n", "has 201 letters, and 200 are the most"),
        ("kind,at,section,layer,area_ft2,end,wet_film_mil\n"
         "placement,2026-06-08 10:00,A,top,5,2026-06-08 11:00,24 @ a | x @ b\n",
         "line 2: wet_film_mil: 'x' is not a number; mend it, or leave the cell empty"),
        ("kind,at,section,layer,area_ft2,end,wet_film_mil\n"
         "placement,2026-06-08 10:00,A,top,5,2026-06-08 11:00,24 @ a | 0 @ b\n",
         "line 2: wet_film_mil 2 film_um must be above 0 mil, but is 0; mend it"),
        ("kind,at,passes,method\nadhesion,2026-06-08 10:00,maybe,tape\n",
         "line 2: passes: 'maybe' is neither yes nor no; write one of them"),
        ("kind,at,serial,what,due\ninstrument,2026-06-08 10:00,1,gauge,20/7/2026\n",
         "line 2: due: '20/7/2026' is not a date; write it as 2026-07-03, or month first "
         "as 7/3/2026"),
        ("kind,at,note,photos\nnote,2026-06-08 10:00,x,roof.jpg\n",
         "line 2: photos: 'roof.jpg' is not a photo; write its file, SHA-256 and length "
         "in bytes with "
         "spaces between, or leave the cell empty"),
        (NOTE + "note,2026-06-08 10:00,x,\nnote,,y,\nnote,,z,\nnote,,w,\n",
         "line 3: at is missing; fill it in (2 more rows have a fault)"),
        (NOTE + 'note,2026-06-08 10:00,"two\nlines",\nnote,never,x,\n',
         "line 4: at: 'never' is not a"),
        ('{"format": "dewgap-log", "version": 1, "entries": [}', "line 1 is not valid JSON ("),
        ('{"format": "dewgap-log", "version": 1, "entries": [NaN]}', "NaN is no value of JSON"),
        ('{"format": "dewgap-log", "format": "x"}', "a key is there twice"),
        ("[" * 100_000, "not valid JSON"),
        ('{"format": "dewgap-board", "version": 1, "entries": []}',
         'not the export of a log, which has "format": "dewgap-log" and "entries"; give '
         'another file'),
        ('{"format": "dewgap-log", "version": 2, "entries": []}',
         "it is version '2' of the form of a log, and this program reads 1; use the program that "
         "wrote it, or a newer one"),
        ('{"format": "dewgap-log", "version": 1, "entries": [7]}',
         'entry 1 of the file is no entry with a "body"; use the export as it was written'),
        ('{"format": "dewgap-log", "version": 1, "entries": [{"body": {}, "knd": 1}]}',
         "entry 1 of the file: key 'knd' is not known; did you mean 'kind'? known: "),
        ('{"format": "dewgap-log", "version": 1, "entries": [{"body": {"at": '
         '"2026-06-08T10:00:00Z", "not": "x"}, "kind": "note"}]}',
         "entry 1 of the file: key 'not' is not known; did you mean 'note'? known: "),
        ("PAR1 and nothing more", "the Parquet file is damaged; use the export as it was written"),
    ],
)  # fmt: skip
def test_what_is_refused_is_told_in_one_sentence(full, told, sentence):
    assert fault(full, told).startswith(f"here: {sentence}") or sentence in fault(full, told)


def test_texts_that_are_not_utf_8(full):
    told = (NOTE + "note,2026-06-08 10:00,caf\xe9,\n").encode("latin-1")
    assert fault(full, told) == (
        "here: line 2 is not UTF-8 text; save the file as UTF-8 (in a spreadsheet 'CSV UTF-8')"
    )


def test_nobody_who_writes(log):
    assert "author is missing" in fault(log, NOTE + "note,2026-06-08 10:00,x,\n", author="")


def test_a_kind_for_rows_that_name_none(log):
    assert len(take(log, "at,note\n2026-06-08 10:00,x\n", kind="note").new) == 1


def test_a_long_cell_is_refused_at_once(log):
    assert "letters" in fault(log, NOTE + f"note,2026-06-08 10:00,{'x' * 10**6},\n")
    assert "characters; no entry is so long" in fault(log, NOTE + f"note,{'x' * 9 * 10**6}\n")
    assert csv.field_size_limit() == 131072
    assert "is not a number" in fault(log, READ + f"reading,2026-06-08 10:00,{'7' * 10**6},\n")


def test_columns_without_end_are_refused_at_once(log):
    assert "is not known" in fault(log, ",".join(f"c{n}" for n in range(200_000)) + "\n")


# --------------------------------------------------------------------------------- edited exports


def test_an_edited_export_is_refused_or_becomes_a_correction(full):
    told = edited(ex.log_csv(full.entries()), 2, area_m2="450", batches="A1")
    assert fault(full, told) == (
        "here: line 3: entry 2 was changed after it was exported: area_m2 was '400' and is '450', "
        "batches too; allow corrections to write it as one, or put it back"
    )
    plan = take(full, told, correct=True)
    assert (plan.known, plan.adopt, plan.new) == (3, (), ())
    assert [(number, draft.author) for number, draft in plan.changed] == [(2, "Cy")]
    last = full.get(5)
    assert (last.corrects, last.author, last.body.area_m2) == (2, "Cy", 450.0)
    assert last.body.batches == ("A1",)
    assert last.body.wet_film == full.get(2).body.wet_film
    assert take(full, told, correct=True) == ex.Import(known=4)  # not once more
    other = edited(told, 2, area_m2="460")
    assert fault(full, other, correct=True) == (
        "here: line 3: entry 2 was corrected by entry 5 since; correct that one, or export anew"
    )
    full.append([cases.withdrawal(5)])
    assert "entry 2 was withdrawn by entry 6 since; write a new entry" in fault(
        full, other, correct=True
    )
    assert verify(full).ok


def test_json_that_somebody_edited(full):
    told = json.loads(ex.log_json(full.entries()))
    told["entries"][2]["body"]["air_temp_c"] = 19
    sentence = fault(full, json.dumps(told))
    assert sentence.startswith("here: entry 3 of the file: entry 3 was changed after it was export")
    assert "air_temp_c was '18.333333333333332' and is '19'" in sentence
    take(full, json.dumps(told), correct=True)
    assert full.get(5).body.air_temp_c == 19


def test_numbers_that_a_spreadsheet_cut_are_the_same(full):
    told = edited(ex.log_csv(full.entries()), 3, air_temp_c="18.33333333")
    assert take(full, told) == ex.Import(known=4)
    both = edited(told, 3, section="B")
    take(full, both, correct=True)
    assert full.get(5).body.air_temp_c == 18.333333333333332
    assert full.get(5).body.section == "B"


@pytest.mark.parametrize(
    ("number", "cells", "sentence"),
    [
        (2, {"author": "Eve"}, "entry 2 was changed where nothing can be corrected: author was "
                               "'Ann' and is 'Eve'; put it back as it was exported"),
        (2, {"written": "2026-06-08T20:00:01Z"}, "where nothing can be corrected: written was"),
        (4, {"corrects": "2"}, "where nothing can be corrected: corrects was empty and is '2'"),
        (4, {"previous": "0" * 64}, "where nothing can be corrected: previous was"),
        (4, {"hash": "0" * 64}, "entry 4 has another hash than entry 4 of the log; the file is of "
                                "another log: import it into a log of its own"),
        (4, {"hash": "x"}, "hash is 'x'; put it back as it was exported: 64 digits of 0-9 and a-f"),
        (4, {"hash": None}, "it has a number and no hash"),
        (4, {"written": "yesterday"}, "written is 'yesterday'; put it back as it was exported,"),
        (4, {"author": None}, "author is missing; put it back as it was exported"),
        (4, {"number": "3"}, "entry 3 is in the file twice; delete the row, or clear number"),
        (4, {"number": "-1"}, "number is '-1', not the number of an entry; mend it"),
        (4, {"number": "9"}, "entry 9 was changed after it was exported, and the log does not have "
                             "it yet; use the export as it was written, and correct it then"),
        (1, {"site": "Other"}, "entry 1 is of kind opening, which nobody corrects or withdraws"),
    ],
)  # fmt: skip
def test_what_no_correction_can_change(full, number, cells, sentence):
    fault(full, edited(ex.log_csv(full.entries()), number, **cells), sentence, correct=True)


def test_all_or_nothing(full, tmp_path):
    told = ex.log_csv(full.entries())
    with begin_log(tmp_path / "new") as new:
        bad = edited(edited(told, 3, air_temp_c="cold"), 4, at="never")
        assert fault(new, bad).endswith("leave the cell empty (1 more row has a fault)")
        gap = "".join(line for line in told.splitlines(True) if not line.startswith("3,"))
        fault(new, gap, "entry 4 does not follow entry 2 of the log, for 3 is missing; take an "
              "export of all entries")  # fmt: skip
        fault(new, edited(told, 4, note="wet"), "entry 4 was changed after it was exported, and")
        take(new, told)
        assert new.head == full.head
    opening = cases.OPENING.model_copy(update={"log": "x"})
    with create_log(tmp_path / "other", opening, "A") as other:
        other.append([Draft("A", Note(at=cases.START, note="x"))])
        fault(other, told, "entry 1 has another hash than entry 1 of the log; the file is")
        rest = "".join(told.splitlines(True)[:1] + told.splitlines(True)[3:])
        fault(other, rest, "entry 3 was bound to another entry 2 than the log has; the file is of")


@pytest.mark.parametrize("form", FORMS)
def test_a_log_that_was_repaired_makes_the_same_log(tmp_path, form):
    notes = [Note(at=cases.START, note=f"{n}") for n in range(6)]
    entries = entries_of(*notes)
    left = entries[:2] + entries[4:]
    repair = Repair(at=cases.START, missing=((3, 4),), source_sha256="0" * 64)
    left.append(linked(Draft("Ann", repair), 8, WRITTEN, left[-1].hash))
    with begin_log(tmp_path / "new") as log:
        take(log, content(left, form))
        assert list(log.entries()) == left
        assert verify(log).ok
        assert take(log, content(left, form)) == ex.Import(known=6)
        fault(log, content(entries, form), "entry 3 is one that the log has lost and declares so")
    with begin_log(tmp_path / "other") as log:
        fault(log, content(left[:-1], form), "entry 5 does not follow entry 2 of the log, for 3")


def test_signs_that_would_rule_a_screen_are_told_by_their_names(log):
    assert "'no\\x1bte'" in fault(log, "kind,no\x1bte\n")
    assert "'\\u202enote'" in fault(log, "kind,at\n\u202enote,2026-06-08 10:00\n")


def test_rows_in_any_order_with_new_ones_among_them(full, tmp_path):
    lines = ex.log_csv(full.entries()).splitlines(True)
    names = lines[0].strip().split(",")
    new = {"kind": "withdrawal", "at": "2026-06-08 20:00", "corrects": "4", "note": "wrong"}
    row = ",".join(new.get(name, "") for name in names) + "\n"
    told = "".join([lines[0], row, *reversed(lines[1:])])
    with begin_log(tmp_path / "new") as other:
        plan = take(other, told)
        assert (len(plan.adopt), len(plan.new)) == (4, 1)
        assert other.get(4) == full.get(4)
        assert (other.get(5).corrects, other.get(5).author) == (4, "Cy")
        assert verify(other).ok
        assert take(other, told) == ex.Import(known=5)


# ------------------------------------------------------------------------------------- any bytes


def attempt(log, told):
    """Take any bytes in or get one sentence; the log is whole either way."""
    before, refused = log.head, None
    try:
        take(log, told, kind="note", correct=True)
    except (LogError, HoursError) as caught:
        refused = str(caught)
    if refused is not None:
        assert refused.startswith("here: ")
        assert "\n" not in refused
        assert log.head == before
    assert verify(log).ok


@settings(max_examples=examples(40), deadline=None)
@given(told=st.binary(max_size=60) | st.text(max_size=60).map(str.encode)
       | st.binary(max_size=60).map(lambda more: b"PAR1" + more)
       | st.text('{}[]":,0aé\n', max_size=40).map(lambda more: ("{" + more).encode()))  # fmt: skip
def test_any_bytes_are_taken_or_refused_in_a_sentence(told, tmp_path_factory):
    with begin_log(tmp_path_factory.mktemp("any") / "log") as log:
        attempt(log, told)


@settings(max_examples=examples(50), deadline=None)
@given(st.sampled_from(list(FORMS)), st.data())
def test_damaged_exports_are_taken_or_refused_in_a_sentence(tmp_path_factory, form, data):
    entries = entries_of(
        cases.placement(batches=("a", "b"), note='"'), cases.reading(),
        Note(at=cases.START, note="="),
    )  # fmt: skip
    told = content(entries, form)
    at = data.draw(st.integers(0, len(told)))
    how = data.draw(st.sampled_from(("cut", "flip", "drop", "double")))
    piece = told[at : at + data.draw(st.integers(1, 40))]
    other = data.draw(st.binary(min_size=1, max_size=3))
    told = {
        "cut": told[:at], "flip": told[:at] + other + told[at + len(other) :],
        "drop": told[:at] + told[at + len(piece) :], "double": told[:at] + piece + told[at:],
    }[how]  # fmt: skip
    with begin_log(tmp_path_factory.mktemp("damaged") / "log") as log:
        attempt(log, told)
        kept = list(log.entries())
        assert [e for e in kept if e.author == "Ann"] == entries[: len(kept)]


# ---------------------------------------------------------------------------------- a data logger


def mapping(**columns):
    given = {
        "air_temp_c": {"column": "t", "unit": "degF"},
        "rel_humidity": {"column": "rh", "unit": "%"},
        "rain_mm": {"column": "r", "unit": "mm", "rain": "increment"},
    }  # fmt: skip
    table = {"time": "time", "timezone": "America/New_York", "label": "start", "every": "15 min",
             "columns": given | columns}  # fmt: skip
    return LoggerMapping.model_validate(table)


LOGGED = b"time,t,rh,r\n2026-06-08 10:00,77,101,0\n2026-06-08 10:15,,,0\n2026-06-08 10:30,,55.5,0\n"


def test_readings_of_a_logger():
    found = logger_readings(LOGGED, mapping(), "here", instrument=" SN-7 ")
    first, second = found.readings
    assert first == Reading(
        at="2026-06-08T14:15:00Z", air_temp_c=25.0, rel_humidity=1.0, instruments=("SN-7",),
        occasion="logger",
    )  # fmt: skip
    assert (second.at.hour, second.at.minute, second.air_temp_c) == (14, 45, None)
    assert second.rel_humidity == 0.555
    assert found.empty == 1
    assert found.notes == ("1 of 3 rows have nothing to read and are passed over",)


def test_a_label_at_the_end_is_the_end():
    ends = mapping().model_copy(update={"label": "end"})
    assert logger_readings(LOGGED, ends, "here").readings[0].at == datetime(
        2026, 6, 8, 14, tzinfo=UTC
    )
    assert logger_readings(LOGGED, ends, "here").readings[0].instruments == ()


def test_few_impossible_values_are_unknown_and_many_are_a_wrong_unit():
    rows = [f"2026-06-08 {n // 4:02}:{n % 4 * 15:02},70,50,0" for n in range(40)]
    rows[3] = rows[3].replace(",70,", ",-999,")
    told = "\n".join(["time,t,rh,r", *rows]).encode()
    found = logger_readings(told, mapping(), "here")
    assert found.readings[3].air_temp_c is None
    assert found.notes[0].startswith("air_temp_c of -572.778 degC at 2026-06-08 05:00 UTC is not")
    with pytest.raises(HoursError) as caught:
        logger_readings(told.replace(b",70,", b",200,"), mapping(), "here")
    assert str(caught.value) == (
        "here: air_temp_c of 93.3333 degC at 2026-06-08 04:15 UTC is not possible (40 "
        "such rows): it "
        "runs from -60 to 57 degC; check its unit in the mapping, and list under 'missing' what "
        "stands for no value"
    )


@pytest.mark.parametrize(
    ("told", "columns", "instrument", "sentence"),
    [
        (b"", {}, "", "there are no rows below the header"),
        (LOGGED.replace(b"77", b"warm"), {}, "", "row 1: 't' is 'warm', not a number"),
        (LOGGED, {}, "a\nb", "'a\\nb' is no serial number; give it on one line"),
        (LOGGED, {"cloud": {"column": "sky", "unit": "%"}}, "", "there is no column 'sky'"),
    ],
)
def test_a_logger_that_cannot_be_read(told, columns, instrument, sentence):
    with pytest.raises(HoursError) as caught:
        logger_readings(told, mapping(**columns), "here", instrument=instrument)
    assert str(caught.value).startswith("here: ")
    assert sentence in str(caught.value)


def test_a_mapping_without_readings():
    rain = mapping().model_copy(
        update={"columns": {"rain_mm": mapping().columns["rain_mm"]}}
    )
    with pytest.raises(HoursError, match="none of the columns of a reading; map one of air_temp_c"):
        logger_readings(LOGGED, rain, "here")


def test_a_placement_of_many_films_goes_through_a_table():
    films = tuple(WetFilm(film_um=n + 1, where="x" * 150) for n in range(3000))
    entries = entries_of(cases.placement(wet_film=films))
    assert back(content(entries, "csv")) == entries
    assert isinstance(entries[1].body, Placement)
