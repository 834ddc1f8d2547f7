"""The matrix of cover as drawings: classes down, people across, a word and a shape in each cell.

A job of hundreds of classes and people goes over several pages; each repeats the heads of its
lines and columns and the key, so that a single printed page can be read by itself. Shapes and
words carry the answer; the wash behind Met only helps the eye along.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from xml.sax.saxutils import escape

from lapwright.core.outcomes import Outcome

from .glyphs import check_characters
from .sheets import OutcomeWord
from .svg import FONT, element, number, text_width, words, wrap

WIDTH, HEIGHT = 980.0, 704.0  # drawing units of 1/96 in: a letter page on its side
LEFT, HEAD, TOP = 316.0, 62.0, 58.0
CELL, ROW = 60.0, 18.0
COLUMNS = int((WIDTH - LEFT) // CELL)
ROWS = int((HEIGHT - TOP - HEAD - 34) // ROW)
INK, QUIET, LINE, ACCENT, WASH = "#1c2326", "#566267", "#c3cbce", "#12535f", "#e4efef"


@dataclass(frozen=True)
class MatrixLine:
    """One class: its id, what it is, how it is brazed, and the answer of each person."""

    id: str
    label: str
    detail: str
    cells: tuple[OutcomeWord, ...]


@dataclass(frozen=True)
class Matrix:
    """The whole matrix, in words.

    ``key`` says what each word means, ``page`` is the wording of a page's place with
    ``{page}`` and ``{pages}``.
    """

    title: str
    subtitle: str
    people: tuple[str, ...]
    lines: tuple[MatrixLine, ...]
    key: tuple[OutcomeWord, ...]
    page: str


def matrix_pages(matrix: Matrix) -> tuple[str, ...]:
    """Draw the matrix, one SVG a page; lines run on first, then people.

    Parameters
    ----------
    matrix : Matrix
        At least one line and one person.

    Returns
    -------
    tuple of str
        One SVG element a page, without style or script; equal input gives equal text.

    Raises
    ------
    GlyphMissing
        For a character that cannot be printed.
    """
    check_characters(matrix)
    lines = [matrix.lines[i : i + ROWS] for i in range(0, len(matrix.lines), ROWS)]
    people = [range(i, min(i + COLUMNS, len(matrix.people))) for i in _steps(matrix)]
    parts = [(some, own) for own in people for some in lines]
    return tuple(
        _page(matrix, some, own, matrix.page.format(page=n, pages=len(parts)))
        for n, (some, own) in enumerate(parts, 1)
    )


def _steps(matrix: Matrix) -> range:
    return range(0, len(matrix.people), COLUMNS)


def _page(matrix: Matrix, lines: Sequence[MatrixLine], own: range, place: str) -> str:
    bottom = TOP + HEAD + len(lines) * ROW
    body = (
        words(matrix.title, 0, 18, size=17, font_weight="bold", fill=ACCENT),
        words(matrix.subtitle, 0, 36, size=11, fill=QUIET),
        words(place, WIDTH, 18, size=11, fill=QUIET, text_anchor="end"),
        *_heads(matrix, own),
        *(part for i, line in enumerate(lines) for part in _line(line, i, own)),
        *_key(matrix, bottom + 22),
    )
    described = f"{matrix.title}. {matrix.subtitle}. {place}. {_told(matrix, lines, own)}"
    return element(
        "svg",
        element("title", escape(f"{matrix.title}, {place}")),
        element("desc", escape(described)),
        element("rect", width=WIDTH, height=HEIGHT, fill="#ffffff"),
        element("g", *(f"\n{part}" for part in body), font_family=FONT, fill=INK),
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {number(WIDTH)} {number(HEIGHT)}",
        role="img",
        lang="en",
    )


def _heads(matrix: Matrix, own: range) -> Iterator[str]:
    for column, person in enumerate(own):
        x = LEFT + column * CELL + 4
        told = wrap(matrix.people[person], CELL - 6, 10, weight="bold")[:4]
        y = TOP + HEAD - 6 - 12 * (len(told) - 1)
        for i, text in enumerate(told):
            yield words(text, x, y + 12 * i, size=10, font_weight="bold")
    end = LEFT + len(own) * CELL
    yield element(
        "line", x1=0, y1=TOP + HEAD, x2=end, y2=TOP + HEAD, stroke=ACCENT, stroke_width=1.2
    )


def _line(line: MatrixLine, index: int, own: range) -> Iterator[str]:
    y = TOP + HEAD + index * ROW
    base = y + ROW - 5.5
    for column, person in enumerate(own):
        yield from _cell(line.cells[person], LEFT + column * CELL, y)
    yield words(line.id, 0, base, size=10.5, font_weight="bold")
    yield words(_fit(line.label, 148, 10.5), 40, base, size=10.5)
    yield words(_fit(line.detail, 118, 10), 194, base, size=10, fill=QUIET)
    end, heavy = LEFT + len(own) * CELL, (index + 1) % 5 == 0
    yield element(
        "line",
        x1=0,
        y1=y + ROW,
        x2=end,
        y2=y + ROW,
        stroke=QUIET if heavy else LINE,
        stroke_width=0.7 if heavy else 0.5,
    )


def _cell(cell: OutcomeWord, x: float, y: float) -> Iterator[str]:
    if cell.outcome is Outcome.MET:
        yield element("rect", x=x, y=y + 0.5, width=CELL - 2, height=ROW - 1, fill=WASH)
    yield _shape(cell.outcome, x + 8, y + ROW / 2)
    weight = "bold" if cell.outcome is Outcome.MET else "normal"
    yield words(cell.word, x + 16, y + ROW - 5.5, size=10, font_weight=weight)


def _shape(outcome: Outcome, x: float, y: float) -> str:
    """Return the shape of an outcome: full circle, hollow square, hollow triangle."""
    if outcome is Outcome.MET:
        return element("circle", cx=x, cy=y, r=3.6, fill=ACCENT)
    if outcome is Outcome.NOT_MET:
        return element("rect", x=x - 3.2, y=y - 3.2, width=6.4, height=6.4, fill="none", stroke=INK)
    points = f"{number(x - 4)},{number(y + 3.4)} {number(x + 4)},{number(y + 3.4)} " + (
        f"{number(x)},{number(y - 3.8)}"
    )
    return element("polygon", points=points, fill="none", stroke=INK)


def _key(matrix: Matrix, y: float) -> Iterator[str]:
    x = 0.0
    for told in matrix.key:
        yield _shape(told.outcome, x + 5, y - 3.6)
        yield words(told.word, x + 14, y, size=10, fill=QUIET)
        x += 14 + text_width(told.word, 10) + 22


def _fit(text: str, room: float, size: float) -> str:
    """Return a text that fits the room; what is cut stands in the table of classes."""
    while len(text) > 1 and text_width(text, size) > room:
        text = text[:-2].rstrip() + "…"
    return text


def _told(matrix: Matrix, lines: Sequence[MatrixLine], own: range) -> str:
    """Return the page in words, for whoever does not see it."""
    each = (
        f"{matrix.people[p]}: " + ", ".join(f"{line.id} {line.cells[p].word}" for line in lines)
        for p in own
    )
    return ". ".join(each) + "."
