"""The record on paper: one set of blocks, the same words on the page and in the PDF."""

import hashlib
import io
import re
import time
from dataclasses import replace
from datetime import date
from functools import cache
from html.parser import HTMLParser

import pandas as pd
import plan_cases
import pytest
from fontTools.ttLib import TTFont
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from outside import library
from pypdf import PdfReader
from record_cases import FT2, GAL, MIL, NEW_YORK, Log, local

from cure_models.system import load_system
from windows.field.record import record
from windows.job_file import JobFile, Section
from windows.layers import system_hours
from windows.log.entries import Beside, Photo, Reading, WetFilm
from windows.reports.paper import Facts, Heading, Paper, Paragraphs, Signatures, Table
from windows.reports.record_page import record_page
from windows.reports.record_paper import record_paper
from windows.reports.record_pdf import record_pdf
from windows.reports.wording import Wording
from windows.safety import GOVERNS_RECORD

EVIL = 'Şantiye "Łódź" <script>alert(1)</script> & \\ 🙂 漢字'


def whole_log():
    """Return a log with something of every kind."""
    log = Log()
    log.told(
        "instrument", "2026-06-01 06:10", serial="IR-204", what="infrared thermometer",
        maker="Maker", model="M2", calibrated=date(2026, 1, 5), due=date(2027, 1, 5),
    )  # fmt: skip
    log.told(
        "moisture", "2026-06-01 06:30", section="North", where="drain", moisture=0.18, limit=0.16,
        method="impedance", instruments=("M-9",),
    )  # fmt: skip
    log.told(
        "adhesion", "2026-06-01 06:35", section="North", pull_off_kpa=180.0, method="pull-off",
        failure="cohesive in the sheet", passes=True,
    )  # fmt: skip
    beside = Beside(
        source="forecast", issued=local("2026-06-01 05:00"), air_temp_c=19.2, dew_point_c=8.8,
        wind_m_s=3.4, surface_temp_c=23.1,
    )  # fmt: skip
    log.read(
        "2026-06-01 07:40", section="North", wind_m_s=3.0, gust_m_s=5.0, wind_from_deg=210.0,
        cloud=0.3, instruments=("IR-204",), occasion="before start", beside=beside,
        flags=("Check the gauge.",),
    )  # fmt: skip
    films = (24, 24, 26, 22, 20)
    log.placed(
        "2026-06-01 08:00", "2026-06-01 12:10", volume_l=15 * GAL, batches=("B-1", "B-2"),
        crew="4 people", method="spray", direction="north to south", note=EVIL,
        wet_film=tuple(WetFilm(film_um=f * MIL, where=f"grid {f}") for f in films),
        photos=(Photo(file="p/ne.jpg", sha256=hashlib.sha256(b"x").hexdigest(), size=2345),),
    )  # fmt: skip
    log.read("2026-06-01 12:00", surface_temp_c=None, dew_point_c=9.4, rel_humidity=None)
    log.read("2026-06-01 12:30", occasion="logger")
    log.told("rain", "2026-06-01 15:10", end="2026-06-01 15:25", rain_mm=1.2)
    log.told("covering", "2026-06-01 16:00", section="North", layer="base", what="sheet")
    log.told("preparation", "2026-06-02 07:00", section="North", layer="base", what="washed")
    old = log.placed("2026-06-02 08:00", "2026-06-02 11:00", section="South")
    log.placed(
        "2026-06-02 08:30", "2026-06-02 11:00", section="South", volume_l=14 * GAL, corrects=old,
        note="the start was misread",
    )  # fmt: skip
    log.placed("2026-06-03 09:00", "2026-06-03 12:00", layer="top", volume_l=16 * GAL)
    log.told("dry_film", "2026-06-04 09:00", section="North", film_um=14 * MIL, method="slit")
    gone = log.told("note", "2026-06-03 13:00", note="wrong section")
    log.withdraw(gone, "2026-06-03 13:05", "of another roof")
    log.told("repair", "2026-06-04 10:00", missing=((40, 42), (50, 50)), source_sha256="a" * 64)
    return log


def paper_of(log, *, day=None, units="us", weather=8, name="Test roof", system="acrylic_two_coat"):
    """Return the paper of a log."""
    system, site = load_system(system), plan_cases.site().model_copy(update={"name": name})
    hours = None
    if weather:
        table = plan_cases.weather(weather, "2026-06-01T00:00Z")
        hours = system_hours(site, system, table, start_wet_mm=0.0)
    sections = tuple(Section(name=each, area="1000 ft2") for each in ("North", "South"))
    found = record(
        log.entries, site=site, system=system, job=JobFile(section=sections),
        now=local("2026-06-05 12:00"), day=None if day is None else date.fromisoformat(day),
        head=log.head, in_weather=hours,
    )  # fmt: skip
    return record_paper(found, Wording(units, found.zone))


