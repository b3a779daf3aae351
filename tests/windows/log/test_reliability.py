"""What the log must bear: programs killed at any moment, two that write at once, a full disk."""

import itertools
import os
import random
import shutil
import signal
import subprocess
import sys
import threading
import time
from contextlib import contextmanager
from pathlib import Path

import pytest
from log_cases import OPENING, create_log, reading

from windows.errors import LogError
from windows.log.entries import Draft
from windows.log.proof import verify
from windows.log.store import begin_log, open_log

WRITES = 1000

WRITER = """
import sys
import time
from pathlib import Path
from log_cases import reading
from windows.log.entries import Draft
from windows.log.store import open_log
path, count, each, author = Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3]), sys.argv[4]
pause_s = float(sys.argv[5])
with open_log(path) as log:
    print("open", flush=True)
    sys.stdin.readline()
    for k in range(count):
        new = log.append([Draft(author, reading(k, note=f"write {k} of {author}"))] * each)
        print(new[0].number, new[-1].number, flush=True)
        time.sleep(pause_s)
"""


def writer(path, count, each=1, author="me", *, waits=False):
    """Start a program that writes entries and tells each that was acknowledged.

    It tells that it has opened the log first; one that ``waits`` goes on when it is sent a line,
    and rests after each write, so that another one gets its turn.
    """
    pause_s = 0.002 if waits else 0
    return subprocess.Popen(
        [sys.executable, "-c", WRITER, *map(str, (path, count, each, author, pause_s))],
        stdin=subprocess.PIPE if waits else subprocess.DEVNULL, stdout=subprocess.PIPE, text=True,
        env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])},
    )  # fmt: skip


@pytest.fixture
def path(tmp_path):
    create_log(tmp_path / "field.log", OPENING, "me").close()
    return tmp_path / "field.log"


@pytest.mark.skipif(sys.platform == "win32", reason="has no such signal")
def test_killed_at_any_moment(path, outside):
    """Rounds of a program that is to write 1,000 entries or batches, each killed on its way."""
    rng = random.Random(5)
    acknowledged, last, killed = set(), 1, 0
    for kill in range(6):
        each = rng.choice([1, 1, 40])
        with writer(path, WRITES, each) as process:
            assert process.stdout.readline() == "open\n"
            # Mostly early, so that it is killed in the middle of a write and not between rounds.
            time.sleep(rng.uniform(0.001, 0.25))
            process.send_signal(signal.SIGKILL)
            told = process.stdout.read()
        killed += process.returncode == -signal.SIGKILL
        lines = told.splitlines(keepends=True)
        whole = [line.split() for line in lines if line.endswith("\n")]
        for first, final in whole:
            acknowledged |= set(range(int(first), int(final) + 1))
        with open_log(path) as log:
            found = verify(log)
            assert found.ok, (kill, found)
            numbers = {entry.number for entry in log.entries()}
            assert acknowledged <= numbers
            # A batch is there wholly or not at all, one beyond the last told at most.
            beyond = log.head[0] - max([last, *(int(final) for _, final in whole)])
            assert beyond in (0, each)
            (new,) = log.append([Draft("after", reading())])
            acknowledged.add(new.number)
            last = new.number
    assert killed == 6
    assert len(acknowledged) > 30
    outside.found(
        "entries that a killed program had acknowledged", points=len(acknowledged),
        allowed="none lost, the chain holds", worst="none lost",
        source="signal 9 at random moments, six rounds",
    )  # fmt: skip


def test_two_write_at_once(path, outside):
    with (
        writer(path, 200, 1, "one", waits=True) as one,
        writer(path, 200, 1, "two", waits=True) as two,
    ):
        assert [process.stdout.readline() for process in (one, two)] == ["open\n"] * 2
        for process in (one, two):
            process.stdin.write("go\n")
            process.stdin.flush()
        told = [process.stdout.read().split() for process in (one, two)]
    assert (one.returncode, two.returncode) == (0, 0)
    with open_log(path) as log:
        found = verify(log)
        assert found.ok, found
        assert found.entries == 401
        entries = list(log.entries(after=1))
    for author, numbers in zip(("one", "two"), told, strict=True):
        mine = [entry for entry in entries if entry.author == author]
        assert [entry.number for entry in mine] == [int(n) for n in numbers[::2]]
        assert [e.body.note for e in mine] == [f"write {k} of {author}" for k in range(200)]
    authors = [entry.author for entry in entries]
    turns = sum(a != b for a, b in itertools.pairwise(authors))
    assert turns > 1  # they did write at once, however busy the machine
    outside.found(
        "entries of two programs that write at once", points=400,
        allowed="all there, in order, the chain holds", worst="all there",
        source="what each program was told",
    )  # fmt: skip


