"""The file of a field log: what it takes and refuses, and that no change in it goes unseen."""

import os
import random
import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import pytest
from how_many import examples
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from log_cases import (
    OPENING,
    START,
    change,
    create_log,
    draft,
    filled,
    hours,
    placement,
    reading,
    withdrawal,
)

from windows.errors import LogError
from windows.log import file, schema
from windows.log.chain import FIRST, digest, is_whole, linked
from windows.log.entries import Draft, Note, Rain, Reading, Repair, Withdrawal, standing
from windows.log.proof import verify
from windows.log.rows import as_entry, as_row
from windows.log.rules import name_of
from windows.log.store import begin_log, open_log

COLUMNS = (
    "number", "kind", "at", '"end"', "written", "author", "corrects", "body", "previous", "hash",
)  # fmt: skip


def stock(name, lines):
    """Return a path to a copy of a closed log that is made once."""

    @pytest.fixture(scope="session", name=name)
    def made(tmp_path_factory):
        path = tmp_path_factory.mktemp("log") / "field.log"
        filled(path, lines).close()
        return path

    return made


forty = stock("forty", 40)


@pytest.fixture
def log(tmp_path):
    with create_log(tmp_path / "field.log", OPENING, "A. Roofer") as made:
        yield made


@pytest.fixture
def full(tmp_path, forty):
    """Return a path to a log of forty entries that may be changed."""
    return Path(shutil.copy(forty, tmp_path / "field.log"))


def begin(path):
    with begin_log(path):
        pass


def sentence(call, *given, **named):
    """Return the one sentence with which a call is refused."""
    with pytest.raises(LogError) as refused:
        call(*given, **named)
    assert "\n" not in str(refused.value)
    return str(refused.value)


def test_what_is_written_is_read_back(full):
    with open_log(full) as log:
        new = log.append([Draft("Zoë", reading(9)), Draft("Zoë", placement(10))])
        entries = list(log.entries())
        assert entries[-2:] == list(new)
        assert [e.number for e in entries] == list(range(1, 43))
        assert [e.previous for e in entries] == [FIRST, *(e.hash for e in entries[:-1])]
        assert all(is_whole(e) for e in entries)
        assert log.head == (42, new[-1].hash)
        assert [log.get(k) for k in (0, 43, -1, 2**70)] == [None] * 4
        assert log.get(41) == new[0]
    with open_log(full) as log:
        assert list(log.entries()) == entries
        assert verify(log, new[-1].hash.upper()[:12]).ok


def test_an_empty_list_writes_nothing(log):
    assert log.append([]) == ()
    assert log.head[0] == 1


def test_written_is_now_or_as_given_to_the_second(log):
    before = datetime.now(UTC).replace(microsecond=0)
    (now,) = log.append([Draft("me", reading())])
    assert before <= now.written <= datetime.now(UTC)
    moment = datetime(2026, 6, 8, 9, 30, 15, 700_000, tzinfo=timezone(timedelta(hours=-4)))
    (given,) = log.append([Draft("me", reading())], written=moment)
    assert given.written == datetime(2026, 6, 8, 13, 30, 15, tzinfo=UTC)
    assert "with an offset" in sentence(
        log.append, [Draft("me", reading())], written=datetime(2026, 6, 8)
    )


@given(text=st.text(max_size=60), author=st.text(min_size=1, max_size=40),
       value=st.floats(-60, 60), number=st.integers(1, 2**53 - 1))  # fmt: skip
@settings(max_examples=examples(150), deadline=None, derandomize=True)
def test_the_hash_of_a_row_is_that_of_its_entry(text, author, value, number):
    try:
        body = reading(air_temp_c=value, note=text)
        author = name_of(author, Path("x"))
    except (ValueError, LogError):
        return
    entry = linked(Draft(author, body, None if number % 2 else number - 1), number, START, "a" * 64)
    assert as_entry(as_row(entry)) == entry
    assert entry.hash == digest(entry)


