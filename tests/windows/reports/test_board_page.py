"""The page of the evening board: what it holds, that names stay texts, that nothing leaves it."""

import base64
import hashlib
import json
import re
import time
from dataclasses import replace
from html.parser import HTMLParser
from importlib.resources import files
from itertools import pairwise
from zoneinfo import ZoneInfo

import board_cases as cases
import pandas as pd
import pytest

from windows.board.result import Danger
from windows.reports.board_page import board_page
from windows.reports.wording import Wording
from windows.safety import GOVERNS

VOID = {"meta", "link", "br", "img", "rect", "input"}
STYLE = (files("windows.reports.board_page") / "style.css").read_text(encoding="utf-8")


class Read(HTMLParser):
    """What a reader of the page finds: elements with their attributes, and the text of each."""

    def __init__(self, html):
        super().__init__()
        self.elements, self.open = [], []
        self.feed(html)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag, attrs):
        self.elements.append((tag, dict(attrs), []))
        if tag not in VOID:
            self.open.append(self.elements[-1])

    def handle_startendtag(self, tag, attrs):
        self.elements.append((tag, dict(attrs), []))

    def handle_endtag(self, tag):
        assert self.open.pop()[0] == tag

    def handle_data(self, data):
        for _, _, told in self.open:
            told.append(data)

    def all(self, tag, **wanted):
        return [
            "".join(told) for name, attrs, told in self.elements
            if name == tag and all(attrs.get(key.strip("_")) == v for key, v in wanted.items())
        ]  # fmt: skip


@pytest.fixture(scope="module")
def html():
    return board_page(cases.rich(), "us")


@pytest.fixture(scope="module")
def read(html):
    return Read(html)


def strips(html):
    return json.loads(Read(html).all("script", id="hours")[0])


def test_the_head_tells_the_evening_and_who_governs(read):
    assert read.all("h1") == ["Evening board, Thu May 7 2026, 18:30 EDT"]
    head = read.all("header")[0]
    assert GOVERNS in head
    for told in ("5", "10", "(65%)", "at most 2.6% from the best plan"):
        assert told in head


def test_faults_come_first_and_deadlines_in_danger_before_the_grid(read):
    assert read.all("h2") == [
        "Faults in the input (2)", "Deadlines in danger (7)", "Crews by days",
        "Cautions that go with these visits", "Deadlines covered in time by the plan (1)",
        "Not done in these days (2)", "Promises that moved (2)", "Sites", "How to read this board",
    ]  # fmt: skip
    marks = [told for told in read.all("th", scope="row") if told[2:] in {d.value for d in Danger}]
    assert [told[2:] for told in marks] == [danger.value for danger in Danger]


def test_headings_are_in_order(read):
    levels = [int(tag[1]) for tag, _, _ in read.elements if re.fullmatch("h[1-6]", tag)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))


def test_ids_are_unique_and_labels_have_their_targets(read):
    ids = [attrs["id"] for _, attrs, _ in read.elements if "id" in attrs]
    assert len(ids) == len(set(ids))
    wanted = [a[k] for _, a, _ in read.elements for k in ("for", "aria-labelledby") if k in a]
    wanted += [a["href"][1:] for tag, a, _ in read.elements if tag == "a"]
    assert set(wanted) <= set(ids)


def test_a_cell_tells_all_of_a_visit(read):
    cell = read.all("div", class_="visit")[0]
    for told in (
        cases.NASTY, "partly new", "07:30-15:30 EDT", "1 base on North <1> 1, North <1> 2",
        "Least chance to hold: 70% (64% to 76%)", "42 min to drive one way",
        "surface above dew point, least: 5.2°F to spare; wind while spraying, most: 2.9 mph",
        "GO, all of it, until 15:30", "Time to call off (Thu May 7 17:00) has passed",
        "Cautions 1, 2", "3,229 ft²", "Go for the whole shift",
        "07:00-08:00 blocked: no_dew; spread_min",
        "share of forecast runs", "Fall edges", "Gusts near the limit",
    ):  # fmt: skip
        assert told in cell


def test_old_weather_stands_beside_every_verdict_that_comes_from_it(read):
    for told in read.all("div", class_="visit"):
        verdict = told.partition("Hours and reasons")[0]
        assert ("STALE weather" in verdict) == ("Cold store" in verdict)


