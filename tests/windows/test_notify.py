"""The command that is told of a changed board: when it runs, what it is told, and how it fails."""

import json
import os
import shlex
import sys
import time
from dataclasses import replace
from datetime import timedelta

import board_cases
import pytest
from jsonschema import Draft202012Validator

from windows.board.result import Danger, Fault
from windows.decision import Verdict
from windows.notify import changes, notify
from windows.odds.chance import Chance, Method
from windows.reports.board_json import board_dict, board_schema

HOUR = timedelta(hours=1)
RICH = board_cases.rich()


def said(*given, **named):
    """Return the sentence of what was told, None if nothing was."""
    found = notify(*given, **named)
    assert found is None or found.well == ("was told" in found.text)
    return None if found is None else found.text


def python(code, *words):
    return shlex.join([sys.executable, "-c", code, *words])


def told(board, before=RICH):
    return changes(board_dict(board), None if before is None else board_dict(before))


def with_work(board, visit=0, work=0, *, placed=None, **given):
    """Return a board with something else in one of its works."""
    visits = list(board.assignments)
    works = list(visits[visit].works)
    old = works[work]
    works[work] = replace(old, placement=replace(old.placement, **(placed or {})), **given)
    visits[visit] = replace(visits[visit], works=tuple(works))
    return replace(board, assignments=tuple(visits))


def with_decision(board, visit, **given):
    visits = list(board.assignments)
    visits[visit] = replace(visits[visit], decision=replace(visits[visit].decision, **given))
    return replace(board, assignments=tuple(visits))


def with_deadline(board, n, **given):
    deadlines = list(board.deadlines)
    deadlines[n] = replace(deadlines[n], **given)
    return replace(board, deadlines=tuple(deadlines))


# ---------------------------------------------------------------------------- what is a change


def test_the_same_board_later_is_no_change():
    assert told(RICH) == []
    assert told(replace(RICH, now=RICH.now + HOUR)) == []
    assert told(replace(RICH, proof=replace(RICH.proof, seconds=2.0, worth=9_000.0))) == []


def test_a_first_board_is_all_new():
    first = told(RICH, None)
    works = {(w.placement.piece, w.placement.layer, each.site)
             for each in RICH.assignments for w in each.works}  # fmt: skip
    assert sum(line.startswith("new: ") for line in first) == len(works)
    assert sum(line.startswith("deadline: ") for line in first) == 7  # the last is in time
    assert sum(line.startswith("fault: ") for line in first) == 2
    assert told(board_cases.empty(), None) == []


def test_a_crew_or_hours_moved_are_told_with_what_was():
    start = RICH.assignments[0].works[0].placement.start
    moved = with_work(RICH, placed={"start": start + HOUR})
    assert told(moved) == [
        f"moved: base on North <1> 1, {board_cases.NASTY}: {board_cases.NASTY_CREW}, Fri May 8 "
        f"09:00-11:00 EDT, was {board_cases.NASTY_CREW}, Fri May 8 08:00-11:00 EDT"
    ]
    visits = list(RICH.assignments)
    visits[4] = replace(visits[4], crew="Čenda's crew")
    assert told(replace(RICH, assignments=tuple(visits))) == [
        "moved: top on Bay 1, Cold store: Čenda's crew, Fri May 8 08:00-12:00 EDT, was Borja, Fri "
        "May 8 08:00-12:00 EDT"
    ]


def test_work_that_goes_is_called_off_unless_it_had_ended():
    less = replace(RICH, assignments=RICH.assignments[:4] + RICH.assignments[5:])
    assert told(less) == [
        "called off: top on Bay 1, Cold store: was Borja, Fri May 8 08:00-12:00 EDT"
    ]
    end = RICH.assignments[4].works[0].placement.end
    later = {"now": end, "deadlines": (), "faults": ()}
    rest = tuple(a for a in RICH.assignments if a.works[-1].placement.end > end)
    before = replace(RICH, deadlines=(), faults=())
    assert told(replace(RICH, assignments=rest, **later), before) == []


@pytest.mark.parametrize(("estimate", "news"), [(0.84, 0), (0.9299, 0), (0.83, 1), (0.93, 1)])
def test_a_chance_counts_from_five_points(estimate, news):
    board = with_work(RICH, chance=Chance(0.81, estimate, 0.94, Method.MEMBERS))
    lines = told(board)
    assert len(lines) == news
    if news:
        assert lines[0].endswith(f"{estimate:.0%} to hold, was 88%")