@pytest.mark.parametrize(
    ("draft", "why"),
    [
        (Draft("me", OPENING), "no later one"),
        (Draft("me", Withdrawal(at=START, note="no")), "name its number"),
        (Draft("me", reading(), 99), "no entry 99 to correct; the last one is"),
        (Draft("me", reading(), 2**70), "no entry"),
        (Draft("me", reading(), -1), "no entry"),
        (Draft("me", OPENING, 1), "no later one"),
        (Draft("me", reading(), 1), "neither corrected nor withdrawn"),
        (withdrawal(1), "neither corrected nor withdrawn"),
        (withdrawal(6), "neither corrected nor withdrawn"),
        (Draft("me", Repair(at=START, source_sha256="0" * 64), 7), "neither corrected nor"),
        (Draft("me", placement(), 2), "entry 2 is of kind reading, not placement"),
        (Draft("me", reading(), 3), "entry 3 was corrected by 4; correct 4"),
        (withdrawal(3), "entry 3 was corrected by 4; correct 4"),
        (Draft("me", reading(), 5), "entry 5 was withdrawn by 6; write a new entry"),
        (withdrawal(5), "entry 5 was withdrawn by 6; write a new entry"),
        (Draft("", reading()), "not a name on one line"),
        (Draft("   ", reading()), "not a name on one line"),
        (Draft("a\nb", reading()), "not a name on one line"),
        (Draft("x" * 201, reading()), "not a name on one line"),
        (Draft(None, reading()), "not a name on one line"),
        (Draft("me", reading().model_copy(update={"note": "x" * 10_001})), "read back"),
        (Draft("me", reading().model_copy(update={"section": "\ud800"})), "read back"),
        (Draft("me", reading().model_copy(update={"wind_m_s": float("nan")})), "read back"),
    ],
)
def test_rules(log, draft, why):
    log.append([Draft("me", reading()), Draft("me", reading())])
    log.append([Draft("me", reading(), 3), Draft("me", placement())])
    log.append([withdrawal(5), Draft("me", Repair(at=START, source_sha256="0" * 64))])
    head = log.head
    assert head[0] == 7
    assert why in sentence(log.append, [Draft("me", reading(1)), draft, Draft("me", reading(2))])
    assert log.head == head
    assert verify(log).ok
    log.append([Draft("me", reading(), 2), Draft("me", reading(), 4)])
    assert log.head[0] == 9


def test_the_first_entry_is_an_opening(tmp_path):
    with begin_log(tmp_path / "new.log") as log:
        assert log.head == (0, FIRST)
        assert verify(log).notes == ("the log has no entries",)
        assert "must be an opening" in sentence(log.append, [Draft("me", reading())])
        log.append([Draft("me", OPENING), Draft("me", reading())])
        assert verify(log).ok


def test_a_correction_of_one_in_the_same_batch(log):
    log.append([Draft("me", reading()), Draft("me", reading(), 2), Draft("me", reading(), 3)])
    assert (log.latest(2), log.latest(3), log.latest(4)) == (4, 4, 4)
    assert "no entry 9" in sentence(log.latest, 9)


def test_latest_follows_corrections_and_withdrawals(full):
    with open_log(full) as log:
        entries = list(log.entries())
        assert any(e.corrects for e in entries)
        for entry in entries:
            last = entry
            while after := [e for e in entries if e.corrects == last.number]:
                (last,) = after
            assert log.latest(entry.number) == last.number


half_hours = st.none() | st.builds(
    lambda k, more: START + timedelta(minutes=30 * k, microseconds=more),
    st.integers(-2, 90), st.sampled_from([-1, 0, 0, 1]),
)  # fmt: skip


@settings(max_examples=examples(80), deadline=None, derandomize=True)
@given(
    st.sets(st.sampled_from(["reading", "placement", "rain", "note", "opening"])),
    st.integers(0, 45), half_hours, half_hours,
)  # fmt: skip
def test_filters_are_those_of_a_plain_loop(forty, kinds, after, first, last):
    with open_log(forty) as log:
        expected = [
            e for e in log.entries()
            if (not kinds or e.kind in kinds) and e.number > after
            and (first is None or (getattr(e.body, "end", None) or e.at) >= first)
            and (last is None or e.at <= last)
        ]  # fmt: skip
        assert list(log.entries(*kinds, after=after, start=first, end=last)) == expected