def test_each_cell_says_until_when_to_decide_or_that_the_work_is_under_way(read):
    cells = [told.partition("Hours and reasons") for told in read.all("div", class_="visit")]
    assert set(read.all("p", class_="by")) == {
        "Time to call off (Thu May 7 17:00) has passed", "Decide by Fri May 8 17:00",
        "Decide by Sat May 9 17:00", "Decide by Sun May 10 17:00", "Decide by Mon May 11 17:00",
    }  # fmt: skip
    begun = [(cell, more) for cell, _, more in cells if "under way" in cell]
    assert len(begun) == 2
    for cell, more in begun:
        assert "Decide" not in cell
        assert "The work is under way: nothing is left to decide." in more
    assert not any("costs are given" in more or "costs given" in cell for cell, _, more in cells)


def test_cautions_stand_in_rising_order():
    board = cases.rich()
    first = board.assignments[0]
    turned = replace(first, cautions=first.cautions[::-1])
    later = replace(board.assignments[1], cautions=(cases.EDGE, cases.WIND, cases.HEAT))
    html = board_page(replace(board, assignments=(turned, later)), "us")
    assert Read(html).all("p", class_="care") == ["Cautions 1, 2", "Cautions 1, 2, 3"]
    one = replace(first, cautions=(cases.EDGE,))
    html = board_page(replace(board, assignments=(one,)), "us")
    assert Read(html).all("p", class_="care") == ["Caution 1"]


def test_areas_have_thousands(read):
    assert "27,125 ft² of 41,979 ft²" in read.all("header")[0]


def test_money_is_in_the_currency_of_the_board():
    html = board_page(replace(cases.rich(), currency="EUR"), "us")
    cell = Read(html).all("div", class_="visit")[0]
    assert "1,525 EUR" in cell
    assert "$" not in cell


def test_layers_of_one_day_have_a_strip_each_with_their_own_plan():
    board = cases.rich()
    visit = board.assignments[0]
    day = visit.day
    works = (
        cases.work("A", 0, day, 8, 10, cases.CHANCES[0]),
        cases.work("B", 1, day, 10, 12.5, cases.CHANCES[0]),
    )
    strips_of = tuple(cases.strip("depot", day, layer=layer) for layer in ("base", "top"))
    site = replace(board.sites[0], strips=strips_of)
    html = board_page(
        replace(
            board, sites=(site, *board.sites[1:]), assignments=(replace(visit, works=works),)
        ),
        "us",
    )
    place = next(a for _, a, _ in Read(html).elements if "data-plan" in a)
    data = strips(html)
    assert [data["strips"][int(n)]["t"].rpartition("for ")[2] for n in
            place["data-strip"].split()] == ["base (acrylic)", "top (acrylic)"]  # fmt: skip
    plans = [data["plans"][int(n)] for n in place["data-plan"].split()]
    planned = [{n: told for n, told in enumerate(plan) if told} for plan in plans]
    assert planned == [{8: "1", 9: "1"}, {10: "2", 11: "2", 12: "2"}]


def test_numbers_of_several_hours_say_of_how_many():
    board = cases.rich()
    strip = board.sites[0].strips[0]
    hours = tuple(
        replace(hour, rain_prob=0.3, rain_prob_block_h=12.0, rain_mm=0.254, rain_block_h=12.0)
        if 6 <= n < 18 else replace(hour, rain_prob_block_h=1.0, rain_block_h=1.0)
        for n, hour in enumerate(strip.hours)
    )  # fmt: skip
    site = replace(board.sites[0], strips=(replace(strip, hours=hours),))
    packed = strips(board_page(replace(board, sites=(site, *board.sites[1:])), "us"))["strips"][0]
    chance, rain = (packed[key].split(" ") for key in "pr")
    assert chance == ["20"] * 6 + ["30%\u00a0in\u00a012\u00a0h"] * 12 + ["20"] * 6
    assert rain[5:7] == ["0.00", "0.12\u00a0in\u00a0over\u00a012\u00a0h"]  # twelve shares of 0.01
    assert len(rain) == 24
    same = tuple(replace(hour, rain_prob=0.3, rain_prob_block_h=6.0) for hour in strip.hours)
    site = replace(site, strips=(replace(strip, hours=same),))
    packed = strips(board_page(replace(board, sites=(site, *board.sites[1:])), "us"))["strips"][0]
    assert set(packed["p"].split(" ")) == {"30%\u00a0in\u00a0each\u00a06\u00a0h"}
    gone = replace(hours[6], rain_prob=None)
    site = replace(site, strips=(replace(strip, hours=(gone,)),))
    packed = strips(board_page(replace(board, sites=(site, *board.sites[1:])), "us"))["strips"][0]
    assert packed["p"] == "-"