def test_a_chance_without_estimate_counts_by_its_low_bound():
    board = with_work(RICH, chance=Chance(0.81, None, 0.94, Method.BOUNDS))
    assert told(board) == [
        f"chance: base on North <1> 1, {board_cases.NASTY}: 81% to hold, was 88%"
    ]


def test_a_verdict_counts_and_a_time_to_stop_from_half_an_hour():
    wait = with_decision(RICH, 0, verdict=Verdict.WAIT, stop_at=None)
    assert told(wait) == [
        f"decision: {board_cases.NASTY_CREW} at {board_cases.NASTY} on Fri May 8: wait, was go, "
        "all of it, until 15:30 EDT"
    ]
    stop = RICH.assignments[1].decision.stop_at
    assert told(with_decision(RICH, 1, stop_at=stop - HOUR / 2)) == [
        f"decision: {board_cases.NASTY_CREW} at {board_cases.NASTY} on Sat May 9: go, stop at "
        "11:45 EDT, was go, stop at 12:15 EDT"
    ]
    assert told(with_decision(RICH, 1, stop_at=stop + HOUR / 3)) == []
    assert told(with_decision(RICH, 1, cost_go=9.0, lost=0.2, break_even=0.5)) == []


def test_changes_are_told_on_the_clock_of_each_site():
    first = replace(RICH, assignments=RICH.assignments[2:3], deadlines=(), faults=())
    assert told(first, None) == [
        f"new: base on Gym 1, Mesa school, gym: {board_cases.NASTY_CREW}, Sun May 10 09:00-13:00 "
        "MDT"
    ]
    waits = with_decision(RICH, 2, stop_at=None)
    assert told(waits) == [
        f"decision: {board_cases.NASTY_CREW} at Mesa school, gym on Sun May 10: close call, leans "
        "to wait, was close call, leans to go until 14:00 MDT"
    ]
    twins = tuple(replace(each, name="Twin") for each in RICH.sites)
    less = replace(RICH, sites=twins, assignments=RICH.assignments[:4] + RICH.assignments[5:])
    assert told(less, replace(RICH, sites=twins)) == [
        "called off: top on Bay 1, Twin (yard): was Borja, Fri May 8 08:00-12:00 EDT"
    ]


@pytest.mark.parametrize("zone", ["Nowhere/At all", "../etc", ""])
def test_a_clock_that_is_not_known_is_utc_and_says_so(zone):
    document, before = board_dict(RICH), board_dict(RICH)
    document["assignments"].pop(4)
    for board in (document, before):
        for site in board["sites"]:
            site["timezone"] = zone
    assert changes(document, before) == [
        "called off: top on Bay 1, Cold store: was Borja, Fri May 8 12:00-16:00 UTC"
    ]


def test_a_danger_counts_and_its_times_do_not():
    assert told(with_deadline(RICH, 7, danger=Danger.NO_SPARE)) == [
        f"deadline: base on South 1, {board_cases.NASTY}: no spare, was in time"
    ]
    assert told(with_deadline(RICH, 7, due=RICH.now, cover=RICH.now)) == []
    covered = replace(RICH, deadlines=RICH.deadlines[1:])
    assert told(covered) == ["deadline: base on Bay 3, Cold store: in time, was overdue"]
    assert told(replace(RICH, deadlines=RICH.deadlines[:7])) == []  # in time, and gone


def test_a_fault_counts_once_whatever_its_numbers():
    age = [replace(RICH, faults=(Fault("a", f"asks to wait {n} s; try later"),)) for n in (30, 31)]
    assert told(age[1], age[0]) == []
    assert told(age[0]) == [
        "fault: a: asks to wait 30 s; try later",
        *(f"mended: {each.where}: {each.text}" for each in RICH.faults),
    ]


DAMAGED = [
    {}, [], 3, "x", {"sites": 3}, {"sites": [{}]}, {"assignments": 3}, {"assignments": [{}]},
    {"deadlines": [{}]},
    {"faults": [{"where": [], "text": "x"}]},
    {"assignments": [{"crew": "a", "site": "b", "day": "c", "decision": None,
                      "works": [{"end": "2026-06-01T00:00:00"}]}]},
    {"assignments": [{"crew": "a", "site": "b", "day": "c", "decision": None,
                      "works": [{"end": 3}]}]},
]  # fmt: skip


@pytest.mark.parametrize("before", DAMAGED)
def test_a_board_before_that_cannot_be_read_makes_all_new(before):
    assert changes(board_dict(RICH), before) == changes(board_dict(RICH), None)