def test_standing_entries(forty):
    with open_log(forty) as log:
        found = list(log.entries(standing=True))
        assert sorted(found, key=lambda e: (e.at, e.number)) == standing(log.entries())


def test_bad_filters(log):
    assert "no kind" in sentence(log.entries, "readin")
    assert "offset" in sentence(log.entries, start=datetime(2026, 6, 8))
    assert list(log.entries(after=2**80)) == []


def test_reading_goes_on_while_others_write(log, tmp_path):
    log.append([Draft("me", reading(k)) for k in range(2500)])
    with open_log(log.path) as other:
        found = []
        for entry in log.entries():
            found.append(entry.number)
            if entry.number % 500 == 0:
                other.append([Draft("other", reading())])
                log.append([Draft("me", reading())])
    assert found == list(range(1, 2502))


def test_an_export_comes_back(full, tmp_path):
    with open_log(full) as log, begin_log(tmp_path / "copy.log") as copy:
        entries = list(log.entries())
        copy.adopt(entries[:17])
        copy.adopt([])
        copy.adopt(entries[17:])
        assert list(copy.entries()) == entries
        assert verify(copy) == verify(log)


@pytest.mark.parametrize("wrong", ["left out", "twice", "turned", "changed", "late", "foreign"])
def test_an_export_that_does_not_follow_is_refused(full, tmp_path, wrong):
    with open_log(full) as log, begin_log(tmp_path / "copy.log") as copy:
        entries = list(log.entries())
        given = {
            "left out": entries[:9] + entries[10:],
            "twice": [*entries[:9], entries[8], *entries[9:]],
            "turned": [*entries[:9], entries[10], entries[9], *entries[11:]],
            "changed": [*entries[:9], replace(entries[9], author="X"), *entries[10:]],
            "late": entries[5:],
            "foreign": [linked(Draft("me", reading()), 1, START, FIRST)],
        }[wrong]
        assert "nothing was taken" in sentence(copy.adopt, given)
        assert copy.head == (0, FIRST)
        copy.adopt(entries[:9])
        assert "nothing was taken" in sentence(copy.adopt, [*entries[9:20], entries[25]])
        assert copy.head[0] == 9


def test_an_export_with_a_declared_hole_is_taken(full, tmp_path):
    with open_log(full) as log, begin_log(tmp_path / "copy.log") as copy:
        entries = list(log.entries())
        rest = entries[:9] + entries[12:]
        tell = Draft("me", Repair(at=START, missing=((10, 12),), source_sha256="0" * 64))
        given = [*rest, linked(tell, 41, START, entries[-1].hash)]
        wrong = Draft("me", Repair(at=START, missing=((10, 11),), source_sha256="0" * 64))
        sentence(copy.adopt, [*rest, linked(wrong, 41, START, entries[-1].hash)])
        copy.adopt(given)
        found = verify(copy)
        assert found.ok
        assert found.missing == ((10, 12),)
        assert "entries 10 to 12 are lost, as entry 41 declares" in found.notes
        copy.append([Draft("me", reading())])


def test_a_repair_follows_the_last_entry_that_was_left(full, tmp_path):
    """Its own hole lies before it, so that nothing else binds it."""
    tell = Draft("me", Repair(at=START, missing=((41, 45),), source_sha256="0" * 64))
    with open_log(full) as log:
        entries = list(log.entries())
    for k, (before, is_right) in enumerate([(entries[-1].hash, True), (entries[-2].hash, False)]):
        with begin_log(tmp_path / f"{k}.log") as log:
            log.insert_rows([as_row(e) for e in [*entries, linked(tell, 46, START, before)]])
            found = verify(log)
            assert found.missing == ((41, 45),)
            assert found.ok == is_right
            if not is_right:
                assert found.faults == ("entry 46 does not continue entry 40 as it stands",)
    # A later entry cannot be bound to what is lost, and is taken.
    with begin_log(tmp_path / "late.log") as log:
        tell = Draft("me", Repair(at=START, missing=((2, 3),), source_sha256="0" * 64))
        log.insert_rows([as_row(e) for e in [entries[0], *entries[3:]]])
        assert "entries 2 to 3 are missing" in verify(log).faults
        log.append([tell])
        assert verify(log).faults == ()


