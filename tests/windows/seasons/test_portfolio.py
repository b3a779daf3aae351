"""Portfolio: a list of sites to one table, in one process and on workers, broken and faulty."""

import gzip
import json
import logging
import os
import shutil
import signal
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from cure_models import load_profile
from windows.errors import DewgapError, HoursError
from windows.hours import check_hours
from windows.provenance import Location, Provenance
from windows.seasons import parts as parts_module
from windows.seasons.cluster import each_done
from windows.seasons.parts import plan_part, read_part, work_part
from windows.seasons.portfolio import COLUMNS, Asked, read_rows, summarise_site
from windows.seasons.season import nominal_date, season_of
from windows.site import load_site
from windows.sources import canonical_csv
from windows.weather_choice import YearsChoice
from windows.years import years_of

DEMO_SITES = Path(__file__).parents[3] / "demo_sites"
PAGE = Path(__file__).parents[3] / "docs" / "portfolio.md"
NAMES = ["north", "south", "dry", "wet"]
LONG = "long.csv.gz"


def invented(mean_c, seed, *, kind="observed", cloud=True, years=1):
    """Hours of some years: seasons, days and nights, and a wet day in four."""
    end = f"{2019 + years}-01-01"
    times = pd.date_range("2019-01-01", end, freq="h", tz="UTC", inclusive="left")
    rng = np.random.default_rng(seed)
    days = len(times) // 24
    year, day = times.day_of_year.to_numpy(), times.hour.to_numpy()
    air = mean_c - 12 * np.cos((year - 20) * 2 * np.pi / 365) + 5 * np.cos((day - 20) * np.pi / 12)
    air += np.repeat(rng.normal(0, 2, days), 24)
    wet = np.repeat(rng.random(days) < 0.25, 24)
    columns = {
        "air_temp_c": air.round(1),
        "dew_point_c": (air - np.where(wet, 1.5, 9.0)).round(1),
        "wind_m_s": np.full(len(times), 3.0),
        "rain_mm": np.where(wet & (rng.random(len(times)) < 0.4), 1.0, 0.0),
    }
    if cloud:
        columns["cloud"] = np.where(wet, 0.9, 0.3)
    return check_hours(columns, times, Provenance("invented", "here", kind=kind))


def write_years(path, table):
    path.write_bytes(gzip.compress(canonical_csv.write(table), 1, mtime=0))


@pytest.fixture(scope="module")
def built(tmp_path_factory):
    """Four sites with a year each, and two years beside it."""
    root = tmp_path_factory.mktemp("sites")
    for number, name in enumerate(NAMES):
        folder = root / name
        folder.mkdir()
        text = (DEMO_SITES / "cool_north" / "site.toml").read_text()
        text = text.replace("Tamarack Point", f"{name} of invention")
        # To find the zone each worker would load a map of the world first.
        (folder / "site.toml").write_text(f'timezone = "America/Chicago"\n{text}')
        write_years(folder / "years.csv.gz", invented(5 + 3 * number, number))
        write_years(folder / LONG, invented(5 + 3 * number, number, years=2))
    return root


@pytest.fixture
def sites(built, tmp_path):
    folder = tmp_path / "list"
    shutil.copytree(built, folder)
    write_list(folder, *NAMES)
    return folder


def write_list(folder, *rows, header="site"):
    (folder / "sites.csv").write_text("\n".join([header, *rows, ""]))


@pytest.fixture
def asked():
    return Asked((load_profile("acrylic"),))


def planned(sites, asked):
    folder = sites / "parts"
    folder.mkdir(exist_ok=True)
    return [plan_part(row, asked, folder) for row in read_rows(sites / "sites.csv")]


def put(path, content):
    """Write as `write_whole` does."""
    temporary = path.with_suffix(f".{os.getpid()}")
    temporary.write_bytes(content)
    temporary.replace(path)


def run(good, sites, *more):
    return good("portfolio", sites / "sites.csv", "--coating", "acrylic", *more)


# --- what is told ---------------------------------------------------------------------------------


