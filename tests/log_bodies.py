"""Entries of a field log of every kind, with texts that break careless files; for hypothesis."""

from datetime import UTC, date, datetime, timedelta
from functools import cache
from types import UnionType
from typing import Annotated, Literal, Union, get_args, get_origin

from hypothesis import strategies as st

from windows.log import entries as en
from windows.log import fields
from windows.log.chain import FIRST, linked
from windows.log.entries import KINDS, Beside, Draft, Opening, Photo, WetFilm, Withdrawal

NASTY = (
    "=cmd|' /C calc'!A0", "+1", "-5", "@SUM(A1)", "'quoted", "''", "'=1", '"', '""', "a|b", "|",
    "\\", "\\|", "a \\ b", "| |", "@", "610 @ x", " @ ", ";", ",", "a, b; c", "#REF!", "NULL",
    "None", "nan", "0", "00123", "1e5", "3-9", "true", "שלום עולם", "مرحبا", "👷‍♀️🏗️", "e\u0301", "ﬁ",
    "雨", "𝔘", "\u200e=1", "=", "-", "{}", "[1]", "<b>", "&amp;", "%s", "${x}", "a'b", "PAR1",
    "=\u200d",
)  # fmt: skip
LETTERS = st.sampled_from("aZ é|\\@'\"=+-,;:/雨🙂שe\u0301")
LINES = st.sampled_from(NASTY) | st.text(LETTERS, max_size=12)
TEXTS = st.lists(LINES, max_size=3).map("\n".join) | st.sampled_from(("a\tb", "=1\n=2", "x\r\ny"))
TIMES = st.datetimes(datetime(2020, 1, 1), datetime(2040, 1, 1)).map(
    lambda when: when.replace(tzinfo=UTC, microsecond=0)
)
AUTHORS = LINES.filter(str.strip).map(fields._name)
HASHES = st.integers(0, 2**256 - 1).map(lambda number: f"{number:064x}")


def meaning(annotation, given=()):
    """Return the type of a field and all its checks, through Annotated and None."""
    checks = list(given)
    while True:
        if get_origin(annotation) is Annotated:
            annotation, *more = get_args(annotation)
            checks += more
        elif get_origin(annotation) in (UnionType, Union):
            annotation = next(arg for arg in get_args(annotation) if arg is not type(None))
        else:
            break
    inner = [getattr(check, "metadata", ()) or [check] for check in checks]
    return annotation, [each for some in inner for each in some]


_BOUNDS = {
    "ge": "minimum", "le": "maximum", "gt": "exclusiveMinimum", "lt": "exclusiveMaximum",
}  # fmt: skip


def bounds(checks):
    """Return the bounds among checks, as JSON Schema names them."""
    return {
        told: getattr(check, name)
        for check in checks
        for name, told in _BOUNDS.items()
        if getattr(check, name, None) is not None
    }


def text_of(checks):
    """Return which text it is: line, name, text or hash."""
    found = {fields._line: "line", fields._name: "name", fields._text: "text"}
    return next((found[c.func] for c in checks if getattr(c, "func", None) in found), "hash")


def values(annotation, given=()):
    """Return a strategy for what a field may hold."""
    inner, checks = meaning(annotation, given)
    if inner in (int, float):
        told = bounds(checks)
        low = told.get("minimum", told.get("exclusiveMinimum", -1e9))
        high = told.get("maximum", 1e9)
        if inner is int:
            return st.integers(low, high)
        above = "exclusiveMinimum" in told
        edges = [high] if above else [low, high]
        return st.floats(low, high, exclude_min=above) | st.sampled_from(edges)
    if get_origin(inner) is Literal:
        return st.sampled_from(get_args(inner))
    if get_origin(inner) is tuple:
        of = get_args(inner)[0]
        if get_origin(of) is tuple:
            span = st.tuples(st.integers(1, 50), st.integers(0, 50)).map(lambda s: (s[0], sum(s)))
            return st.lists(span, max_size=3).map(tuple)
        return st.lists(values(of), max_size=3).map(tuple)
    if inner in (Photo, WetFilm, Beside):
        return bodies(inner)
    texts = {"line": LINES, "name": LINES.filter(str.strip), "text": TEXTS, "hash": HASHES}
    if inner is str:
        return texts[text_of(checks)]
    days = st.dates(date(2020, 1, 1), date(2040, 1, 1))
    return {bool: st.booleans(), datetime: TIMES, date: days}[inner]


@cache
def bodies(model):
    """Return a strategy for whole tables of a model; what must be there always is."""
    rest = {n: values(f.annotation, f.metadata) for n, f in model.model_fields.items()}
    needed = {n: rest.pop(n) for n, f in model.model_fields.items() if f.is_required()}
    if model in (Withdrawal, en.Note):
        needed["note"] = rest.pop("note").filter(str.strip)
    if model is en.Reading:
        needed["air_temp_c"] = rest.pop("air_temp_c")
    return st.fixed_dictionaries(needed, optional=rest).map(mended).map(model.model_validate)


def mended(fields):
    """Return fields whose times and days are in order."""
    if fields.get("end") is not None and fields["end"] <= fields["at"]:
        fields["end"] = fields["at"] + timedelta(seconds=1 + (fields["end"] - fields["at"]).seconds)
    if fields.get("due") is not None and fields.get("calibrated") is not None:
        fields["calibrated"], fields["due"] = sorted((fields["calibrated"], fields["due"]))
    return fields


ANY = st.sampled_from([k for k in KINDS if k not in {"opening", "withdrawal"}]).flatmap(
    lambda kind: bodies(KINDS[kind])
)


@st.composite
def logs(draw, most=6):
    """Return the entries of a log: an opening, any kinds, and what corrects and withdraws them."""
    written = datetime(2026, 6, 8, tzinfo=UTC)
    opening = Draft(draw(AUTHORS), draw(bodies(Opening)))
    entries = [linked(opening, 1, written, FIRST)]
    standing = []
    for number in range(2, 2 + draw(st.integers(0, most))):
        corrects, body = None, draw(ANY)
        if standing and draw(st.booleans()):
            corrects = standing.pop(draw(st.integers(0, len(standing) - 1)))
            old = entries[corrects - 1].body
            body = draw(bodies(Withdrawal) | bodies(type(old)))
        if body.kind not in {"withdrawal", "repair"}:
            standing.append(number)
        written += timedelta(seconds=draw(st.integers(0, 9)))
        draft = Draft(draw(AUTHORS), body, corrects)
        entries.append(linked(draft, number, written, entries[-1].hash))
    return entries