def test_files_that_are_no_log(tmp_path, log):
    assert "is a folder" in sentence(open_log, tmp_path)
    assert "there is no log yet" in sentence(open_log, tmp_path / "none.log")
    assert "there is no log yet" in sentence(open_log, tmp_path / "a\0b")
    assert "there is no log yet" in sentence(open_log, log.path / "x")
    (tmp_path / "empty").touch()
    assert "is empty" in sentence(open_log, tmp_path / "empty")
    for content in (b"x", b"hello" * 2000, bytes(5000), b"SQLite format 3\0" + bytes(3000)):
        (tmp_path / "text").write_bytes(content)
        for read_only in (False, True):
            told = sentence(open_log, tmp_path / "text", read_only=read_only)
            assert "field log" in told or "damaged" in told
    with closing(sqlite3.connect(tmp_path / "other.db")) as db:
        db.execute("CREATE TABLE entry (number)")
        db.commit()
    assert "another database" in sentence(open_log, tmp_path / "other.db")
    assert "exists already" in sentence(create_log, log.path, OPENING, "me")
    assert "exists already" in sentence(begin, tmp_path)
    assert "cannot be written" in sentence(begin, tmp_path / "none" / "x.log")
    assert "not a name" in sentence(create_log, tmp_path / "y.log", OPENING, "")
    assert sorted(p.name for p in tmp_path.iterdir() if "field" not in p.name) == [
        "empty", "other.db", "text",
    ]  # fmt: skip


def test_a_newer_file(full):
    change(full, "PRAGMA user_version = 3")
    for read_only in (False, True):
        told = sentence(open_log, full, read_only=read_only)
        assert "by a newer version of dewgap (format 3, this one knows 1); update dewgap" in told


def test_an_older_file_is_brought_up_to_date(full, monkeypatch):
    more = "CREATE TABLE more (\n  x TEXT\n);\nPRAGMA user_version = 2;\n"
    monkeypatch.setattr(schema, "FORMAT", 2)
    monkeypatch.setattr(schema, "_MIGRATIONS", (*schema._MIGRATIONS, more + "nonsense;\n"))
    assert "older version" in sentence(open_log, full, read_only=True)
    sentence(open_log, full)
    with closing(sqlite3.connect(full)) as db:
        assert db.execute("PRAGMA user_version").fetchone() == (1,)
        assert not db.execute("SELECT 1 FROM sqlite_master WHERE name = 'more'").fetchall()
    monkeypatch.setattr(schema, "_MIGRATIONS", (*schema._MIGRATIONS[:1], more))
    with open_log(full) as log:
        assert verify(log).ok
        log.append([Draft("me", reading())])
    with open_log(full, read_only=True) as log:
        assert log.head[0] == 41


def test_the_format_of_the_file(full):
    head = full.read_bytes()[:100]
    assert head[16:18] == (4096).to_bytes(2, "big")
    assert (head[18], head[19]) == (2, 2)
    assert head[60:64] == (1).to_bytes(4, "big")
    assert head[68:72] == b"DewG"
    with open_log(full) as log:
        told = {name: log._db.execute(f"PRAGMA {name}").fetchone()[0]
                for name in ("foreign_keys", "synchronous", "journal_mode")}  # fmt: skip
        assert told == {"foreign_keys": 1, "synchronous": 2, "journal_mode": "wal"}
        log.adopt([])
        sentence(log.adopt, list(log.entries()))
        assert log._db.execute("PRAGMA foreign_keys").fetchone() == (1,)