def test_cells_are_those_of_the_season(sites, asked):
    row = read_rows(sites / "sites.csv", Path(LONG))[1]
    rows = summarise_site(row, asked)
    site = load_site(row.site)
    hours = years_of(site, YearsChoice(files=(row.years,)), row.years)
    season = season_of(site, load_profile("acrylic"), hours)
    assert [list(each) for each in rows] == [list(COLUMNS)] * 12
    assert len(season.years) == 2
    for part, told in zip(season.months, rows, strict=True):
        assert (told["label"], told["coating"]) == ("south", "acrylic")
        assert (told["month"], told["years"]) == (part.number, len(part.years))
        assert told["left_out_years"] == len(part.left_out)
        assert told["known_share"] == part.known
        assert told["scheduled_days_mean"] == part.scheduled
        for name, spread in (("workable_days", part.workable), ("valid_hours", part.valid_hours)):
            ends = [told[f"{name}_{end}"] for end in ("mean", "p20", "p50", "p80")]
            # Two years tell no P20 and no P80.
            assert ends == [spread.mean, None, spread.p50, None]
        if part.costs[0].blocked:
            most = max(cost.blocked for cost in part.costs)
            assert told["costliest_share"] == most
            assert told["costliest_gate"] == min(c.name for c in part.costs if c.blocked == most)
        for end in ("first", "last"):
            spread = getattr(season, end)
            days = [told[f"{end}_day_p{share}"] for share in (20, 50, 80)]
            assert days == [None, spread.p50, None]
        counts = sorted(year.workable for year in season.years)
        assert told["year_workable_days_mean"] == sum(counts) / 2
        assert [told[f"year_workable_days_p{s}"] for s in (20, 50, 80)] == [None, counts[0], None]
        assert told["workable_days_trend_per_decade"] is None  # two years show none
        assert told["season_start_month"] == 1


def test_the_table_holds_what_each_site_gives(sites, good):
    names = NAMES[:3]
    write_list(sites, *names)
    run(good, sites, "--coating", "silicone_high_solids", "--workers", 1, "--csv", "all.csv")
    whole = (sites / "sites_seasons" / "portfolio.parquet").read_bytes()
    table = pd.read_parquet(sites / "sites_seasons" / "portfolio.parquet")
    assert list(table) == list(COLUMNS)
    assert len(table) == 3 * 2 * 12
    assert list(table["label"].unique()) == names
    expected = [
        cells
        for row in read_rows(sites / "sites.csv")
        for cells in summarise_site(
            row, Asked((load_profile("acrylic"), load_profile("silicone_high_solids")))
        )
    ]
    told = parts_module.table_of(whole).to_pylist()
    assert told == expected
    back = pd.read_csv("all.csv")
    assert list(back) == list(COLUMNS)
    np.testing.assert_array_equal(back["workable_days_p50"], table["workable_days_p50"])


def test_screen_and_json(sites, good):
    write_list(sites, *NAMES[:2])
    screen = run(good, sites, "--workers", 1, "--years", LONG)
    assert screen.startswith("0 of 2 are there already\n")
    told = json.loads(run(good, sites, "--workers", 1, "--years", LONG, "--json"))
    assert (told["sites"], told["there_already"], told["failures"]) == (2, 2, [])
    assert len(told["rows"]) == 2 * 12
    first = told["rows"][0]
    day = nominal_date(first["first_day_p50"], 1)
    line = next(text for text in screen.splitlines() if text.startswith("north "))
    assert f"{day:%b} {day.day} " in line
    assert f" {first['year_workable_days_p50']:.0f} " in line  # two years: no P20 to P80


# --- going on -------------------------------------------------------------------------------------


def test_only_what_has_changed_is_worked_again(sites, good, monkeypatch):
    worked = []

    def counted(row, asked):
        worked.append(row.label)
        return summarise_site(row, asked)

    monkeypatch.setattr(parts_module, "summarise_site", counted)
    names = ["dry", "wet"]
    write_list(sites, *names)
    run(good, sites, "--workers", 1)
    assert worked == names
    again = run(good, sites, "--workers", 1)
    assert again.startswith("2 of 2 are there already\n")
    assert worked == names
    path = sites / "dry" / "site.toml"
    path.write_text(path.read_text().replace('"17:00"', '"16:00"'))
    assert run(good, sites, "--workers", 1).startswith("1 of 2 are there already\n")
    assert worked[2:] == ["dry"]
    write_years(sites / "wet" / "years.csv.gz", invented(13.0, 7))
    run(good, sites, "--workers", 1)
    assert worked[3:] == ["wet"]
    run(good, sites, "--workers", 1, "--limits", "careful")
    assert worked[4:] == names