@cache  # it is only read
def whole_paper(**given):
    """Return the paper of the log with something of every kind."""
    return paper_of(whole_log(), **given)


def texts(paper):
    """Return every text of a paper's blocks."""
    for block in paper.blocks:
        match block:
            case Heading():
                yield block.text
            case Facts():
                yield from (text for pair in block.pairs for text in pair)
            case Table():
                yield from (f"{name[:1].upper()}{name[1:]}" for name in block.columns)
                yield from (cell for row in block.rows for cell in row)
            case Paragraphs():
                yield from block.lines
            case Signatures():
                yield block.statement
                yield from block.places


def table(paper, heading):
    """Return the rows of the first table below a heading."""
    blocks = list(paper.blocks)
    (at,) = [n for n, each in enumerate(blocks) if isinstance(each, Heading)
             and each.text.startswith(heading)]  # fmt: skip
    return next(each for each in blocks[at:] if isinstance(each, Table)).rows


def fact(paper, name):
    return [told for block in paper.blocks if isinstance(block, Facts)
            for key, told in block.pairs if key == name]  # fmt: skip


def squeezed(text):
    """Return a text without white space: lines break where they must."""
    return re.sub(r"\s", "", text)


def read(pdf):
    """Return the text of each page of a PDF."""
    return [page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages]


def with_glyphs(text):
    """Return a text as the PDF tells it: what the font lacks by its number."""
    return "".join(
        sign if sign == "\n" or ord(sign) in GLYPHS else f"[U+{ord(sign):04X}]" for sign in text
    )


class _Text(HTMLParser):
    def __init__(self):
        super().__init__()
        self.told, self.tags, self.skip = [], [], False

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        self.skip = tag in ("style", "script")

    def handle_endtag(self, tag):
        self.skip = False

    def handle_data(self, data):
        if not self.skip:
            self.told.append(data)


def glyphs():
    from importlib.resources import as_file, files

    with as_file(files("windows.reports") / "fonts" / "DejaVuSans.ttf") as path:
        return frozenset(TTFont(path).getBestCmap())


GLYPHS = glyphs()


# --- words --------------------------------------------------------------------------------------


def test_the_paper_has_what_a_record_must_hold():
    paper = whole_paper()
    told = "\n".join(texts(paper)).replace("\N{NO-BREAK SPACE}", " ")
    for wanted in (
        "B-1, B-2", "1.50 gal/100 ft²", "15 gal", "1000 ft²", "north to south", "spray",
        "4 people", "5 taken, 10 needed", "lowest 20 mil", "grid 26", "5: 20 mil (grid 20)",
        "ABOVE THE LIMIT", "26.1 psi", "p/ne.jpg", hashlib.sha256(b"x").hexdigest()[:12], "IR-204",
        "2026-01-05", "2027-01-05", "M-9", "corrected by entry 13", "withdrawn by entry 17",
        "the start was misread", "40 to 42, 50", "washed", "sheet", "MISSED", "Check the gauge.",
        "first layer of the system", "generic", "Applicator", "Superintendent",
    ):  # fmt: skip
        assert wanted in told, wanted
    assert whole_paper().foot.startswith("Log of 18 entries, last hash ")


@pytest.mark.parametrize("units", ["us", "si"])
@pytest.mark.parametrize("day", [None, "2026-06-01", "2026-06-03"])
@pytest.mark.parametrize("weather", [0, 8])
def test_no_cell_is_empty_or_no_number(units, day, weather):
    paper = whole_paper(day=day, units=units, weather=weather)
    for text in texts(paper):
        assert text.strip()
        assert not re.search(r"\bnan\b|\bNone\b|\binf\b|NaT", text), text


def test_readings_stand_as_read_with_the_source_beside():
    (first, second) = table(whole_paper(day="2026-06-01"), "Conditions")
    assert first[2] == "68°F\nsource 66.6°F"
    assert first[3] == "77°F\nsource 73.6°F"
    assert first[4] == "50%\nsource not known"
    assert first[5].startswith("48.7°F\n")
    assert first[7] == "6.7 mph, gust 11.2 mph, from 210°\nsource 7.6 mph"
    assert "source: forecast, issued 05:00" in first[1]
    assert second[3] == "not read"
    assert second[5] == "48.9°F*"
    assert second[6] == "not known"