@pytest.mark.parametrize(
    "sql",
    [
        "UPDATE entry SET author = 'X' WHERE number = 2",
        "UPDATE entry SET number = 99 WHERE number = 40",
        "DELETE FROM entry WHERE number = 40",
        "INSERT OR REPLACE INTO entry SELECT * FROM entry WHERE number = 40",
        "REPLACE INTO entry SELECT 41, kind, at, \"end\", written, 'X', corrects, body, previous,"
        " hash FROM entry WHERE number = 40",
    ],
)
def test_the_table_takes_no_change(full, sql):
    before = full.read_bytes()
    with closing(sqlite3.connect(full)) as db, pytest.raises(sqlite3.IntegrityError, match="never"):
        db.execute(sql)
    assert full.read_bytes() == before


def changed_text(rng, text):
    """Return a text with one character changed, left out or put in."""
    k = rng.randrange(len(text))
    return rng.choice(
        [
            text[:k] + rng.choice("0aZé \n\x7f\"") + text[k + 1 :],
            text[:k] + text[k + 1 :],
            text[:k] + rng.choice("0aZ ") + text[k:],
            text[:k].upper() + text[k:].lower(),
        ]
    )


@pytest.mark.parametrize("seed", range(50))
def test_any_change_of_any_column_is_found(full, seed, outside):
    rng = random.Random(seed)
    column, number = COLUMNS[seed % len(COLUMNS)], rng.randrange(1, 41)
    with open_log(full) as log:
        head = log.head[1]
        old = as_row(log.get(number))[seed % len(COLUMNS)]
    new = old
    while new == old:
        if isinstance(old, str):
            new = rng.choice([changed_text(rng, old), old.encode()])
        else:
            new = rng.choice([None, rng.randrange(-3, 60), "2026-06-08T15:00:00Z"])
        if column == "number" and not isinstance(new, int):
            new = old
        if column not in ("corrects", '"end"') and new is None:
            new = old
    try:
        count = change(full, f"UPDATE entry SET {column} = ? WHERE number = ?", (new, number))
    except sqlite3.IntegrityError:  # that number is taken
        return
    assert count == 1
    with open_log(full) as log:
        found = verify(log, head)
        assert found.faults
        assert not found.ok
        if column not in ("number", "previous"):
            assert f"entry {number} is not what was written" in " ".join(found.faults)
        outside.found(
            "rows with a byte changed in any column", points=1, allowed="all found",
            worst="all found", source="random changes by SQL",
        )  # fmt: skip
        if column != "number":
            assert "run: dewgap log verify" in sentence(log.get, number)
            assert "run: dewgap log verify" in sentence(lambda: list(log.entries()))


def test_a_body_that_says_the_same_in_other_bytes_is_found(full):
    sql = "UPDATE entry SET body = replace(body, ',\"at\"', ', \"at\"') WHERE number = 8"
    with open_log(full) as log:
        assert ',"at"' in as_row(log.get(8))[7]
    assert change(full, sql) == 1
    with open_log(full) as log:
        assert verify(log).faults[0].startswith("entry 8 is not what was written")


