"""Figures of a study of readers as text: points of the overlap (percent), tables in columns."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from lapwright.core.errors import LapwrightError

from .text import word

Interval = tuple[float, float]


def points(share: float) -> str:
    """Return a share as points, two decimals."""
    return f"{100 * share:.2f}"


def signed_points(share: float) -> str:
    """Return a share as points with its sign, two decimals."""
    return f"{100 * share:+.2f}"


def span(interval: Interval) -> str:
    """Return an interval of shares as points."""
    return f"{100 * interval[0]:.2f} to {100 * interval[1]:.2f}"


def table_lines(columns: Sequence[str], rows: Iterable[Sequence[str]]) -> Iterator[str]:
    """Yield a table in columns, the first one to the left, the others to the right.

    Parameters
    ----------
    columns : sequence of str
        Titles.
    rows : iterable of sequence of str
        Cells, as many as titles.
    """
    cells = [tuple(columns), *(tuple(row) for row in rows)]
    widths = [max(len(row[i]) for row in cells) for i in range(len(columns))]
    for row in cells:
        first, *rest = (
            text.ljust(w) if i == 0 else text.rjust(w)
            for i, (text, w) in enumerate(zip(row, widths, strict=True))
        )
        yield ("    " + "  ".join((first, *rest))).rstrip()


def not_given(refusal: LapwrightError) -> str:
    """Return the line that says why a part of the study is not given."""
    return "  " + word("readers.not_given", why=str(refusal))