def test_what_a_result_rests_on_is_in_its_fingerprint(sites, asked, monkeypatch):
    """Each change by itself gives another part: a stale one would pass for a new one."""
    own, base = sites / "own.toml", sites / "base.toml"
    base.write_text('based_on = "acrylic"\nname = "base"\ntitle = "ours"\n')
    own.write_text('based_on = "base.toml"\nname = "own"\ntitle = "ours"\n')

    def mark(change=lambda: None, **keys):
        change()
        told = replace(asked, **keys)
        row = read_rows(sites / "sites.csv")[0]
        return parts_module.fingerprint(row, told)

    def coating():
        return {"coatings": (load_profile(str(own)),)}

    seen = [mark(), mark(limits="careful"), mark(assume_cloud=0.5), mark(assume_cloud=0.0)]
    seen.append(mark(coatings=(load_profile("silicone_high_solids"),)))
    seen.append(mark(coatings=(*asked.coatings, load_profile("silicone_high_solids"))))
    seen.append(mark(**coating()))
    own.write_text(own.read_text().replace('"ours"', '"theirs"'))
    seen.append(mark(**coating()))
    base.write_text(
        base.read_text() + '[milestones]\nrain_safe = '
        '{ value = 9, unit = "h", lo = 8, hi = 10, source = "data sheet" }\n'
    )
    seen.append(mark(**coating()))
    write_list(sites, f"{NAMES[0]},other name", header="site,label")
    seen.append(mark())
    monkeypatch.setattr(parts_module, "_code", lambda: b"other code")
    seen.append(mark())
    assert len(set(seen)) == len(seen)


def test_a_relative_list_names_whole_paths(sites, good, monkeypatch):
    """So that a worker in another folder finds them."""
    monkeypatch.chdir(sites)
    write_list(sites, *NAMES[:2])
    told = good("portfolio", "sites.csv", "--coating", "acrylic", "--workers", 1)
    assert str(sites / "sites_seasons" / "portfolio.parquet") in told
    told = json.loads(
        good("portfolio", "sites.csv", "--coating", "acrylic", "--workers", 1, "--json")
    )
    assert told["there_already"] == 2
    assert {row["limits"] for row in told["rows"]} == {"generic"}


def test_what_is_to_be_known_of_the_weather_is_told(sites, good):
    far = invented(9.0, 3)
    where = Location("Elsewhere", 30.0, -90.0)
    write_years(
        sites / NAMES[0] / "years.csv.gz",
        replace(far, provenance=replace(far.provenance, location=where)),
    )
    write_list(sites, *NAMES[:2])
    told = run(good, sites, "--workers", 1)
    assert "note: ANOTHER PLACE: weather of Elsewhere" in told
    assert f"({NAMES[0]})" in told


def test_an_earlier_table_is_kept_where_no_row_succeeds(sites, dewgap):
    write_list(sites, *NAMES[:2])
    ask = ("portfolio", sites / "sites.csv", "--coating", "acrylic", "--workers", 1)
    assert dewgap(*ask)[0] == 0
    whole = sites / "sites_seasons" / "portfolio.parquet"
    before = whole.read_bytes()
    status, _, err = dewgap(*ask, "--assume-cloud", 2)
    assert (status, "is no sky cover" in err) == (1, True)
    for name in NAMES[:2]:
        (sites / name / "years.csv.gz").unlink()
    assert dewgap(*ask)[0] == 1
    assert whole.read_bytes() == before
    status, _, err = dewgap(*ask, "--csv", sites / "none" / "x.csv")
    assert (status, "its folder does not exist" in err) == (1, True)


def test_half_written_and_foreign_files_are_not_taken(sites, asked):
    parts = planned(sites, asked)
    part = parts[0]
    (part.path.parent / ".dewgap-abc").write_bytes(b"PAR1 half")
    assert read_part(part) is None
    part.path.write_bytes(b"PAR1 half of it")
    assert read_part(part) is None
    assert work_part(part, asked, put) is None
    whole = part.path.read_bytes()
    assert read_part(part).num_rows == 12
    part.path.write_bytes(whole[:-20])
    assert read_part(part) is None
    parts[1].path.write_bytes(whole)  # whole, but of another site
    assert read_part(parts[1]) is None


def test_files_that_change_in_mid_run_are_not_taken_for_what_they_were(sites, asked):
    part = planned(sites, asked)[0]
    write_years(part.row.years, invented(3.0, 9))
    assert "have changed" in work_part(part, asked, put)
    assert not part.path.exists()


# --- faults of a row ------------------------------------------------------------------------------


