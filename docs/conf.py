"""How the site of the documents is built: ``python -m sphinx -W --keep-going docs docs/_build``."""

from __future__ import annotations

import sys
from importlib.metadata import version as version_of
from pathlib import Path

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE / "_ext"), str(HERE.parent)]

project = "dewgap"
version = release = version_of("dewgap")
project_copyright = ""
language = "en"

extensions = [
    "myst_parser", "sphinx.ext.autodoc", "sphinx.ext.napoleon",
    "api", "closed", "commands", "evidence", "keys", "mathml", "notices", "picture", "run",
    "schemas",
]  # fmt: skip
exclude_patterns = ["_build", "_made", "_ext", "_static"]
source_suffix = {".md": "markdown", ".rst": "restructuredtext"}
root_doc = "index"
smartquotes_action = "qe"  # two hyphens are an option, and no dash

# A link or a name that leads nowhere is a warning, and a warning is an error (-W).
nitpicky = True
myst_enable_extensions = ["amsmath", "attrs_inline", "colon_fence", "deflist", "dollarmath"]
myst_heading_anchors = 4
html_math_renderer = "mathml"

# Types of other packages have no page here, and nothing is fetched to find theirs; nor has what a
# module does not offer.
nitpick_ignore_regex = [
    ("py:.*", r"(?!windows\.|cure_models\.).*"),
    ("py:.*", r".*\._\w+"),
    ("py:.*", r"cure_models\.units\.Number"),
]
autodoc_member_order = "bysource"
napoleon_google_docstring = False
napoleon_custom_sections = ["Source", "Sources"]

# Nothing is fetched by a page: fonts of the reader's system, own colours, scripts of the site.
html_theme = "furo"
html_title = "dewgap"
html_static_path = ["_static"]
html_css_files = ["own.css"]
html_copy_source = False
html_show_sphinx = False
html_show_copyright = False
_SANS = 'system-ui, -apple-system, "Segoe UI", "Noto Sans", "DejaVu Sans", sans-serif'
_MONO = 'ui-monospace, "Cascadia Mono", "Noto Sans Mono", "DejaVu Sans Mono", monospace'
html_theme_options = {
    "light_css_variables": {
        "font-stack": _SANS,
        "font-stack--monospace": _MONO,
        "color-brand-primary": "#2f4a43",
        "color-brand-content": "#1d6152",
        "color-brand-visited": "#5a4f6b",
        "color-background-secondary": "#f5f4f0",
        "color-background-border": "#e2e0d8",
        "color-inline-code-background": "#f1efe9",
    },
    "dark_css_variables": {
        "color-brand-primary": "#b9d3ca",
        "color-brand-content": "#8fc7b6",
        "color-brand-visited": "#b9abcb",
        "color-background-primary": "#161917",
        "color-background-secondary": "#1d211f",
        "color-background-border": "#323835",
        "color-inline-code-background": "#242927",
    },
}