def test_units_are_the_readers():
    told = "\n".join(texts(whole_paper(units="si")))
    assert "180 kPa" in told
    assert "°F" not in told.replace("degF", "")
    assert "mil (" not in told


def test_times_are_by_the_sites_clock_and_one_that_comes_twice_has_its_name():
    log = Log(opened="2026-11-01 00:00")
    once = pd.Timestamp("2026-11-01 05:30", tz="UTC").to_pydatetime()
    for hour in range(2):
        log.add(Reading(at=once.replace(hour=5 + hour), air_temp_c=10.0))
    rows = table(paper_of(log, day="2026-11-01", weather=0), "Conditions")
    assert [row[1].split(",")[0] for row in rows] == ["01:30 EDT", "01:30 EST"]
    assert fact(paper_of(log, weather=0), "Time zone")[0].startswith("America/New_York (EDT")


def test_an_empty_day_says_so():
    paper = whole_paper(day="2026-06-20")
    lines = [line for b in paper.blocks if isinstance(b, Paragraphs) for line in b.lines]
    assert "Nothing was recorded on Saturday, June 20, 2026." in lines
    assert "Nothing was recorded in this log." in "\n".join(texts(paper_of(Log())))
    for each in (paper, paper_of(Log())):
        assert "Nothing was recorded" in " ".join(read(record_pdf(each)))
        assert "Nothing was recorded" in record_page(each)


def test_a_deadline_that_is_not_known_is_told_as_that():
    log = Log()
    log.placed("2026-06-01 08:00", "2026-06-01 12:00")
    log.placed("2026-06-02 12:00", "2026-06-02 14:00", layer="top")
    rows = table(paper_of(log, weather=0), "Recoat")
    (opens,) = [row for row in rows if row[4] == "recoat opens"]
    assert opens[5] == "not known"
    assert opens[6].startswith("not known")
    assert "no weather is given" in "\n".join(texts(paper_of(log, weather=0)))


def test_a_broken_chain_is_told():
    log = whole_log()
    log.entries[4] = replace(log.entries[4], previous="f" * 64)
    assert "THEY DO NOT FIT TOGETHER" in "\n".join(texts(paper_of(log)))
    del log.entries[6:8]
    assert "Not among them: 7 to 8." in "\n".join(texts(paper_of(log)))
    day = "\n".join(texts(paper_of(log, day="2026-06-01")))
    assert "made of 16 entries of the log, from 1 to 18" in day  # a day need not have them all
    assert "Not among them" not in day


# --- page ---------------------------------------------------------------------------------------


def test_the_page_has_every_text_escaped_and_asks_for_nothing():
    paper = whole_paper(name=EVIL)
    page = record_page(paper)
    parser = _Text()
    parser.feed(page)
    shown = squeezed("".join(parser.told))
    for text in texts(paper):
        assert squeezed(text) in shown, text
    assert squeezed(GOVERNS_RECORD) in shown
    assert page.count(GOVERNS_RECORD.replace("'", "&#x27;")) == 1
    names = {tag for tag, _ in parser.tags}
    assert not names & {"script", "img", "link", "iframe", "object"}
    assert not {"src", "href", "onclick"} & {key for _, attrs in parser.tags for key in attrs}
    assert "url(" not in page
    assert "http" not in page
    assert len(page) < 100_000


def test_names_do_not_break_out_of_the_style_of_the_page():
    page = record_page(paper_of(Log(), name='x"; } body { display: none } </style><b>'))
    style = page.split("<style>")[1].split("</style>")[0]
    assert "display: none }" not in style
    assert style.count("{") == style.count("}")


# --- PDF ----------------------------------------------------------------------------------------


@pytest.mark.exhaustive(every=3)
@pytest.mark.parametrize("size", ["letter", "a4"])
@pytest.mark.parametrize("day", [None, "2026-06-01"])
def test_the_pdf_has_every_text_of_the_paper(size, day, outside):
    paper = whole_paper(day=day, name=EVIL)
    pdf = record_pdf(paper, size)
    pages = read(pdf)
    shown = squeezed("".join(pages))
    for text in (*texts(paper), paper.title, paper.subject, GOVERNS_RECORD):
        assert squeezed(with_glyphs(text)) in shown, text
        outside.found(
            "texts of a record's page in its PDF, letter and A4", points=1, allowed="all there",
            worst="all there", source=library("pypdf"),
        )  # fmt: skip
    assert shown.count(squeezed(GOVERNS_RECORD)) == 1
    assert "[U+6F22][U+5B57]" in shown
    box = PdfReader(io.BytesIO(pdf)).pages[0].mediabox
    assert (round(box.width), round(box.height)) == {"letter": (612, 792), "a4": (595, 842)}[size]


