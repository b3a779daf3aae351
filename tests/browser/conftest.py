"""One browser for all tests of pages; none of them reaches beyond this machine."""

import os
import shutil
from pathlib import Path

import axe_playwright_python
import pytest
from playwright.sync_api import sync_playwright

FLAGS = (
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
)  # fmt: skip
NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
DESK = {"width": 1400, "height": 900}
AXE = (Path(axe_playwright_python.__file__).parent / "axe.min.js").read_text(encoding="utf-8")


def chromium():
    """Return the path of a Chromium of this machine; ``DEWGAP_CHROMIUM`` names another one."""
    named = os.environ.get("DEWGAP_CHROMIUM")
    return named or next((found for name in NAMES if (found := shutil.which(name))), None)


@pytest.fixture(scope="module")  # not longer: its event loop would be in other tests' way
def browser():
    path = chromium()
    if path is None:
        pytest.skip("no Chromium is found: install Debian's package chromium")
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=path, args=list(FLAGS))
        yield started
        started.close()


class Tab:
    """A page that notes what it asks the network for and what goes wrong on it."""

    def __init__(self, context):
        self.context, self.page = context, context.new_page()
        self.asked, self.wrong = [], []
        self.page.on("request", lambda request: self.asked.append(request.url))
        self.page.on("pageerror", lambda error: self.wrong.append(str(error)))
        self.page.on(
            "console",
            lambda told: told.type in ("error", "warning") and self.wrong.append(told.text),
        )

    def begin(self, size, scheme):
        """Be as a new tab of a size [px] and a color scheme is, whatever was shown before."""
        self.page.mouse.move(0, 0)
        self.page.set_viewport_size(size)
        self.page.emulate_media(media="null", color_scheme=scheme)
        self.asked.clear()
        self.wrong.clear()

    def leave(self):
        """Leave the page, and forget what it kept for the next time."""
        self.page.evaluate("localStorage.clear(); sessionStorage.clear()")
        self.page.goto("about:blank")

    def axe(self, within="html"):
        """Return the findings of axe-core that hinder a reader, each with its elements."""
        # Through the debugger: the page's own policy lets no other script in.
        if not self.page.evaluate("'axe' in window"):
            self.page.evaluate(AXE)
        # All rules are run, but only what breaks them is told whole: the rest is a megabyte.
        passes, violations = self.page.evaluate(
            """within => axe.run(within, {resultTypes: ["violations"]})
                .then(found => [found.passes.length, found.violations])""",
            within,
        )
        assert passes
        return [
            (each["impact"], each["id"], [node["target"] for node in each["nodes"]])
            for each in violations if each["impact"] in ("serious", "critical")
        ]  # fmt: skip

    def width(self):
        """Return how wide the page is, all that sticks out of it included. [px]"""
        return self.page.evaluate("document.documentElement.scrollWidth")


@pytest.fixture(scope="module")
def one_tab(browser):
    """Return a tab in which one page after the other is shown: a new one takes a second."""
    context = browser.new_context()
    yield Tab(context)
    context.close()


@pytest.fixture
def tab(browser, one_tab, tmp_path):
    """Open HTML as a file, as if none was open before; nothing may go wrong or leave the machine.

    A page without script or from a server has a window of its own.
    """
    tabs = []

    def show(html, *, size=DESK, dark=False, script=True, url=None):
        scheme = "dark" if dark else "light"
        if script and url is None and not tabs:
            tabs.append(one_tab)
            one_tab.begin(size, scheme)
        else:
            context = browser.new_context(
                viewport=size, color_scheme=scheme, java_script_enabled=script
            )
            tabs.append(Tab(context))
        if url is None:
            file = tmp_path / "board.html"
            file.write_text(html, encoding="utf-8")
            url = file.as_uri()
        tabs[-1].page.goto(url)
        return tabs[-1]

    yield show
    for each in tabs:
        if each is one_tab:
            each.leave()
        else:
            each.context.close()
        assert not each.wrong
        near = ("file:", "data:", "http://127.0.0.1:")
        assert [url for url in each.asked if not url.startswith(near)] == []
