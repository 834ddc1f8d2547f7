"""The code reads back with another library and keeps to its budget."""

from __future__ import annotations

import re

import pytest

from lapwright.documents.errors import CodeTooLong
from lapwright.documents.qr import qr_svg


def modules(svg: str) -> int:
    found = re.search(r'viewBox="0 0 (\d+) (\d+)"', svg)
    assert found
    assert found[1] == found[2]
    return int(found[1])


def test_the_longest_token_fits_version_thirteen_with_quiet_zone() -> None:
    assert modules(qr_svg("k" * 320)) == 17 + 4 * 13 + 2 * 4


def test_a_short_text_takes_a_small_code() -> None:
    assert modules(qr_svg("QR-1")) == 21 + 8


def test_the_ground_is_light_and_nothing_leans_on_a_style() -> None:
    svg = qr_svg("QR-2026-0007")
    assert "#fff" in svg
    assert "style=" not in svg


@pytest.mark.parametrize("text", ["", "k" * 335, "k" * 5000])
def test_a_text_beyond_the_budget_is_refused(text: str) -> None:
    with pytest.raises(CodeTooLong, match="DOC-006"):
        qr_svg(text)


def test_equal_texts_give_equal_codes() -> None:
    assert qr_svg("QR-2026-0007") == qr_svg("QR-2026-0007")