def test_every_slot_of_the_grid_has_a_visit_or_a_reason(read):
    slots = read.all("li", class_="slot") + read.all("li", class_="slot rest")
    assert len(slots) == 3 * 6
    idle = read.all("li", class_="slot rest")
    assert len(idle) == 18 - 10
    assert all("Idle: " in told for told in idle)


def test_times_are_on_the_clock_of_each_site(read):
    mesa = next(told for told in read.all("div", class_="visit") if "Mesa" in told)
    assert "07:30-15:30 MDT" in mesa
    east = tuple(each for each in cases.rich().sites if each.key != "mesa")
    board = replace(
        cases.rich(), sites=east, moved=(), undone=(), deadlines=(),
        assignments=tuple(each for each in cases.rich().assignments if each.site != "mesa"),
    )  # fmt: skip
    assert "EDT, UTC" in board_page(board, "us")
    assert "07:30-15:30 EDT" not in board_page(board, "us")


def test_unknown_hours_and_chances_are_told_as_not_known(read):
    told = "".join(read.all("div", class_="visit"))
    assert "Chance to hold: not known" in told
    assert "10:00-17:00 not known: wind_max_spray; no_rain until rain-safe" in told


def test_sites_tell_state_weather_and_climate(read):
    sites = "".join(read.all("ul", class_="plain sites"))
    for told in (
        "3 of 12 layers laid", "MET Norway, issued 31 h ago", "STALE weather", "forecast too old",
        "finished", "by the climate of past years and not a forecast: Thu May 14: workable 40%",
        "The service gave no new answer", "America/Denver (MDT, UTC-06:00)",
    ):  # fmt: skip
        assert told in sites


def test_a_day_without_hours_is_not_called_fine():
    board = cases.rich()
    bare = tuple(replace(each, strips=()) for each in board.sites)
    told = Read(board_page(replace(board, sites=bare), "us")).all("div", class_="visit")
    assert all("The hours of this day are not known." in each for each in told)
    assert not any("are OK" in each for each in told)


def test_names_stay_texts(html, read):
    tags = {tag for tag, _, _ in read.elements}
    assert "img" not in tags
    assert len(read.all("script")) == 2
    for name in (cases.NASTY, cases.NASTY_CREW, cases.RIGHT_TO_LEFT):
        assert any(name in told for told in read.all("bdi"))
    assert not any(key.startswith("on") for _, attrs, _ in read.elements for key in attrs)
    assert not any("style" in attrs for _, attrs, _ in read.elements)
    assert "<script>alert" not in html


def test_the_policy_allows_the_page_and_nothing_else(html, read):
    policy = next(a["content"] for t, a, _ in read.elements if "http-equiv" in a and t == "meta")
    rules = dict(rule.split(" ", 1) for rule in policy.split("; "))
    assert rules["default-src"] == rules["base-uri"] == rules["form-action"] == "'none'"
    assert "connect-src" not in rules
    for name, tag in (("style-src", "style"), ("script-src", "script")):
        text = re.search(f"<{tag}>(.*?)</{tag}>", html, re.DOTALL).group(1)
        digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
        assert rules[name] == f"'sha256-{digest}'"
    assert not re.search(r"(src|href)=\"(?!#|data:,)", html)
    assert "http://" not in html
    assert "https://" not in html


def test_only_a_served_page_asks_for_news(html):
    served = board_page(cases.rich(), "us", refresh=True)
    assert "connect-src 'self'" in served
    assert '<html lang="en" data-refresh="1">' in served
    assert '<html lang="en">' in html


