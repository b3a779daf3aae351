"""Damaged logs: nothing traces back, what lies on whole pages is saved, what is kept is whole.

What lies where is found by the texts of the entries in the bytes of the file, not by its format.
"""

import itertools
import random
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from how_many import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from log_cases import OPENING, START, change, draft, filled, hours, reading

from windows.errors import LogError
from windows.log import repair as module
from windows.log.chain import FIRST, is_whole, linked
from windows.log.entries import Draft, Note, Repair
from windows.log.proof import verify
from windows.log.repair import repair
from windows.log.rows import as_row
from windows.log.schema import PAGE_SIZE
from windows.log.store import begin_log, open_log

ENTRIES = 140
# Numbers of entries that fill several pages, and the length of their notes. Of those of 8,100 the
# page of the row itself has room for the least part only.
LONG = {30: 9_900, 31: 8_100, 90: 9_500}


def long_note(rng, number):
    text = "".join(rng.choice("abcdefghijklmnopqrstuvwxyz") for _ in range(LONG[number]))
    return Draft("me", Note(at=hours(number), note=text))


@pytest.fixture(scope="session")
def sound(tmp_path_factory):
    """Return a path to a closed log, its entries, and the pages on which each lies."""
    path = tmp_path_factory.mktemp("sound") / "field.log"
    rng = random.Random(3)
    with filled(path, min(LONG) - 1) as log:
        while (number := log.head[0] + 1) <= ENTRIES:
            log.append([long_note(rng, number) if number in LONG else draft(rng, number)])
        entries = list(log.entries())
    pages = split(path.read_bytes())
    where = {entry.number: pages_of(entry, pages) for entry in entries}
    assert all(where.values())
    assert min(len(where[number]) for number in LONG) >= 3
    return path, entries, where


def split(content):
    return [content[k : k + PAGE_SIZE] for k in range(0, len(content), PAGE_SIZE)]


def pages_of(entry, pages):
    """Return the numbers of the pages that hold pieces of an entry; no index has such pieces."""
    body = as_row(entry)[7].encode()
    pieces = [(entry.previous[-12:] + entry.hash[:12]).encode()]
    if len(body) > 3000:
        pieces += [body[k : k + 16] for k in range(30, len(body) - 16, 8)]
    return {n for n, page in enumerate(pages) if any(piece in page for piece in pieces)}


def check(path, to, entries, must=()):
    """Repair a file; return what is told, after checks of all that can be checked of any."""
    before = path.read_bytes()
    told, fault = outcome(repair, path, to, "Mender")
    assert path.read_bytes() == before
    assert not list(to.parent.glob(".dewgap*"))
    if told is None:
        assert not must, fault
        assert not to.exists()
        return None
    original = {entry.number: entry for entry in entries}
    with open_log(to) as log:
        found = list(log.entries())
        kept = [e for e in found if e == original.get(e.number)]
        new = found[len(kept) :]
        assert found[: len(kept)] == kept
        assert all(isinstance(e.body, Repair) and e.author == "Mender" for e in new)
        assert all(is_whole(e) for e in found)
        assert {e.number for e in kept} >= set(must)
        assert told.kept == len(kept)
        assert told.head == found[-1].hash
        proof = verify(log)
        assert proof.ok, proof
        assert proof.missing == told.missing
        lost = {n for first, last in told.missing for n in range(first, last + 1)}
        assert lost.isdisjoint(e.number for e in found)
        assert lost | {e.number for e in kept} >= set(range(1, kept[-1].number + 1))
        log.append([Draft("me", reading())])
        assert verify(log).ok
    return told


def kept_all(outside, must):
    outside.found(
        "entries still whole in a file cut off, overwritten or zeroed", points=len(must),
        allowed="all kept by repair", worst="all kept", source="a count of the file's pages",
    )  # fmt: skip


def outcome(call, *given, **named):
    """Return what a call returns, or the one sentence with which it is refused."""
    try:
        return call(*given, **named), None
    except LogError as refused:
        fault = str(refused)
    assert "\n" not in fault
    return None, fault


def any_call(path):
    """Open and prove a file of any content: one sentence, or a result."""
    for read_only in (True, False):
        log, _ = outcome(open_log, path, read_only=read_only)
        if log is not None:
            outcome(verify, log)
            outcome(list, log.entries())
            log.close()


def test_a_sound_log_is_copied_as_it_is(sound, tmp_path):
    path, entries, _ = sound
    told = check(path, tmp_path / "new.log", entries, range(1, ENTRIES + 1))
    assert (told.kept, told.missing, told.doubtful) == (ENTRIES, (), 0)
    assert told.head == entries[-1].hash
    with pytest.raises(LogError, match="exists already"):
        repair(path, tmp_path / "new.log", "me")
    with pytest.raises(LogError, match="exists already"):
        repair(path, path, "me")


