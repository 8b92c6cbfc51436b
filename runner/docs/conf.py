"""How the pages are built: `make docs`. Nothing of it asks the network."""

from __future__ import annotations

import sys
import tomllib
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

project = "Coldiron"
author = "the Coldiron contributors"
copyright = "the Coldiron contributors, GPL-3.0-or-later"
_toml = (Path(__file__).parents[2] / "pyproject.toml").read_text(encoding="utf-8")
version = release = str(tomllib.loads(_toml)["project"]["version"])

extensions = ["myst_parser", "sphinx.ext.autodoc", "sphinx.ext.napoleon", "generated_pages"]
exclude_patterns = ["_build", "generated/models.md", "generated/measured.md"]
source_suffix = {".md": "markdown"}
root_doc = "index"

myst_enable_extensions = ["dollarmath", "deflist"]
myst_heading_anchors = 3

autodoc_member_order = "bysource"
autodoc_typehints = "signature"
autodoc_default_options = {"show-inheritance": False}
napoleon_google_docstring = False
napoleon_use_rtype = False
napoleon_preprocess_types = False
default_role = "literal"
smartquotes = False  # two dashes of an option stay two
# Types in docstrings are words for people; two classes of one name are no mistake.
suppress_warnings = ["ref.python"]

html_theme = "furo"
html_title = f"Coldiron {version}"
html_copy_source = False
html_show_sourcelink = False
html_theme_options = {
    "footer_icons": [],
    "light_css_variables": {"color-brand-primary": "#7a1f1f", "color-brand-content": "#7a1f1f"},
    "dark_css_variables": {"color-brand-primary": "#e09a8f", "color-brand-content": "#e09a8f"},
}
