"""Coupon metal, specimen counts and places; limits and missing data."""

from __future__ import annotations

import pytest

from lapwright.rules.errors import ReadingUnknown
from lapwright.rules.specimens import (
    CouponMetal,
    HalfSection,
    SpecimenSet,
    Taken,
    is_small_tube,
    judge_coupon_metal,
    judge_half_section,
    judge_specimens,
)
from published.adopting import adopted
from unit.rules.examining import AWS, IX, MEDICAL, NONE, Quantity, deg, inch, mm, short

ONE_COUPLING = (Taken("S1", "K1", "K1-a"), Taken("S2", "K1", "K1-b"))
TWO_COUPONS = (Taken("S1", "K1"), Taken("S2", "K2"))


def judged(
    specimens: tuple[Taken, ...],
    *,
    od: Quantity | None = None,
    position: str = "D",
    choice: str = "",
    adopted: object = MEDICAL,
) -> tuple[str, str, str]:
    taken = SpecimenSet(position, inch("1.625") if od is None else od, specimens)
    return short(judge_specimens(taken, adopted=adopted, sockets_choice=choice))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("real", "production", "outcome"),
    [
        (("107", "107"), ("107",), "met"),
        (("107",), ("107", "108"), "met"),
        (("101",), ("107",), "not-met"),
        (("107", "101"), ("107",), "not-met"),
    ],
)
def test_the_coupon_is_of_the_metal_of_production(
    real: tuple[str, ...], production: tuple[str, ...], outcome: str
) -> None:
    finding = judge_coupon_metal(CouponMetal("K", real, production), adopted=IX)
    assert short(finding)[0] == outcome


def test_coupon_metal_needs_both_sides() -> None:
    for coupon in (CouponMetal("K", (), ("107",)), CouponMetal("K", ("107",), ())):
        assert short(judge_coupon_metal(coupon, adopted=IX))[1] == "needs-data"


def test_small_tube_ends_at_exactly_three_inches() -> None:
    assert is_small_tube(inch("3"), IX) == "yes"
    assert is_small_tube(mm("76.2"), IX) == "yes"
    assert is_small_tube(inch("3.001"), IX) == "no"
    assert is_small_tube(inch("3"), NONE) == ""


def test_small_tube_takes_two_coupons() -> None:
    assert judged(TWO_COUPONS)[0] == "met"
    assert judged(TWO_COUPONS, choice="one")[0] == "met"


@pytest.mark.parametrize(
    ("choice", "answer"),
    [
        ("", ("undetermined", "hold", "specimens.sockets_open")),
        ("undecided", ("undetermined", "hold", "specimens.sockets_open")),
        ("one", ("not-met", "", "specimens.small_not_met")),
        ("two", ("met", "", "specimens.small_met")),
    ],
)
def test_two_sockets_of_one_coupling_count_as_the_basis_chooses(
    choice: str, answer: tuple[str, str, str]
) -> None:
    assert judged(ONE_COUPLING, choice=choice) == answer


def test_one_socket_is_not_two_under_any_choice() -> None:
    single = ONE_COUPLING[:1]
    assert judged(single)[1] == "hold"
    assert judged(single, choice="one")[0] == "not-met"
    assert judged(single, choice="two")[0] == "not-met"


def test_only_a_single_coupon_leans_on_how_sockets_count() -> None:
    def sources(specimens: tuple[Taken, ...]) -> set[str]:
        taken = SpecimenSet("D", inch("1.625"), specimens)
        return {c.source for c in judge_specimens(taken, adopted=MEDICAL).cites}

    assert "programme" in sources(ONE_COUPLING)
    assert "programme" not in sources(TWO_COUPONS)


def test_confirming_the_known_figures_is_enough() -> None:
    known = ["specimens.small_tube_coupons", "specimens.small_tube_od"]
    in_force = adopted(["asme-bpvc-ix 2023", "programme 1"], known)
    assert judged(ONE_COUPLING, choice="two", adopted=in_force)[0] == "met"


def test_another_choice_is_refused() -> None:
    with pytest.raises(ReadingUnknown, match="three"):
        judged(ONE_COUPLING, choice="three")


def test_large_tube_in_horizontal_flow_needs_the_count_only() -> None:
    large = inch("4.125")
    assert judged(ONE_COUPLING, od=large)[0] == "met"
    assert judged(ONE_COUPLING[:1], od=large) == ("not-met", "", "specimens.count_not_met")


@pytest.mark.parametrize(
    ("first", "second", "answer"),
    [
        ("20", "200", ("met", "", "specimens.places_met")),
        ("270", "90", ("met", "", "specimens.places_met")),
        ("350", "170", ("met", "", "specimens.places_met")),
        ("0", "540", ("met", "", "specimens.places_met")),
        ("20", "199", ("undetermined", "hold", "specimens.places_open")),
        ("20", "20", ("undetermined", "hold", "specimens.places_open")),
    ],
)
def test_large_tube_in_vertical_flow_takes_opposite_places(
    first: str, second: str, answer: tuple[str, str, str]
) -> None:
    specimens = (Taken("S1", "K", place=deg(first)), Taken("S2", "K", place=deg(second)))
    assert judged(specimens, od=inch("4.125"), position="C") == answer


def test_large_tube_in_vertical_flow_needs_the_places() -> None:
    half = (Taken("S1", "K", place=deg("0")), Taken("S2", "K"))
    assert judged(half, od=inch("4.125"), position="B")[1] == "needs-data"
    assert judged(half[:1], od=inch("4.125"), position="B")[0] == "not-met"


def test_missing_specimens_or_diameter_need_data() -> None:
    assert judged(())[1] == "needs-data"
    nothing = SpecimenSet("D", None, TWO_COUPONS)
    assert short(judge_specimens(nothing, adopted=IX))[1] == "needs-data"


def test_an_edition_without_specimen_counts_is_unread() -> None:
    assert judged(TWO_COUPONS, adopted=AWS)[1] == "unread"


@pytest.mark.parametrize(
    ("faces", "outcome"),
    [
        (("a", "b"), "met"),
        (("a",), "not-met"),
        ((), "not-met"),
        (("a", "a"), "not-met"),
        (("a", "b", "c"), "not-met"),
    ],
)
def test_a_half_section_has_two_faces(faces: tuple[str, ...], outcome: str) -> None:
    half = HalfSection("J", "front", faces)
    assert short(judge_half_section(half, adopted=IX))[0] == outcome