def test_bad_rows_are_told_and_the_others_done(sites, dewgap):
    shutil.copytree(sites / "north", sites / "typical")
    write_years(sites / "typical" / "years.csv.gz", invented(9.0, 1, kind="typical"))
    shutil.copytree(sites / "north", sites / "cloudless")
    write_years(sites / "cloudless" / "years.csv.gz", invented(18.0, 1, cloud=False))
    shutil.copytree(sites / "north", sites / "broken")
    (sites / "broken" / "site.toml").write_text("name = 3")
    shutil.copytree(sites / "north", sites / "bare")
    (sites / "bare" / "years.csv.gz").unlink()
    write_list(
        sites, "typical,,a", "north,,b", "nowhere,,c", "cloudless,,d", "broken,,e", "bare,,f",
        "wet/site.toml,wet/years.csv.gz,g", header="site,years,label",
    )  # fmt: skip
    command = ("portfolio", sites / "sites.csv", "--coating", "acrylic", "--workers", "1")
    status, out, err = dewgap(*command)
    assert status == 1
    assert err == (
        "dewgap: 5 of 7 sites failed; mend them and run again: the others are kept\n"
    )
    lines = out.splitlines()
    told = lines[-5:]
    for text, line, words in zip(
        told,
        ("2 (a)", "4 (c)", "5 (d)", "6 (e)", "7 (f)"),
        ("is a typical year", "no such site file", "no month has 90 %", "fault", "no such file of"),
        strict=True,
    ):
        assert text.startswith(f"line {line}: ")
        assert words in text
    table = pd.read_parquet(sites / "sites_seasons" / "portfolio.parquet")
    assert list(table["label"].unique()) == ["b", "g"]
    status, out, _ = dewgap(*command, "--assume-cloud", "0.5", "--json")
    told = json.loads(out)
    assert status == 1
    assert [(each["line"], each["label"]) for each in told["failures"]] == [
        (2, "a"), (4, "c"), (6, "e"), (7, "f"),
    ]  # fmt: skip


def test_where_years_are_looked_for(tmp_path):
    (tmp_path / "roof").mkdir()
    write_list(tmp_path, "roof,", "roof/b.toml,own.csv", header="site,years")
    rows = read_rows(tmp_path / "sites.csv")
    assert [row.site.name for row in rows] == ["site.toml", "b.toml"]
    assert rows[0].years == tmp_path / "roof" / "years.csv.gz"
    assert rows[1].years == tmp_path / "own.csv"
    named = read_rows(tmp_path / "sites.csv", Path("long.csv.gz"))
    assert [row.years.name for row in named] == ["long.csv.gz", "own.csv"]
    assert named[0].years.parent == tmp_path / "roof"
    far = tmp_path / "all.csv.gz"
    assert read_rows(tmp_path / "sites.csv", far)[0].years == far


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "the file is empty"),
        (b"\xef\xbb\xbf\n \n", "the file is empty"),
        (b"site\n", "no row below the header"),
        (b"\xff\xfesite\n", "not UTF-8 text"),
        (b"label\nx\n", "column 'site' is missing"),
        (b"site,sight\nx,y\n", "column 'sight' is not known"),
        (b"site,site\nx,y\n", "is there twice"),
        (b"site;label\nx;y\n", "semicolons"),
        (b"site,label\nx\n", "line 2 has 1 cell"),
        (b"site,label\n,y\n", "line 2: site is empty"),
        (b"site\nx\n\nx\n", "line 4 has the site and years of line 2"),
        (b"site\nx\n./x\n", "line 3 has the site and years of line 2"),
        (b"site,label\nx,a\ny,a\n", "line 3 goes by the name of line 2, 'a'"),
        (b"site,label\nx,=A2\n", "label is '=A2', which a spreadsheet takes for a formula"),
        (b"site\n@x\n", "takes for a formula"),
        (b"site\nx\x1by\n", "holds a sign that is no text"),
        (b"site\n\"x\n", "quotation mark"),
    ],
)  # fmt: skip
def test_a_faulty_list_is_refused_in_one_sentence(tmp_path, content, words):
    path = tmp_path / "sites.csv"
    path.write_bytes(content)
    with pytest.raises(HoursError, match=r"sites\.csv") as caught:
        read_rows(path)
    assert words in str(caught.value)
    assert "\n" not in str(caught.value)