def test_every_page_has_its_number_the_job_and_the_hash():
    paper = whole_paper()
    pages = read(record_pdf(paper))
    assert len(pages) > 2
    for number, page in enumerate(pages, start=1):
        assert f"Page {number} of {len(pages)}" in page
        assert paper.running in page
        assert paper.foot in page


def test_the_same_record_gives_the_same_bytes():
    first = record_pdf(paper_of(whole_log()))
    time.sleep(1.01 - time.time() % 1)  # into the next second: a PDF tells its making to one
    assert record_pdf(paper_of(whole_log())) == first


def test_the_pdf_tells_what_it_is_and_when_it_was_made():
    told = PdfReader(io.BytesIO(record_pdf(whole_paper(day="2026-06-01")))).metadata
    assert told.title == "Daily application record: Test roof, Monday, June 1, 2026"
    assert told.author is None
    assert told.creation_date == local("2026-06-05 12:00")


def of_table(rows, columns=("Entry", "Note")):
    now = pd.Timestamp("2026-06-05", tz="UTC")
    return Paper("Record", "roof", "roof: record", "foot", now, (Heading("A table"),
                 Table(columns, tuple(rows))))  # fmt: skip


def test_a_long_table_breaks_with_its_head_on_each_page_and_is_quick():
    columns = ("Entry", "Time", "Air", "Surface", "Humidity", "Dew", "Spread", "Wind", "Sky", "By")
    rows = [(str(n), f"2026-06-01 {n}", *("68.1°F",) * 7, f"hand {n}") for n in range(400)]
    began = time.perf_counter()
    pdf = record_pdf(of_table(rows, columns))
    # A hang, not a benchmark: half a second where it was made.
    assert time.perf_counter() - began < 30
    pages = read(pdf)
    assert len(pages) > 8
    assert all("Humidity" in page for page in pages)
    shown = squeezed("".join(pages))
    assert all(f"2026-06-01{n}68.1" in shown for n in range(0, 400, 97))


def test_a_note_longer_than_a_page_goes_on_over_pages():
    note = " ".join(f"word{n}" for n in range(4000))
    pages = read(record_pdf(of_table([("1", note), ("2", "after")])))
    assert len(pages) > 3
    words = set(" ".join(pages).split())
    assert all(f"word{n}" in words for n in range(4000))
    assert "after" in words


def test_a_word_wider_than_its_column_is_cut_and_whole():
    word = "x" * 180 + "Y" + "z" * 18
    pages = read(record_pdf(of_table([("1", word, "b")], ("Entry", "Note", "By"))))
    assert word in squeezed("".join(pages))


@settings(max_examples=8, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.lists(
        st.text(st.characters(exclude_categories=("C", "Z"), max_codepoint=0x1FFFF), min_size=1),
        min_size=1, max_size=8,
    )
)  # fmt: skip
def test_no_sign_breaks_a_pdf_or_vanishes(words):
    pdf = record_pdf(of_table([("1", " ".join(words))]))
    content = PdfReader(io.BytesIO(pdf)).pages[0]
    assert content.extract_text()
    record_page(of_table([("1", " ".join(words))]))


SIGNS = ("漢", "🙂", "\U0001d538", "Ş", "Ł", "µ", "²", "é", "Ω", "Ж")


@pytest.fixture(scope="module")
def signs_shown():
    """Return the text of a PDF with a row for each sign."""
    rows = [(str(number), f"a{sign}b") for number, sign in enumerate(SIGNS)]
    return squeezed("".join(read(record_pdf(of_table(rows)))))


@pytest.mark.parametrize("sign", SIGNS)
def test_a_sign_is_shown_or_told_by_its_number(signs_shown, sign):
    assert squeezed(with_glyphs(f"a{sign}b")) in signs_shown


def test_strips_foam_and_unknown_layers_are_told_in_words():
    log = Log()
    log.placed("2026-06-01 08:00", "2026-06-01 12:00", layer="tar", area_m2=10 * FT2)
    told = "\n".join(texts(paper_of(log)))
    assert "no target: the system has no layer of this name" in told
    log = Log()
    log.placed("2026-06-01 08:00", "2026-06-01 12:00", layer="foam")
    foam = "\n".join(texts(paper_of(log, system="spf_acrylic")))
    assert "a foam is not gauged wet" in foam
    assert NEW_YORK.key in foam
