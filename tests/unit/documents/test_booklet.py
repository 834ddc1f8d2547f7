"""The booklet prints every figure, and is a sound PDF."""

from __future__ import annotations

from dataclasses import replace

import pytest

from lapwright.documents.booklet import typeset_booklet
from lapwright.documents.errors import GlyphMissing, LabelsMissing
from unit.documents import samples
from unit.documents.witness import page_count, standard_faults, text_of, told_by


def test_every_figure_stands_with_its_rule_source_and_how_it_is_known() -> None:
    pdf = typeset_booklet(samples.booklet(), made_at=samples.ISSUED)
    text = text_of(pdf)
    for i in range(30):
        assert text.count(f"section.figure_{i:02d}") == 1
    assert text.count("My copy says") >= 3
    assert text.count("from memory") == 10
    for words in ("Name in print", "Signature", "Copies compared", "Confirmed by Maren Tollaksen"):
        assert words in text


@pytest.mark.parametrize("count", [1, 30, 90])
def test_booklets_of_any_length_claim_their_standards_with_reason(count: int) -> None:
    """Outside witnesses: pikepdf and qpdf."""
    pdf = typeset_booklet(samples.booklet(count), made_at=samples.ISSUED)
    assert standard_faults(pdf) == []
    assert "No syntax or stream encoding errors" in told_by("qpdf", "--check", "FILE", pdf=pdf)
    assert page_count(pdf) <= 1 + count / 8


def test_equal_booklets_are_equal_bytes() -> None:
    first, second = (typeset_booklet(samples.booklet(), made_at=samples.ISSUED) for _ in range(2))
    assert first == second


def test_a_booklet_refuses_what_it_cannot_print() -> None:
    with pytest.raises(GlyphMissing, match=r"sheet\.programme"):
        typeset_booklet(replace(samples.booklet(), programme="培训"), made_at=samples.ISSUED)
    with pytest.raises(LabelsMissing, match="DOC-001"):
        typeset_booklet(replace(samples.booklet(), labels={}), made_at=samples.ISSUED)
