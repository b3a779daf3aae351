"""The board of the demo county, as its command writes and serves it, in a real browser."""

import json
import os
import re
import shutil
import subprocess
import sys
import time
from pathlib import Path

import pytest
from demo_copy import copy_county
from playwright.sync_api import expect
from ran_here import ran_here

from windows.safety import GOVERNS

ROOT = Path(__file__).parents[2]
DESK, PHONE = {"width": 1400, "height": 900}, {"width": 390, "height": 844}
BOARD = (sys.executable, "-c", "from windows.cli import main; main()", "board")
ENVIRONMENT = os.environ | {"PYTHONPATH": str(ROOT), "PYTHONUTF8": "1"}


def demo(where, *sites):
    """Copy the demo county, or some of its sites."""
    copy_county(where / "county")
    for site in [each for each in (where / "county").iterdir() if each.is_dir()]:
        if sites and site.name not in sites:
            shutil.rmtree(site)
    return where / "county"


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """Return the page of the demo county and what its board says."""
    here = tmp_path_factory.mktemp("real")
    demo(here)
    done = ran_here(
        "board", "county", "--now", "2026-06-10T18:00", "--seconds", "0.5", "--page", "board.html",
        "--keep", "board.json", cwd=here,
    )  # fmt: skip
    assert done.err == ""
    assert done.status in {0, 3}  # 3 where a laid layer is left without its cover
    page = (here / "board.html").read_text(encoding="utf-8")
    return page, json.loads((here / "board.json").read_text(encoding="utf-8"))


@pytest.fixture
def html(made):
    return made[0]


@pytest.fixture
def told(made):
    return made[1]


# Of every tab the fixture asserts: no error on the console, and nothing asked beyond this machine.


@pytest.mark.exhaustive(every=3)
@pytest.mark.parametrize("dark", [False, True])
@pytest.mark.parametrize("size", [DESK, PHONE])
def test_it_has_no_sideways_scroll_and_asks_for_nothing(tab, html, size, dark):
    showed = tab(html, size=size, dark=dark)
    assert showed.width() <= size["width"]
    for each in ("#grid details.visit-more summary", "#sites summary"):
        showed.page.locator(each).first.evaluate("summary => summary.click()")
    assert showed.width() <= size["width"]
    assert len(showed.asked) == 1  # the page itself


# Once, as axe takes its time: all schemes and sizes are for the boards of test_board.py.
def test_it_is_read_by_everybody(tab, html):
    showed = tab(html, size=PHONE)
    showed.page.locator("#grid details.visit-more summary").first.click()
    assert showed.axe() == []


def test_it_says_what_the_board_says(tab, html, told):
    page = tab(html).page
    expect(page.locator("h1")).to_contain_text("Wed Jun 10 2026, 18:00 CDT")
    expect(page.locator("body")).to_contain_text(GOVERNS)
    assert page.locator(".visit").count() == len(told["assignments"]) > 0
    assert sorted(page.locator("#sites h3").all_inner_texts()) == sorted(
        site["name"] for site in told["sites"]
    )
    crews = page.locator(".crews .name").all_inner_texts()
    assert crews == [crew["name"] for crew in told["crews"]]
    text = page.locator("body").inner_text()
    for caution in {c["text"] for each in told["assignments"] for c in each["cautions"]}:
        assert caution in text
    assert not re.search(r"\b(nan|NaN|NaT|None|undefined|null)\b", text)


@pytest.mark.parametrize("size", [DESK, PHONE])
def test_a_tap_shows_the_hours_of_the_visit(tab, html, told, size):
    page = tab(html, size=size).page
    first = page.locator("details.visit-more").first
    expect(first.locator(".strip table")).not_to_be_visible()
    first.locator("summary").click()
    table = first.locator(".strip table")
    expect(table).to_be_visible()
    expect(table.locator("caption")).to_contain_text("hours for ")
    visits = {
        (each["crew"], next(s["name"] for s in told["sites"] if s["key"] == each["site"]))
        for each in told["assignments"]
    }
    title = first.locator(".more").inner_text()
    assert any(crew in title and site in title for crew, site in visits)
    planned = table.get_by_role("rowheader", name="Planned layer")
    hours = table.locator("thead th, tbody th").all_inner_texts()
    assert {f"{hour:02}" for hour in range(24)} <= {each[:2] for each in hours}
    if size == DESK:
        row = planned.locator("xpath=..").locator("td").all_inner_texts()
        assert any(cell.strip() for cell in row)
    first.get_by_role("button", name="Close").click()
    expect(first.locator(".strip table")).not_to_be_visible()


@pytest.mark.skipif(os.name != "posix", reason="ends the server by a signal")
def test_a_served_board_is_shown_anew_after_a_change(tab, tmp_path):
    county = demo(tmp_path, "mill_pond_school")
    given = (str(county), "--now", "2026-06-10T18:00", "--seconds", "1", "--serve", "0")
    with subprocess.Popen(
        [*BOARD, *given], cwd=tmp_path, env=ENVIRONMENT, encoding="utf-8",
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
    ) as server:  # fmt: skip
        try:
            first = server.stdout.readline()
            url = re.search(r"http://127\.0\.0\.1:\d+/", first)
            assert url, first
            showed = tab(None, url=url[0])
            page = showed.page
            expect(page.locator("h1")).to_contain_text("Evening board")
            page.clock.install()  # its four seconds between two looks are not waited for
            page.reload()
            page.locator("#sites summary").first.click()
            page.evaluate("window.before = true")
            version = page.request.get(f"{url[0]}version").text()
            file = county / "mill_pond_school" / "site.toml"
            text = file.read_text(encoding="utf-8")
            file.write_text(text.replace("Mill Pond school", "Mill Pond & <b>Annex</b>"))
            # The file is looked at every second, the board takes a few.
            end = time.monotonic() + 20
            while page.request.get(f"{url[0]}version").text() == version:
                assert time.monotonic() < end
                time.sleep(0.1)
            with page.expect_event("load"):
                page.clock.run_for(5_000)
            expect(page.locator("#sites h3").first).to_contain_text("Mill Pond & <b>Annex</b>")
            assert page.evaluate("window.before") is None
            assert page.locator("#sites details[open]").count() == 1  # as it was left
            assert all(each.startswith(url[0]) for each in showed.asked)
        finally:
            server.kill()