# ---------------------------------------------------------------------------------- the command

KEEP = "import sys; open(sys.argv[1], 'wb').write(sys.stdin.buffer.read())"


def test_the_command_is_told_the_board_and_its_changes(tmp_path):
    out = tmp_path / "it's a 🏠"
    document = board_dict(RICH)
    same = json.loads(json.dumps(document))
    text = said(python(KEEP, str(out)), document, None)
    assert text.endswith(f" was told of {len(changes(document, None))} changes")
    given = json.loads(out.read_bytes())
    assert given.pop("changed") == changes(document, None)
    assert given == document == same  # what was handed over is as it was
    Draft202012Validator(json.loads(board_schema())).validate(json.loads(out.read_bytes()))


def test_nothing_runs_where_nothing_changed(tmp_path):
    out = tmp_path / "out"
    document = board_dict(RICH)
    assert notify(python(KEEP, str(out)), document, document) is None
    assert notify("no such program", document, document) is None
    assert not out.exists()


def test_one_change_is_one(tmp_path):
    board = board_dict(with_deadline(RICH, 7, danger=Danger.NO_SPARE))
    text = said(python(KEEP, str(tmp_path / "out")), board, board_dict(RICH))
    assert text.endswith(" was told of 1 change")


def test_no_shell_runs_and_the_environment_is_as_it_was(tmp_path, monkeypatch):
    monkeypatch.setenv("OWN", "a b")
    out = tmp_path / "out"
    code = (
        "import os, sys, json; json.dump([dict(os.environ), sys.argv[2:]], open(sys.argv[1], 'w'))"
    )
    words = ["$(touch x)", ";", "touch", "y", "*", "~", "$OWN", "a 'b'"]
    assert "was told" in said(python(code, str(out), *words), board_dict(RICH), None)
    environment, given = json.loads(out.read_text())
    assert given == words
    assert os.environ.items() <= environment.items()
    assert not any("dewgap" in name.lower() for name in environment.keys() - os.environ.keys())
    assert os.environ["OWN"] == "a b"


def failed(command, **given):
    text = said(command, board_dict(RICH), None, **given)
    assert "\n" not in text
    start, _, why = text.partition(" changes: ")
    assert " was not told of " in start
    return why


@pytest.mark.parametrize(
    ("command", "told"),
    [
        ("no-such-program-at-all now", "cannot be run (No such file or directory)"),
        ("/", "cannot be run (Permission denied)"),
        ("", "names no program"),
        ("  ", "names no program"),
        ("say 'it", "a quote that is not closed"),
        ("say\0it", "a character that no program's name can have"),
        (python("import sys; sys.exit(7)"), "exit status 7; run it by hand"),
        (python("import sys; sys.exit('one\\ntwo \\x1b[1m three')"), "status 1 (two [1m three)"),
        (python("import os, signal; os.kill(os.getpid(), signal.SIGTERM)"), "signal 15"),
    ],
)
def test_a_command_that_fails_is_one_sentence(command, told):
    assert told in failed(command)


def test_a_very_long_command_or_message_is_cut():
    text = said("none" + "x" * 1000, board_dict(RICH), None)
    assert len(text) < 500
    assert len(failed(python("import sys; sys.exit('y' * 100_000)"))) < 300


def test_a_command_that_hangs_is_ended_with_what_it_started(tmp_path):
    late = tmp_path / "late"
    inner = f"import time, pathlib; time.sleep(1.5); pathlib.Path({str(late)!r}).touch()"
    code = f"import subprocess, sys; subprocess.run([sys.executable, '-c', {inner!r}])"
    begin = time.monotonic()
    why = failed(python(code), timeout_s=0.5)
    assert time.monotonic() - begin < 1.4
    assert why == "it did not end within 0.5 s and was stopped; let it end sooner"
    time.sleep(1.5)
    assert not late.exists()


def test_a_command_may_read_nothing_and_print_much(capfd):
    big = board_dict(board_cases.big(20, 2, 4))
    assert "was told" in said(python("pass"), big, None)
    assert "was told" in said(python("print('x' * 1_000_000)"), big, None)
    inner = "[sys.executable, '-c', 'import time; time.sleep(3)']"
    code = f"import subprocess, sys; subprocess.Popen({inner})"
    begin = time.monotonic()
    assert "was told" in said(python(code), big, None)  # what it leaves behind is not waited for
    assert time.monotonic() - begin < 2.5
    assert capfd.readouterr() == ("", "")