def test_faults_of_the_command(sites, fault, tmp_path):
    listed = sites / "sites.csv"
    assert "no such list" in fault("portfolio", "none.csv", "--coating", "acrylic")
    assert "is not known" in fault("portfolio", listed, "--coating", "acrilic")
    twice = fault("portfolio", listed, "--coating", "acrylic", "--coating", "acrylic")
    assert "two coatings" in twice
    both = ("--workers", "2", "--scheduler", "tcp://127.0.0.1:1")
    assert "give one" in fault("portfolio", listed, "--coating", "acrylic", *both)
    over = ("--workers", "1", "--csv", listed)
    assert "name another file" in fault("portfolio", listed, "--coating", "acrylic", *over)
    (tmp_path / "file").touch()
    out = ("--workers", "1", "--out", tmp_path / "file")
    assert "cannot be made" in fault("portfolio", listed, "--coating", "acrylic", *out)


def test_a_path_that_cannot_be_looked_up_fails_its_row_alone(sites, dewgap):
    (sites / "loop").symlink_to("loop")
    write_list(sites, "loop", "a" * 300, NAMES[0])
    status, out, err = dewgap(
        "portfolio", sites / "sites.csv", "--coating", "acrylic", "--workers", 1
    )
    assert status == 1
    assert "2 of 3 sites failed" in err
    assert "line 2 (loop): " in out
    assert "line 3 (" in out
    assert NAMES[0] in out


def test_a_coating_of_ones_own_is_not_written_over(sites, fault):
    own = sites / "own.toml"
    own.write_text('based_on = "acrylic"\nname = "coat"\ntitle = "ours"\n')
    told = fault("portfolio", sites / "sites.csv", "--coating", own, "--csv", own, "--workers", 1)
    assert "is read, or written as another output" in told
    assert own.read_text().startswith("based_on")


def test_no_formula_in_the_csv(sites, asked):
    rows = summarise_site(read_rows(sites / "sites.csv")[0], asked)
    rows = [{**row, "site_name": "=1+1"} for row in rows]
    text = parts_module.to_csv(parts_module.table_of(parts_module.encode(rows))).decode()
    assert text.splitlines()[1].startswith('"north","\'=1+1",')


# --- workers --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("blocked", "workers", "words"),
    [("distributed", 2, "or --workers 1"), ("pyarrow", 1, "writes Parquet")],
)
def test_without_the_extra(sites, dewgap, monkeypatch, blocked, workers, words):
    monkeypatch.setitem(sys.modules, blocked, None)
    status, out, err = dewgap(
        "portfolio", sites / "sites.csv", "--coating", "acrylic", "--workers", workers
    )
    assert (status, out) == (1, "")
    assert err.count("\n") == 1
    assert "pip install pyarrow" in err or "pip install dask distributed" in err
    assert words in err


@pytest.mark.parametrize("address", ["tcp://127.0.0.1:9", "nonsense", "http://127.0.0.1:9"])
def test_a_scheduler_that_is_not_there(sites, dewgap, address):
    begun = time.monotonic()
    status, _, err = dewgap(
        "portfolio", sites / "sites.csv", "--coating", "acrylic", "--scheduler", address
    )
    assert time.monotonic() - begun < 8
    assert status == 1
    assert err.startswith(f"dewgap: --scheduler {address}: no Dask scheduler answers there")
    assert err.count("\n") == 1


TASK = """
import os, pathlib, time
def task(item):
    place, name, how = item
    with open(pathlib.Path(place) / "log", "a") as log:
        log.write(name + "\\n")
    begun = pathlib.Path(place) / f"{name}.begun"
    if how == "dies" or (how == "dies once" and not begun.exists()):
        begun.touch()
        os._exit(9)
    if how == "raises":
        raise RuntimeError("two\\nlines")
    (pathlib.Path(place) / f"{name}.done").touch()
    return "told" if how == "tells" else None
"""


@pytest.fixture
def task(tmp_path, monkeypatch):
    """A task that a worker can load, and that does as its item says."""
    home = tmp_path / "home"
    home.mkdir()
    (home / "portfolio_task.py").write_text(TASK)
    monkeypatch.syspath_prepend(home)
    import portfolio_task

    yield portfolio_task.task
    del sys.modules["portfolio_task"]


def test_a_dead_worker_loses_nothing_and_a_deadly_task_is_told(tmp_path, task):
    place = tmp_path / "place"
    place.mkdir()
    hows = ["dies once", "", "dies", "tells", "", "raises", "", ""]
    items = [(str(place), f"n{number}", how) for number, how in enumerate(hows)]
    found = dict(each_done(task, items, workers=2))
    assert set(found) == set(items)
    assert found[items[0]] is None
    assert [found[item] for item, how in zip(items, hows, strict=True) if not how] == [None] * 4
    assert "every worker that took it died" in found[items[2]]
    assert found[items[3]] == "told"
    assert found[items[5]].endswith("(RuntimeError: two lines); mend the worker")
    done = sorted(path.stem for path in place.glob("*.done"))
    assert done == ["n0", "n1", "n3", "n4", "n6", "n7"]
    assert logging.root.manager.disable == 0


