"""Printed figures and words: ranges round inwards, keys are said, one thing is singular."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from lapwright.core.quantities import length
from lapwright.services.bothunits import limits_in_both_units, limits_rounded
from lapwright.services.history import replaces
from lapwright.services.recordrows import in_words
from lapwright.services.rulesview import list_rows
from lapwright.services.text import word

LENGTHS = st.decimals("0.001", "9.99999", places=5)


@given(LENGTHS)
def test_a_printed_limit_never_allows_more_than_the_exact_one(value: object) -> None:
    exact = Fraction(str(value))
    highest = length(limits_rounded(f"≤ {value} in").removeprefix("≤ "))
    lowest = length(limits_rounded(f"≥ {value} in").removeprefix("≥ "))
    assert highest.inches <= exact <= lowest.inches
    assert lowest.inches - highest.inches <= Fraction(1, 1000)


def test_limits_stand_to_the_places_of_the_inch_tables() -> None:
    assert limits_in_both_units("C, D: ≤ 0.44875 in") == "C, D: ≤ 0.448 in (11.4 mm)"
    told = "0.030 in (0.76 mm) – 0.120 in (3.05 mm)"
    assert limits_in_both_units("0.03 in – 0.12 in") == told
    assert limits_rounded("≤ 0.4475 in (coupon 0.358 in)") == "≤ 0.447 in (coupon 0.358 in)"


def test_keys_are_said_in_words_and_names_stay() -> None:
    assert in_words("oil-free-dry-nitrogen-nf") == "oil-free dry nitrogen NF"
    assert in_words("vertical-upflow") == "vertical upflow"
    assert [in_words(name) for name in ("BCuP-5", "0.020 in", "two")] == [
        "BCuP-5",
        "0.020 in",
        "two",
    ]


def test_one_thing_is_told_in_the_singular() -> None:
    assert word("register.ends-soon-days", days="1") == "Ends in 1 day"
    assert word("register.ends-soon-days", days="19") == "Ends in 19 days"


def test_a_rule_is_listed_with_its_unit_once() -> None:
    shown = {row["shown"] for row in list_rows(())}
    assert {"6 months", "8 h", "1 %", "1 repair"} <= shown
    doubled = [s for s in shown if s.split()[-1:] == s.split()[-2:-1]]
    assert doubled == []


def test_what_changed_in_an_entry_is_told_with_it() -> None:
    def brazed(wall: str) -> dict[str, object]:
        body = {"coupon": "H", "tube": {"wall": wall}, "by": "osgood"}
        return {"type": "CouponBrazed", "body": body, "happened_on": "2026-03-04"}

    kept = {"acts": [brazed("0.060 in")], "revision": "1"}
    (told,) = replaces(kept, [brazed("0.065 in")], {})["gone"]
    assert told.startswith("Coupon brazed H osgood, 2026-03-04")
    assert told.endswith("(tube wall was 0.060 in, is 0.065 in)")