def test_a_sound_log_in_use_is_copied_with_what_waits_beside_it(sound, tmp_path):
    path = Path(shutil.copy(sound[0], tmp_path / "field.log"))
    with open_log(path) as log:
        log.append([Draft("me", reading(k)) for k in range(20)])
        entries = list(log.entries())
        assert (tmp_path / "field.log-wal").stat().st_size > 0
        told = repair(path, tmp_path / "new.log", "me")
        assert (told.kept, told.missing, told.head) == (ENTRIES + 20, (), log.head[1])
        with open_log(tmp_path / "new.log") as new:
            assert list(new.entries()) == entries


@pytest.mark.exhaustive(every=2)
@pytest.mark.parametrize("seed", range(8))
def test_what_was_never_committed_is_not_brought_back(sound, tmp_path, seed):
    rng = random.Random(seed)
    path = Path(shutil.copy(sound[0], tmp_path / "field.log"))
    with open_log(path) as log, closing(sqlite3.connect(path, isolation_level=None)) as other:
        log.append([Draft("me", reading(k)) for k in range(rng.randrange(1, 5))])
        other.execute("PRAGMA cache_size = 4")
        other.execute("BEGIN IMMEDIATE")
        number, previous = log.head
        spilled = ""
        for k in range(80):
            entry = linked(Draft("me", reading(k)), number + 1 + k, START, previous)
            other.execute("INSERT INTO entry VALUES (?,?,?,?,?,?,?,?,?,?)", as_row(entry))
            previous = entry.hash
            spilled = previous if k < 20 else spilled
        copy = Path(shutil.copy(path, tmp_path / "copy.log"))
        shutil.copy(tmp_path / "field.log-wal", tmp_path / "copy.log-wal")
        assert spilled.encode() in (tmp_path / "copy.log-wal").read_bytes()
        other.execute("ROLLBACK")
        if seed % 2:  # shorter, over the frames that were left
            log.append([Draft("me", reading())])
            shutil.copy(path, copy)
            shutil.copy(tmp_path / "field.log-wal", tmp_path / "copy.log-wal")
        told = repair(copy, tmp_path / "new.log", "me")
        assert (told.kept, told.missing, told.head) == (log.head[0], (), log.head[1])


