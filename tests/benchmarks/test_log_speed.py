"""How long a log of 100,000 readings takes to write, read, prove, copy and repair.

Run with ``pytest tests/benchmarks/test_log_speed.py -n 0 --benchmark-only -s`` while the machine
has nothing else to do. What Python's JSON, pydantic and SHA-256 take for the same entries, without
a file, is timed beside it: no file can be quicker.
"""

import os
import sys

import pytest
from log_cases import OPENING, START, create_log, reading

from windows.log.chain import FIRST, canonical_body, linked
from windows.log.entries import Draft, Reading
from windows.log.proof import verify
from windows.log.repair import repair
from windows.log.store import open_log

pytestmark = pytest.mark.skipif(
    "--benchmark-only" not in sys.argv, reason="timings run with --benchmark-only"
)
READINGS = 100_000


@pytest.fixture(scope="module")
def drafts():
    return [
        Draft("logger", reading(
            k / 12, air_temp_c=20 + k % 70 / 10, surface_temp_c=25.5 + k % 13 / 7, wind_m_s=3.25,
            occasion="logger", instruments=("SN-1",),
        ))
        for k in range(READINGS)
    ]  # fmt: skip


@pytest.fixture(scope="module")
def path(tmp_path_factory, drafts):
    path = tmp_path_factory.mktemp("log") / "field.log"
    with create_log(path, OPENING, "me") as log:
        log.append(drafts)
    return path


def once(benchmark, call, *given):
    found = benchmark.pedantic(call, given, rounds=1, iterations=1)
    seconds = benchmark.stats.stats.min
    print(f"\n{seconds:.1f} s, {1e6 * seconds / READINGS:.0f} us an entry; load {os.getloadavg()}")
    return found


def test_without_a_file(benchmark, drafts):
    def floor():
        previous = FIRST
        for number, draft in enumerate(drafts, 1):
            previous = linked(draft, number, START, previous).hash

    once(benchmark, floor)


def test_reading_without_a_file(benchmark, drafts):
    bodies = [canonical_body(draft.body) for draft in drafts]
    once(benchmark, lambda: [Reading.model_validate_json(body) for body in bodies])


def test_append(benchmark, drafts, tmp_path):
    with create_log(tmp_path / "field.log", OPENING, "me") as log:
        assert len(once(benchmark, log.append, drafts)) == READINGS


def test_read(benchmark, path):
    with open_log(path) as log:
        assert once(benchmark, lambda: sum(1 for _ in log.entries())) == READINGS + 1


def test_read_one_day(benchmark, path):
    with open_log(path) as log:
        some = log.get(50_000).at
        found = once(benchmark, lambda: list(log.entries("reading", start=some, end=some)))
        assert len(found) == 1


def test_verify(benchmark, path):
    with open_log(path) as log:
        assert once(benchmark, verify, log).ok


def test_backup(benchmark, path, tmp_path):
    with open_log(path) as log:
        assert once(benchmark, log.backup, tmp_path / "copy.log") == READINGS + 1


def test_repair(benchmark, path, tmp_path):
    bad = tmp_path / "bad.log"
    content = bytearray(path.read_bytes())
    content[40 * 4096 : 60 * 4096] = bytes(20 * 4096)
    bad.write_bytes(content)
    told = once(benchmark, repair, bad, tmp_path / "new.log", "me")
    assert READINGS - 200 < told.kept < READINGS
