"""Sphinx settings. The pages build without a network; warnings are errors."""

import sys
from pathlib import Path

import lapwright

sys.path.insert(0, str(Path(__file__).parent / "_ext"))

project = "Lapwright"
author = "the Lapwright contributors"
copyright = "2025-2026, the Lapwright contributors"
release = version = lapwright.__version__

extensions = ["myst_parser", "rule_catalogue"]
myst_enable_extensions = ["colon_fence", "deflist", "smartquotes"]
myst_heading_anchors = 2
exclude_patterns = ["_build", "_ext"]
suppress_warnings: list[str] = []
nitpicky = True

html_theme = "furo"
html_title = f"Lapwright {release}"
html_copy_source = False
html_show_sourcelink = False
