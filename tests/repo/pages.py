"""The pages of the documentation: how long they may be."""

from __future__ import annotations

from collections.abc import Iterable

from repo.tree import all_files, read


def documentation() -> list[tuple[str, str]]:
    """Return path and text of every page."""
    pages = (path for path in all_files() if path.startswith("docs/") and path.endswith(".md"))
    return [(path, read(path) or "") for path in pages]


def long_pages(pages: Iterable[tuple[str, str]], *, limit: int) -> list[str]:
    """Return the pages of more than ``limit`` lines."""
    return [
        f"{path}: {lines} lines"
        for path, text in pages
        if (lines := len(text.splitlines())) > limit
    ]