def test_backups_while_others_write(path, tmp_path):
    with writer(path, 150, 3) as process, open_log(path) as log:
        counts = [log.backup(tmp_path / f"copy {k}.log") for k in range(6)]
        process.stdout.read()
    assert counts == sorted(counts)
    with open_log(path) as log:
        entries = list(log.entries())
        assert len(entries) == 451
    for k, count in enumerate(counts):
        with open_log(tmp_path / f"copy {k}.log") as copy:
            assert verify(copy).ok
            assert list(copy.entries()) == entries[:count]


def test_threads_with_a_log_each(path):
    faults = []

    def write(author):
        try:
            with open_log(path) as log:
                for k in range(40):
                    log.append([Draft(author, reading(k))])
        except LogError as fault:
            faults.append(fault)

    threads = [threading.Thread(target=write, args=(f"thread {k}",)) for k in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert not faults
    with open_log(path) as log:
        assert verify(log).entries == 161
        assert verify(log).ok


@contextmanager
def mounted(tmp_path, size):
    """Give a folder on a file system of a size."""
    folder = tmp_path / "disk"
    folder.mkdir()
    mount = shutil.which("mount")
    command = [mount, "-t", "tmpfs", "-o", f"size={size}", "tmpfs", folder]
    if not mount or subprocess.run(command, capture_output=True, check=False).returncode:
        pytest.skip("file systems cannot be mounted here")
    try:
        yield folder
    finally:
        subprocess.run(["umount", "-l", folder], check=True)


@pytest.fixture
def small_disk(tmp_path):
    """Return a folder on a file system of one megabyte."""
    with mounted(tmp_path, "1m") as folder:
        yield folder


def fill(path):
    """Write until there is no room; return the last number acknowledged, and what was told."""
    last = 0
    with open_log(path) as log:
        try:
            while True:
                last = log.append([Draft("me", reading(note="x" * 2000))] * 3)[-1].number
        except LogError as fault:
            return last, str(fault)


def test_a_full_disk(small_disk, outside):
    path, ballast = small_disk / "field.log", small_disk / "ballast"
    create_log(path, OPENING, "me").close()
    for size in (700_000, 450_000, 200_000):
        ballast.write_bytes(bytes(size))
        acknowledged, told = fill(path)
        assert acknowledged > 3
        assert "no room on the disk; nothing of this entry was written" in told
        with open_log(path, read_only=True) as log:
            assert log.head[0] == acknowledged
            assert verify(log).ok
            with pytest.raises(LogError, match="room"):
                log.backup(small_disk / "copy.log")
        with pytest.raises(LogError, match="room"):
            create_log(small_disk / "other.log", OPENING, "me")
        assert {p.name for p in small_disk.iterdir() if "field" not in p.name} == {"ballast"}
        ballast.unlink()
        with open_log(path) as log:
            assert verify(log).ok
            assert log.append([Draft("me", reading())])[0].number == acknowledged + 1
    outside.found(
        "entries on a disk that fills up", points=acknowledged,
        allowed="none lost, the rest refused in a sentence", worst="none lost",
        source="a file system of 1 MB",
    )  # fmt: skip


@pytest.mark.parametrize("size", ["96k", "100k", "112k", "128k", "144k", "400k"])
def test_a_log_begun_on_a_small_disk_is_whole_or_not_there(tmp_path, size):
    """Closing a log brings it into its file in silence: whether there is room is asked before."""
    with mounted(tmp_path, size) as place:
        path = place / "field.log"
        drafts = [Draft("me", reading(k, note=f"entry {k} of many " * 20)) for k in range(60)]
        told = ""
        try:
            with begin_log(path, [Draft("me", OPENING), *drafts]):
                pass
        except LogError as fault:
            told = str(fault)
        if told:
            assert "no room" in told
            assert list(place.iterdir()) == []
        else:
            with open_log(path) as log:
                assert verify(log).entries == 61
