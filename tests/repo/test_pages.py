"""No page of the documentation is too long to read in one go."""

from __future__ import annotations

from repo.pages import documentation, long_pages
from repo.tree import told

WRITTEN = "docs/reference/cli.md"  # by a script, from the help texts


def test_no_page_has_more_than_400_lines() -> None:
    offenders = [p for p in long_pages(documentation(), limit=400) if not p.startswith(WRITTEN)]
    assert not offenders, told(offenders, "Split these pages:")


def test_the_page_check_counts_lines() -> None:
    assert long_pages([("a.md", "1\n2\n3\n"), ("b.md", "1\n")], limit=2) == ["a.md: 3 lines"]
