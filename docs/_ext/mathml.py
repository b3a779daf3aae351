"""Formulas as MathML, made when the site is built: a page needs no script for them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from docutils import nodes
from latex2mathml.converter import convert
from sphinx.util import logging
from sphinx.util.math import get_node_equation_number

if TYPE_CHECKING:
    from sphinx.application import Sphinx
    from sphinx.writers.html5 import HTML5Translator

_log = logging.getLogger(__name__)


def _mathml(node: nodes.math | nodes.math_block, display: str) -> str:
    text = node.astext().replace("{aligned}", "{align*}")  # which the library does not know
    if "\\\\" in text and "\\begin{" not in text:  # lines of their own, set under each other
        text = f"\\begin{{align*}}{text}\\end{{align*}}"
    try:
        made = str(convert(text, display=display))
        if "<mi>&</mi>" in made:
            raise ValueError("a column mark is left over: that environment is not known")
        return made
    except Exception as error:  # the library raises many kinds; each is the page's fault
        _log.warning("formula %r cannot be read: %r", node.astext(), error, location=node)
        return ""


def _inline(self: HTML5Translator, node: nodes.math) -> None:
    self.body.append(self.starttag(node, "span", "", CLASS="math"))
    self.body.append(_mathml(node, "inline") + "</span>")
    raise nodes.SkipNode


def _block(self: HTML5Translator, node: nodes.math_block) -> None:
    self.body.append(self.starttag(node, "div", CLASS="math"))
    if node.get("number"):
        number = get_node_equation_number(self, node)
        self.body.append(f'<span class="eqno">({number})')
        self.add_permalink_ref(node, "Link to this equation")
        self.body.append("</span>")
    self.body.append(_mathml(node, "block") + "</div>\n")
    raise nodes.SkipNode


def setup(app: Sphinx) -> dict[str, bool]:
    """Register the way to write formulas."""
    app.add_html_math_renderer("mathml", (_inline, None), (_block, None))
    return {"parallel_read_safe": True, "parallel_write_safe": True}