def test_strips_hold_the_numbers_in_the_readers_units():
    board = cases.rich()
    for units in ("us", "si"):
        words = Wording(units, cases.EAST)
        data = strips(board_page(board, units))
        hours = board.sites[0].strips[0].hours
        packed = data["strips"][0]
        assert packed["s"] == "".join(hour.state[0] for hour in hours)
        assert [data["why"][n] for n in packed["w"]] == ["; ".join(hour.why) for hour in hours]
        for key, of, name in (
            ("a", "temperature", "air_temp_c"), ("f", "temperature", "surface_temp_c"),
            ("m", "speed", "wind_m_s"), ("r", "water", "rain_mm"), ("k", "fraction", "chance"),
        ):  # fmt: skip
            told = [words.value(getattr(hour, name), of) for hour in hours]
            shown = packed[key].split(" ")
            assert [text.removesuffix(words.unit(of)).strip() for text in told] == shown
    unknown = next(s for s in data["strips"] if "u" in s["s"])
    assert [n for n, letter in enumerate(unknown["s"]) if letter == "u"] == [
        n for n, told in enumerate(unknown["a"].split(" ")) if told == "-"
    ]


@pytest.mark.parametrize(
    ("day", "zone", "hours", "first"),
    [
        ("2026-03-08", "America/New_York", 23, ["00 EST", "01 EST", "03 EDT"]),
        ("2026-11-01", "America/New_York", 25, ["00 EDT", "01 EDT", "01 EST", "02 EST"]),
        ("2026-11-02", "America/New_York", 24, ["00", "01", "02"]),
        ("2026-06-01", "America/St_Johns", 24, ["00:30", "01:30", "02:30"]),
    ],
)
def test_hours_of_the_local_day(day, zone, hours, first):
    zone, board = ZoneInfo(zone), cases.rich()
    strip = cases.strip("depot", pd.Timestamp(day).date(), zone)
    if ":" in first[0]:
        late = pd.Timedelta(minutes=30)
        moved = tuple(replace(hour, start=hour.start + late) for hour in strip.hours)
        strip = replace(strip, hours=moved)
    site = replace(board.sites[0], zone=zone, strips=(strip,))
    data = strips(board_page(replace(board, sites=(site, *board.sites[1:])), "us"))
    clock = data["clocks"][data["strips"][0]["l"]]
    assert len(clock) == hours
    assert clock[: len(first)] == first


def test_an_empty_board_is_a_page():
    html = board_page(cases.empty(), "si")
    assert "The board has no day to plan." in html
    assert "No site is on the board." in html
    assert GOVERNS in Read(html).all("header")[0]
    some = replace(cases.empty(), days=cases.days())
    assert "No crew is on the board." in board_page(some, "si")


def test_a_board_of_100_sites_is_small_and_quick():
    board = cases.big()
    start = time.process_time()
    html = board_page(board, "us")
    spent = time.process_time() - start
    assert len(html.encode()) < 6_000_000
    assert spent < 2 * 2.5  # 2 s on a quiet machine; this one may be shared
    assert len(re.findall(r'<div class="visit"', html)) == 100


# ---- contrast ----
def colors(block):
    return dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6})", block))


def contrast(one, two):
    """Return the contrast of two colors by WCAG 2.2, from relative luminance."""

    def luminance(color):
        parts = [int(color[n : n + 2], 16) / 255 for n in (1, 3, 5)]
        linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    low, high = sorted((luminance(one), luminance(two)))
    return (high + 0.05) / (low + 0.05)


BLOCKS = re.findall(r":root[^{]*\{[^}]*--page[^}]*\}", STYLE)


@pytest.mark.parametrize("block", BLOCKS[:3])
def test_texts_stand_out_from_their_ground(block):
    shown = colors(block)
    pairs = [
        ("ink", "page"), ("ink", "panel"), ("soft", "page"), ("soft", "panel"), ("soft", "hatch"),
        ("accent", "panel"), ("accent", "page"), ("band-ink", "band"), ("band-soft", "band"),
        *((f"{name}-ink", name) for name in ("go", "wait", "close", "no", "unknown", "ok",
                                             "blocked")),
    ]  # fmt: skip
    for text, ground in pairs:  # 4.5 is level AA of WCAG 2.2 for texts, 3 for what is no text
        assert contrast(shown[text], shown[ground]) >= 4.5, (text, ground)
    for mark, ground in (("focus", "page"), ("focus", "panel"), ("bar-span", "bar")):
        wanted = 3 if mark == "focus" else 1.4  # the bar only repeats what stands in words
        assert contrast(shown[mark], shown[ground]) >= wanted, (mark, ground)


def test_the_dark_colors_stand_twice_and_are_the_same():
    assert len(BLOCKS) == 4  # light, dark by the system, dark by the button, print
    assert colors(BLOCKS[1]) == colors(BLOCKS[2])
    assert set(colors(BLOCKS[0])) == set(colors(BLOCKS[1]))
