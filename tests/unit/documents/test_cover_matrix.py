"""The matrix of cover: every cell on exactly one page, heads repeated, nothing outside the page."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import pytest

from lapwright.core.outcomes import Outcome
from lapwright.documents.covermatrix import (
    COLUMNS,
    HEIGHT,
    ROWS,
    WIDTH,
    Matrix,
    MatrixLine,
    matrix_pages,
)
from lapwright.documents.errors import GlyphMissing
from lapwright.documents.sheets import OutcomeWord

WORDS = (
    OutcomeWord(Outcome.MET, "Met"),
    OutcomeWord(Outcome.UNDETERMINED, "Open"),
    OutcomeWord(Outcome.NOT_MET, "Not met"),
)
SVG = "{http://www.w3.org/2000/svg}"


def _matrix(lines: int, people: int, name: str = "Wren Aldous") -> Matrix:
    return Matrix(
        "Cover",
        "a list",
        tuple(f"{name} · Q{n}" for n in range(people)),
        tuple(
            MatrixLine(
                f"C{i:03d}",
                f"1-1/2 L · ASME B16.50 number {i}",
                "BCuP-5 · D · ×4",
                tuple(WORDS[(i + n) % 3] for n in range(people)),
            )
            for i in range(lines)
        ),
        WORDS,
        "page {page} of {pages}",
    )


def test_every_line_and_person_stands_on_the_pages_with_its_heads() -> None:
    lines, people = 2 * ROWS + 3, COLUMNS + 2
    pages = matrix_pages(_matrix(lines, people))
    assert len(pages) == 3 * 2
    told = [re.findall(r">(Met|Open|Not met)</text>", page) for page in pages]
    key = len(WORDS)
    assert sum(len(t) - key for t in told) == lines * people
    assert all("page " in p and "Wren" in p and ">C" in p for p in pages)


def test_shapes_go_with_words_and_all_lies_inside_the_page() -> None:
    (page,) = matrix_pages(_matrix(ROWS, COLUMNS))
    root = ElementTree.fromstring(page)
    assert len(root.findall(f".//{SVG}circle")) == page.count(">Met</text>")
    assert len(root.findall(f".//{SVG}polygon")) == page.count(">Open</text>")
    for text in root.iter(f"{SVG}text"):
        assert 0 <= float(text.get("x", "0")) <= WIDTH
        assert 0 < float(text.get("y", "0")) < HEIGHT


def test_a_name_nobody_can_print_is_refused() -> None:
    with pytest.raises(GlyphMissing):
        matrix_pages(_matrix(1, 1, name="Wr\u202een"))
