"""A page of the site asks for nothing beyond the site: what would be fetched is a warning."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

from sphinx.util import logging

if TYPE_CHECKING:
    from sphinx.application import Sphinx

_log = logging.getLogger(__name__)
_ELSEWHERE = r"""["'(]?\s*(?:https?:)?//"""
_FETCHES = (
    rf"<(?:script|img|iframe|source|audio|video|embed)\b[^>]*\bsrc={_ELSEWHERE}[^>]*",
    rf"<link\b[^>]*\bhref={_ELSEWHERE}[^>]*",
    rf"@import\s*(?:url)?{_ELSEWHERE}[^;]*",
    rf"url\({_ELSEWHERE}[^)]*",
)


def fetched(text: str) -> list[str]:
    """Return what a page or a style sheet would fetch from elsewhere."""
    return [found.group() for pattern in _FETCHES for found in re.finditer(pattern, text)]


def _check(app: Sphinx, fault: Exception | None) -> None:
    if fault is not None or app.builder.format != "html":
        return
    for path in sorted(Path(app.outdir).rglob("*")):
        if path.suffix in (".html", ".css"):
            for found in fetched(path.read_text(encoding="utf-8")):
                _log.warning("%s would fetch %s", path.relative_to(app.outdir), found)


def setup(app: Sphinx) -> dict[str, bool]:
    """Look at all pages when they are written."""
    app.connect("build-finished", _check)
    return {"parallel_read_safe": True, "parallel_write_safe": True}