BOTH = ("--coating", "silicone_high_solids")


def command(sites):
    code = "from windows.cli import main; main()"
    words = ["portfolio", "sites.csv", "--coating", "acrylic", *BOTH, "--years", LONG]
    return subprocess.Popen(
        [sys.executable, "-W", "error::UserWarning", "-c", code, *words, "--workers", "2"],
        cwd=sites, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        start_new_session=True,
    )  # fmt: skip


def wait_for(condition, running):
    end = time.monotonic() + 120
    while not condition():
        assert running.poll() is None, running.communicate()
        assert time.monotonic() < end
        time.sleep(0.005)


def worker_processes(parent):
    """Return the processes that Dask has started as workers of a process."""
    children = Path(f"/proc/{parent}/task/{parent}/children")
    found = []
    for thread in children.parents[1].iterdir():
        found += [int(text) for text in (thread / "children").read_text().split()]
    return [  # they may have given themselves another name, the tracker of resources has not
        child for child in found
        if b"resource_tracker" not in Path(f"/proc/{child}/cmdline").read_bytes()
    ]  # fmt: skip


def open_files(process):
    return len(list(Path(f"/proc/{process}/fd").iterdir()))


@pytest.mark.skipif(not Path("/proc/self/task").exists(), reason="processes are found by /proc")
def test_a_killed_worker_and_ctrl_c_lose_nothing_and_the_table_is_that_of_one_process(sites, good):
    parts = sites / "sites_seasons" / "parts"

    def ready():
        return list(parts.glob("*.parquet"))

    more = [f"roof{number}" for number in range(4)]
    for name in more:
        shutil.copytree(sites / "north", sites / name)
    write_list(sites, *NAMES, *more)
    first = command(sites)
    wait_for(ready, first)
    # Held until the command has heard the signal, and lets go of its connections: on a busy machine
    # all would be done before it does.
    held = worker_processes(first.pid)
    for worker in held:
        os.kill(worker, signal.SIGSTOP)
    before, end = open_files(first.pid), time.monotonic() + 3
    os.killpg(first.pid, signal.SIGINT)  # as a terminal does, to all processes of the command
    while open_files(first.pid) >= before and time.monotonic() < end:
        time.sleep(0.005)
    heard = open_files(first.pid) < before
    for worker in held:
        os.kill(worker, signal.SIGCONT)
    out, err = first.communicate(timeout=120)
    done = len(ready())
    assert held
    assert heard
    assert 0 < done < 8
    assert first.returncode == 1
    assert out == "0 of 8 are there already\n"
    assert err == (
        f"dewgap: stopped: {done} of 8 sites are done and kept in "
        f"{sites / 'sites_seasons' / 'parts'}; run the same again to go on\n"
    )
    second = command(sites)
    wait_for(lambda: len(ready()) > done, second)
    os.kill(worker_processes(second.pid)[0], signal.SIGKILL)
    out, err = second.communicate(timeout=120)
    assert (second.returncode, err) == (0, "")
    assert out.startswith(f"{done} of 8 are there already\n")
    whole = (sites / "sites_seasons" / "portfolio.parquet").read_bytes()
    one = ("--workers", 1, "--years", LONG, "--out", sites / "alone")
    alone = run(good, sites, *BOTH, *one)
    after = out.partition("\n")[2].split(" rows: ")[0]
    assert after == alone.partition("\n")[2].split(" rows: ")[0]
    assert after
    assert whole == (sites / "alone" / "portfolio.parquet").read_bytes()


def test_no_items_start_nothing():
    assert list(each_done(len, [], workers=8)) == []


# --- the page -------------------------------------------------------------------------------------


def test_every_column_is_on_the_page():
    text = PAGE.read_text().partition("## The table")[2]
    for column in COLUMNS.values():
        line = next((t for t in text.splitlines() if t.startswith(f"| `{column.name}`")), None)
        assert line is not None, column.name
        assert line.split("|")[2].strip() == (column.unit or "text"), column.name
    assert text.count("\n| `") == len(COLUMNS)


def test_faults_are_errors_of_the_package():
    with pytest.raises(DewgapError):
        list(each_done(len, [1], workers=1, scheduler="nonsense"))
