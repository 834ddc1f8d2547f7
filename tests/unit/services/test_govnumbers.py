"""Government numbers: masked in text, refused in ids; other numbers stay."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapwright.services.errors import PaperNumberRefused
from lapwright.services.govnumbers import masked, masked_everywhere, refuse_number


@pytest.mark.parametrize(
    "number",
    [
        "000-12-3456",
        "000 12 3456",
        "000123456",
        "000.12.3456",
        "000–12–3456",
        "000 - 12 - 3456",
        "000\t12\t3456",
        "000  12  3456",
        "000 -12- 3456",
        "000\u202f12\u202f3456",
        "123 456 789",
        "123 – 456 – 789",
        "123-456-789",
        "1234567890123",
        "X" * 3 + "-XX-3456",
        "***-**-3456",
    ],
)
def test_every_digit_of_such_a_number_is_masked(number: str) -> None:
    hidden = masked(f"card no {number}, seen")
    assert not re.search(r"\d", hidden)
    assert hidden.startswith("card no ")
    assert hidden.endswith(", seen")
    with pytest.raises(PaperNumberRefused) as refusal:
        refuse_number(number, where="number")
    assert not re.search(r"\d{2}", str(refusal.value).replace(refusal.value.code, ""))


@pytest.mark.parametrize(
    "text",
    [
        "2024-11-18",
        "QP-BPQ-17",
        "0.123456789 in",
        "12 ft3/h",
        "BCuP-5",
        "5.1.10.11.10",
        "1350 F to 1500 F",
        "07-18-20",
        "lot 4415-22",
        "0.040 in, 12 mm, 3456 psi",
        "123          45          6789",
    ],
)
def test_other_numbers_stay(text: str) -> None:
    assert masked(text) == text
    assert refuse_number(text, where="x") == text


GAPS = st.tuples(
    st.text(" \t", max_size=4), st.sampled_from(["", *"-./–"]), st.text(" \t", max_size=4)
)


@given(st.integers(0, 999), st.integers(0, 99), st.integers(0, 9999), GAPS.map("".join))
def test_groups_of_three_two_four_never_pass(a: int, b: int, c: int, gap: str) -> None:
    assert not re.search(r"\d", masked(f"{a:03}{gap}{b:02}{gap}{c:04}"))


@given(st.text())
def test_masking_twice_masks_no_more_and_moves_nothing(text: str) -> None:
    once = masked(text)
    assert masked(once) == once
    assert len(once) == len(text)


def test_lists_and_mappings_are_masked_inside() -> None:
    given_ = {"remark": "no 000-12-3456", "rows": [{"of": "123456789"}], "n": "17"}
    assert masked_everywhere(given_) == {
        "remark": "no •••-••-••••",
        "rows": [{"of": "•••••••••"}],
        "n": "17",
    }