@pytest.mark.exhaustive(every=3)
@pytest.mark.parametrize("seed", range(12))
def test_truncated(sound, tmp_path, seed, outside):
    path, entries, where = sound
    rng = random.Random(seed)
    content = path.read_bytes()
    length = rng.choice([rng.randrange(len(content)), PAGE_SIZE * rng.randrange(1, 30)])
    cut = tmp_path / "cut.log"
    cut.write_bytes(content[:length])
    must = [n for n, pages in where.items() if max(pages) < length // PAGE_SIZE]
    check(cut, tmp_path / "new.log", entries, must)
    kept_all(outside, must)
    any_call(cut)


def damage(rng, content, how):
    """Return damaged bytes, and the pages that were changed."""
    content, pages = bytearray(content), set()
    for _ in range(rng.choice([1, 1, 2, 5, 12])):
        if how == "bytes":
            at = rng.choice([rng.randrange(len(content)), rng.randrange(200)])
            piece = rng.randbytes(rng.choice([1, 2, 30]))[: len(content) - at]
            content[at : at + len(piece)] = piece
            pages |= {at // PAGE_SIZE, (at + len(piece) - 1) // PAGE_SIZE}
        elif how == "head":
            at = PAGE_SIZE * rng.randrange(len(content) // PAGE_SIZE) + rng.randrange(8)
            content[at] = rng.randrange(256)
            pages.add(at // PAGE_SIZE)
        else:
            page = rng.randrange(len(content) // PAGE_SIZE)
            whole = bytes(PAGE_SIZE) if how == "zeros" else rng.randbytes(PAGE_SIZE)
            content[page * PAGE_SIZE : (page + 1) * PAGE_SIZE] = whole
            pages.add(page)
    return bytes(content), pages


@pytest.mark.exhaustive(every=3)
@pytest.mark.parametrize("how", ["bytes", "head", "zeros", "noise"])
@pytest.mark.parametrize("seed", range(7))
def test_overwritten(sound, tmp_path, how, seed, outside):
    path, entries, where = sound
    content, changed = damage(random.Random(f"{how} {seed}"), path.read_bytes(), how)
    bad = tmp_path / "bad.log"
    bad.write_bytes(content)
    must = [n for n, pages in where.items() if pages.isdisjoint(changed)]
    told = check(bad, tmp_path / "new.log", entries, must)
    kept_all(outside, must)
    if how in ("zeros", "noise"):
        short = [n for n, pages in where.items() if len(pages) == 1]
        lost = [n for n in short if not where[n].isdisjoint(changed)]
        assert told.kept <= ENTRIES - len(lost)
    any_call(bad)


def test_a_file_without_its_first_page(sound, tmp_path):
    path, entries, where = sound
    bad = tmp_path / "bad.log"
    bad.write_bytes(bytes(PAGE_SIZE) + path.read_bytes()[PAGE_SIZE:])
    told = check(bad, tmp_path / "new.log", entries, [n for n in where if 0 not in where[n]])
    assert told.kept == ENTRIES
    with open_log(tmp_path / "new.log") as log:
        (entry,) = log.entries("repair")
        assert entry.number == ENTRIES + 1
        assert entry.body.missing == ()
        assert entry.body.source_sha256 == module.hashlib.sha256(bad.read_bytes()).hexdigest()
        assert "140 entries were saved and 0 are known to be lost" in entry.body.note


@pytest.mark.parametrize("head_is_whole", [True, False])
def test_all_entries_in_the_log_beside_a_lost_file(tmp_path, head_is_whole):
    with filled(tmp_path / "field.log", 59) as log:
        log.append([long_note(random.Random(1), 30)])
        entries = list(log.entries())
        (tmp_path / "bad.log").write_bytes(bytes((tmp_path / "field.log").stat().st_size))
        wal = (tmp_path / "field.log-wal").read_bytes()
        (tmp_path / "bad.log-wal").write_bytes(wal if head_is_whole else b"?" + wal[1:])
    told = check(tmp_path / "bad.log", tmp_path / "new.log", entries, range(2, 61))
    assert told.kept >= 59  # the opening alone was in the file


@pytest.mark.exhaustive(every=2)
@pytest.mark.parametrize("seed", range(6))
def test_a_damaged_log_beside_a_sound_file(tmp_path, seed):
    rng = random.Random(seed)
    with filled(tmp_path / "field.log", 60, seed) as log:
        entries = list(log.entries())
        wal = bytearray((tmp_path / "field.log-wal").read_bytes())
        shutil.copy(tmp_path / "field.log", tmp_path / "bad.log")
    at = 16 + rng.randrange(8) if seed == 0 else 32 + rng.randrange(len(wal) // 2)
    wal[at] ^= 0xFF
    (tmp_path / "bad.log-wal").write_bytes(wal)
    told = check(tmp_path / "bad.log", tmp_path / "new.log", entries)
    assert told.kept >= 59
    with open_log(tmp_path / "new.log") as log:
        assert list(log.entries("repair"))


def test_a_repaired_log_is_repaired_again(sound, tmp_path):
    path, _, where = sound
    content = path.read_bytes()
    for page in (max(where[50]), max(where[120])):
        content = content[: page * PAGE_SIZE] + bytes(PAGE_SIZE) + content[(page + 1) * PAGE_SIZE :]
    (tmp_path / "bad.log").write_bytes(content)
    once = repair(tmp_path / "bad.log", tmp_path / "once.log", "me")
    assert len(once.missing) == 2
    again = repair(tmp_path / "once.log", tmp_path / "again.log", "me")
    assert (again.kept, again.missing, again.head) == (once.kept + 1, once.missing, once.head)
    with open_log(tmp_path / "once.log") as log, begin_log(tmp_path / "taken.log") as taken:
        log.append([Draft("me", reading(k)) for k in range(50)])
        entries = list(log.entries())
        taken.adopt(entries)
        assert list(taken.entries()) == entries
    pages = split((tmp_path / "once.log").read_bytes())
    lost = max(pages_of(entries[40], pages))
    pages[lost] = bytes(PAGE_SIZE)
    (tmp_path / "bad2.log").write_bytes(b"".join(pages))
    told = check(tmp_path / "bad2.log", tmp_path / "third.log", entries)
    assert len(told.missing) in (2, 3)


def test_a_hole_that_is_not_the_one_declared_is_a_fault(sound, tmp_path):
    path, _, where = sound
    pages = split(path.read_bytes())
    pages[max(where[50])] = bytes(PAGE_SIZE)
    (tmp_path / "bad.log").write_bytes(b"".join(pages))
    told = repair(tmp_path / "bad.log", tmp_path / "new.log", "me")
    ((first, last),) = told.missing
    change(tmp_path / "new.log", "DELETE FROM entry WHERE number = ?", (last + 1,))
    with open_log(tmp_path / "new.log") as log:
        assert f"entries {first} to {last + 1} are missing" in verify(log).faults


def test_lost_at_the_end_numbers_are_not_given_again(sound, tmp_path):
    """A row that was changed by hand is lost, and its number known."""
    path = Path(shutil.copy(sound[0], tmp_path / "bad.log"))
    change(path, "UPDATE entry SET author = 'X' WHERE number IN (7, 139, 140)")
    told = check(path, tmp_path / "new.log", sound[1], set(range(1, 139)) - {7})
    assert told.missing == ((7, 7), (139, 140))
    with open_log(tmp_path / "new.log") as log:
        assert log.head[0] == 142  # the repair is 141, and one was written by the check


def test_a_number_alone_that_was_changed_is_mended(sound, tmp_path):
    path = Path(shutil.copy(sound[0], tmp_path / "bad.log"))
    change(path, "UPDATE entry SET number = 1000 WHERE number = 140")
    change(path, "UPDATE entry SET number = 140 WHERE number = 70")
    told = check(path, tmp_path / "new.log", sound[1], range(1, 141))
    assert told.kept == ENTRIES


@pytest.mark.parametrize("content", [b"", b"x", bytes(9000), b"SQLite format 3\0" + bytes(9000)])
def test_nothing_whole(tmp_path, content):
    (tmp_path / "bad.log").write_bytes(content)
    with pytest.raises(LogError, match="no whole entry"):
        repair(tmp_path / "bad.log", tmp_path / "new.log", "me")
    assert [p.name for p in tmp_path.iterdir()] == ["bad.log"]


def test_what_cannot_be_repaired(sound, tmp_path):
    with pytest.raises(LogError, match="there is no such file"):
        repair(tmp_path / "none.log", tmp_path / "new.log", "me")
    with pytest.raises(LogError, match="cannot be read"):
        repair(tmp_path, tmp_path / "new.log", "me")
    with pytest.raises(LogError, match="cannot be written"):
        repair(sound[0], tmp_path / "none" / "new.log", "me")
    with pytest.raises(LogError, match="not a name"):
        repair(sound[0], tmp_path / "new.log", " ")
    with closing(sqlite3.connect(tmp_path / "other.db")) as db:
        db.execute("CREATE TABLE t (x)")
        db.commit()
    with pytest.raises(LogError, match="no whole entry"):
        repair(tmp_path / "other.db", tmp_path / "new.log", "me")


def test_a_newer_log_is_left_to_a_newer_version(sound, tmp_path):
    path = Path(shutil.copy(sound[0], tmp_path / "newer.log"))
    change(path, "PRAGMA user_version = 2")
    told = repair(path, tmp_path / "readable.log", "me")
    assert told.kept == ENTRIES
    change(path, "UPDATE entry SET kind = 'hologram' WHERE number = 9")
    with pytest.raises(LogError, match=r"newer version of dewgap \(format 2, this one knows 1\)"):
        repair(path, tmp_path / "new.log", "me")


def test_more_holes_than_one_entry_tells(sound, tmp_path, monkeypatch):
    monkeypatch.setattr(module, "_MOST_HOLES", 4)
    path = Path(shutil.copy(sound[0], tmp_path / "bad.log"))
    change(path, "DELETE FROM entry WHERE number % 10 = 3")
    told = check(path, tmp_path / "new.log", sound[1])
    assert len(told.missing) == 14
    with open_log(tmp_path / "new.log") as log:
        assert [len(e.body.missing) for e in log.entries("repair")] == [4, 4, 4, 2]


@settings(max_examples=examples(100), deadline=None, derandomize=True)
@given(st.randoms(use_true_random=False))
def test_the_choice_among_whole_rows_is_the_best_of_all(outside, rng):
    """Entries that fork, against all subsets."""
    first = linked(Draft("me", OPENING), 1, START, FIRST)
    all_of = [first]
    for _ in range(rng.randrange(1, 9)):
        before = rng.choice(all_of)
        all_of.append(
            linked(Draft("me", reading(rng.randrange(9))), before.number + 1, START, before.hash)
        )
    some = {e.hash: e for e in rng.sample(all_of, rng.randrange(1, len(all_of) + 1))}
    found, sure = module._Found(), {}
    for its_hash, entry in some.items():
        sure[its_hash] = rng.random() < 0.5
        found.take(as_row(entry), committed=sure[its_hash])
    best = (0, 0)
    for size in range(1, len(some) + 1):
        for subset in itertools.combinations(some.values(), size):
            ordered = sorted(subset, key=lambda e: e.number)
            pairs = itertools.pairwise(ordered)
            if all(b.number > a.number + 1 or (b.number == a.number + 1 and b.previous == a.hash)
                   for a, b in pairs):  # fmt: skip
                best = max(best, (size, sum(sure[e.hash] for e in ordered)))
    rows = found.chosen()
    outside.equal(
        "rows kept where entries fork", (len(rows), sum(sure[row[9]] for row in rows)), best,
        points=1, source="the best of all subsets",
    )  # fmt: skip
    for a, b in itertools.pairwise(rows):
        assert b[0] > a[0]
        assert b[0] > a[0] + 1 or b[8] == a[9]
    numbers = [e.number for e in some.values()]
    assert found.doubtful == sum(numbers.count(n) > 1 for n in set(numbers))