@pytest.mark.parametrize("seed", range(12))
def test_rows_taken_out_or_swapped_are_found(full, seed, outside):
    rng = random.Random(seed)
    first = rng.randrange(1, 40)
    with open_log(full) as log:
        head = log.head[1]
    if seed % 3 == 0:
        change(full, "DELETE FROM entry WHERE number BETWEEN ? AND ?", (first, first + seed // 3))
    elif seed % 3 == 1:
        for sql in (
            "UPDATE entry SET number = 1000 WHERE number = ?1",
            "UPDATE entry SET number = ?1 WHERE number = ?1 + 1",
            "UPDATE entry SET number = ?1 + 1 WHERE number = 1000 AND ?1 > 0",
        ):
            change(full, sql, (first,))
    else:
        change(full, "DELETE FROM entry WHERE number >= ?", (first,))
    with open_log(full) as log:
        assert not verify(log, head).ok
        outside.found(
            "rows deleted, exchanged or cut off", points=1, allowed="all found",
            worst="all found", source="random changes by SQL",
        )  # fmt: skip
        if seed % 3 != 2:
            assert verify(log).faults


def test_a_tail_cut_off_is_found_by_the_head_that_was_told(full):
    with open_log(full) as log:
        head, before = log.head[1], log.get(39).hash
    change(full, "DELETE FROM entry WHERE number = 40")
    with open_log(full) as log:
        assert verify(log).faults == ()
        assert verify(log).contains_head is None
        assert verify(log, before[:12]).contains_head is True
        assert verify(log, before[:12]).ok
        gone = verify(log, f" {head.upper()} ")
        assert (gone.contains_head, gone.ok, gone.faults) == (False, False, ())
        for bad in ("", "abc", "0" * 11, "0" * 65, "xyz" * 10):
            assert "not the hash" in sentence(verify, log, bad)


def test_a_clock_set_back_is_a_note(log):
    log.append([Draft("me", reading())], written=hours(300_000))
    log.append([Draft("me", reading())], written=hours(200_000))
    found = verify(log)
    assert found.ok
    assert len(found.notes) == 1
    assert found.notes[0].startswith("entry 3 was written at")


def test_many_faults_are_told_shortly(tmp_path):
    filled(tmp_path / "a.log", 300).close()
    change(tmp_path / "a.log", "UPDATE entry SET author = 'X'")
    with open_log(tmp_path / "a.log") as log:
        found = verify(log)
        assert len(found.faults) == 101
        assert found.faults[-1] == "and 200 more of the kind"


def test_backup(full, tmp_path):
    with open_log(full) as log:
        assert log.backup(tmp_path / "copy.log") == 40
        assert "exists already" in sentence(log.backup, tmp_path / "copy.log")
        assert "cannot be written" in sentence(log.backup, tmp_path / "none" / "copy.log")
        with open_log(tmp_path / "copy.log") as copy:
            assert list(copy.entries()) == list(log.entries())
            copy.append([Draft("me", reading())])
    change(full, "UPDATE entry SET author = 'X' WHERE number = 5")
    with open_log(full) as log:
        assert "entry 5 is not what was written" in sentence(log.backup, tmp_path / "bad.log")
    assert not (tmp_path / "bad.log").exists()
    assert not list(tmp_path.glob(".dewgap*"))


def test_a_closed_log(log):
    log.close()
    log.close()
    for call in (lambda: log.head, lambda: list(log.entries()), lambda: log.get(1),
                 lambda: log.append([Draft("me", reading())]), lambda: verify(log)):  # fmt: skip
        assert "closed" in sentence(call)


def test_another_writes_for_too_long(full, monkeypatch):
    monkeypatch.setattr(file, "PATIENCE_S", 0.05)
    with closing(sqlite3.connect(full, isolation_level=None)) as other, open_log(full) as log:
        other.execute("BEGIN IMMEDIATE")
        assert "by another program" in sentence(log.append, [Draft("me", reading())])
        assert len(list(log.entries())) == 40
        other.execute("ROLLBACK")
        assert log.append([Draft("me", reading())])[0].number == 41


def test_a_full_disk_leaves_nothing_of_a_batch(log):
    pages = log._db.execute("PRAGMA page_count").fetchone()[0]
    log._db.execute(f"PRAGMA max_page_count = {pages + 20}")
    rng = random.Random(1)
    head = log.head
    told = sentence(log.append, [draft(rng, k) for k in range(500)])
    assert "no room on the disk; nothing of this entry was written; make room" in told
    assert log.head == head
    log.append([draft(rng, k) for k in range(5)])
    assert verify(log).ok


LIMITED = """
import resource, sys
from pathlib import Path
from log_cases import reading
from windows.errors import LogError
from windows.log.entries import Draft
from windows.log.store import open_log
with open_log(Path(sys.argv[1])) as log:
    resource.setrlimit(resource.RLIMIT_FSIZE, (200_000, resource.RLIM_INFINITY))
    try:
        while True:
            print(log.append([Draft("me", reading(note="x" * 3000)) for _ in range(3)])[-1].number)
    except LogError as fault:
        print(fault)
    resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
    print(log.append([Draft("me", reading())])[0].number)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="has no such limit")
def test_a_file_that_may_not_grow(full):
    done = subprocess.run(
        [sys.executable, "-c", LIMITED, str(full)], capture_output=True, text=True, timeout=60,
        env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])}, check=True,
    )  # fmt: skip
    *numbers, fault, after = done.stdout.splitlines()
    assert "nothing of this entry was written" in fault
    assert len(numbers) > 2
    assert int(after) == int(numbers[-1]) + 1
    with open_log(full) as log:
        assert verify(log).ok
        assert log.head[0] == int(after)


def test_read_only(full):
    with open_log(full, read_only=True) as log:
        assert len(list(log.entries())) == 40
        assert verify(log).ok
        assert "cannot be written to" in sentence(log.append, [Draft("me", reading())])
    with open_log(full) as writer, open_log(full, read_only=True) as log:
        writer.append([Draft("me", reading())])
        assert log.head[0] == 41


@pytest.fixture
def locked(full, tmp_path):
    """Return a log on a file system that cannot be written to."""
    folder = tmp_path / "mount"
    folder.mkdir()
    mount = shutil.which("mount")
    made = mount and subprocess.run(
        [mount, "-t", "tmpfs", "-o", "size=4m", "tmpfs", folder], capture_output=True, check=False
    ).returncode == 0  # fmt: skip
    if not made:
        pytest.skip("file systems cannot be mounted here")
    try:
        shutil.copy(full, folder / "field.log")
        subprocess.run([mount, "-o", "remount,ro", folder], check=True)
        yield folder / "field.log"
    finally:
        subprocess.run(["umount", "-l", folder], check=True)


def test_read_only_folder(locked):
    with open_log(locked, read_only=True) as log:
        assert verify(log).ok
        assert verify(log).entries == 40
    assert "cannot be" in sentence(begin, locked.with_name("new.log"))

    def write():
        with open_log(locked) as log:
            log.append([Draft("me", reading())])

    told = sentence(write)
    assert "cannot be" in told


@settings(max_examples=20, deadline=None, derandomize=True,
          suppress_health_check=[HealthCheck.function_scoped_fixture])  # fmt: skip
@given(
    notes=st.lists(
        st.text(st.characters(exclude_categories=["Cc", "Cs"]), max_size=30), max_size=4
    ),
    mm=st.floats(0, 2000),
)
def test_any_text_is_kept(tmp_path, notes, mm):
    path = tmp_path / "texts.log"
    drafts = []
    for note in [*notes, "end"]:
        try:
            rain = Rain(at=START, rain_mm=mm)
            drafts += [Draft("é", Note(at=START, note=note)), Draft("me", rain)]
        except ValueError:
            continue
    with create_log(path, OPENING, "me") as log:
        new = log.append(drafts)
        assert list(log.entries(after=1)) == list(new)
        assert verify(log).ok
    path.unlink()


def test_of_a_logger_one_reading_an_hour_teaches_of_each_kind(tmp_path):
    def logged(minute, **given):
        return Reading.model_validate(
            {"at": f"2026-06-01T{12 + minute // 60}:{minute % 60:02d}:00Z", "occasion": "logger"}
            | given
        )

    drafts = [
        Draft("me", logged(minute, **given))
        for minute in range(0, 120, 10)
        for given in (
            {"air_temp_c": 20.0, "rel_humidity": 0.5, "instruments": ("A",)},
            {"surface_temp_c": 30.0, "instruments": ("B",)},
        )
    ]
    drafts += [Draft("me", logged(minute, occasion="finish", air_temp_c=1.0)) for minute in (5, 6)]
    with begin_log(tmp_path / "log", [Draft("me", OPENING), *drafts]) as log:
        start, end = (datetime(2026, 6, 1, hour, tzinfo=UTC) for hour in (12, 14))
        told = [entry.body for entry in log.readings_to_learn(start, end)]
        assert len(told) == 2 * 2 + 2
        assert sum(body.surface_temp_c is not None for body in told) == 2
        assert sum(body.occasion == "finish" for body in told) == 2
        assert not list(log.readings_to_learn(end, end + (end - start)))
