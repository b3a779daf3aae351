"""Pictures of the program's own pages, taken by Chromium when the site is built.

```{picture} What the picture shows, for those who cannot see it
:command: dewgap windows demo_sites/high_desert --page week.html
:page: week.html
:width: 390
```

Without a Chromium a picture is left out with a word on the screen; where the variable ``CI`` is set
that is a warning, and so an error.
"""

from __future__ import annotations

import io
import os
import shutil
from typing import TYPE_CHECKING, ClassVar

from docutils import nodes
from docutils.parsers.rst import directives
from run import MADE, said, story
from sphinx.util import logging
from sphinx.util.docutils import SphinxDirective

if TYPE_CHECKING:
    from pathlib import Path

    from sphinx.application import Sphinx

_log = logging.getLogger(__name__)
_NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
_FLAGS = (
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
)  # fmt: skip
_COLOURS = 128
_LONGEST_MS = 180_000


def chromium() -> str | None:
    """Return the path of a Chromium of this machine; ``DEWGAP_CHROMIUM`` names another one."""
    named = os.environ.get("DEWGAP_CHROMIUM")
    return named or next((found for name in _NAMES if (found := shutil.which(name))), None)


def take(page: Path, width: int, height: int, scheme: str, click: str | None) -> bytes:
    """Return the upper part of a page as a small PNG."""
    from PIL import Image
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium(), args=list(_FLAGS))
        context = browser.new_context(
            viewport={"width": width, "height": height}, color_scheme=scheme, offline=True
        )
        tab = context.new_page()
        tab.set_default_timeout(_LONGEST_MS)
        tab.goto(page.as_uri())
        if click:
            tab.click(click)
        png = tab.screenshot(animations="disabled")
        browser.close()
    small = io.BytesIO()
    picture = Image.open(io.BytesIO(png)).convert("RGB")
    picture.quantize(_COLOURS, dither=Image.Dither.NONE).save(small, "PNG", optimize=True)
    return small.getvalue()


class Picture(SphinxDirective):
    """A picture of a page that a command makes."""

    required_arguments = 1
    final_argument_whitespace = True
    option_spec: ClassVar = {
        "command": directives.unchanged_required,
        "page": directives.unchanged_required,
        "width": directives.positive_int,
        "height": directives.positive_int,
        "scheme": lambda text: directives.choice(text, ("light", "dark")),
        "click": directives.unchanged_required,
        "status": int,
    }

    def run(self) -> list[nodes.Node]:
        """Return the picture, with its words for those who cannot see it."""
        page, location = story(self.env), self.get_location()
        width, height = self.options.get("width", 1400), self.options.get("height", 900)
        scheme, click = self.options.get("scheme", "light"), self.options.get("click")
        if command := self.options.get("command"):
            due = self.options.get("status", 0)
            answer = said(page, command, due)
            if answer.status != due:
                _log.warning(
                    "%s\nends with status %d:\n%s", command, answer.status, answer.text,
                    location=location,
                )  # fmt: skip
                return []
        name = self.options["page"]
        key = page.add(
            f"picture {name} {width} {height} {scheme} {click}",
            lambda folder: take(folder / name, width, height, scheme, click),
        )
        kept = MADE / "pictures" / f"{key[:16]}.png"
        if not kept.exists():
            if chromium() is None:
                page.steps[-1] = lambda folder: None
                word = _log.warning if os.environ.get("CI") else _log.info
                word("no Chromium is found: the picture of %s is left out", name, location=location)
                return []
            png = page.last()
            assert isinstance(png, bytes)
            kept.parent.mkdir(parents=True, exist_ok=True)
            kept.write_bytes(png)
        uri = f"/{kept.relative_to(MADE.parent).as_posix()}"
        image = nodes.image("", uri=uri, alt=self.arguments[0], classes=["picture"])
        if width < 600:
            image["width"] = f"{width}px"
        return [image]


def setup(app: Sphinx) -> dict[str, bool]:
    """Register the directive ``picture``."""
    app.add_directive("picture", Picture)
    return {"parallel_read_safe": True, "parallel_write_safe": True}
