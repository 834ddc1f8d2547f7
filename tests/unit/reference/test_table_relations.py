"""Inner relations of the tables: sums that must come out whatever was typed."""

from __future__ import annotations

import math
import re
from collections import Counter
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import pytest

import lapwright.reference
from lapwright.core.quantities import inches
from lapwright.reference import tables
from lapwright.reference.errors import TableRefused
from lapwright.reference.fillers import filler, filler_names
from lapwright.reference.fittings import cup, cup_sizes, fitting_end, wall_guess
from lapwright.reference.metals import base_metals, copper_by_temperature
from lapwright.reference.practice import purge_guidance, strengths
from lapwright.reference.ratings import allowable_stress, rated_pressures
from lapwright.reference.sizes import NominalSize, size_in
from lapwright.reference.standards import SizeSystem
from lapwright.reference.tables import Confidence, records, table_names, table_source
from lapwright.reference.tube import TubeRow, tube, tube_sizes

DATA = Path(lapwright.reference.__file__).parent / "data"
COPPER_LB_PER_IN3 = 0.323  # density used by the tube tables
TYPES = [("ASTM B819", "K"), ("ASTM B819", "L"), ("ASTM B88", "K"), ("ASTM B88", "L"),
         ("ASTM B88", "M")]  # fmt: skip
NUMBERS = re.compile(r"_(in|mm|F|C|psi|pct|lb|ft|m3|mK|kgK|cm3|per_K|joints)$")


def tubes() -> list[TubeRow]:
    """Return every row of the nominal tube table."""
    return [tube(s, size.designation, type_=t) for s, t in TYPES for size in tube_sizes(s, t)]


def half_unit(printed: Decimal) -> float:
    """Return half a unit of the last printed digit."""
    exponent = printed.as_tuple().exponent
    assert isinstance(exponent, int)
    return 0.5 * 10.0**exponent


def test_every_nominal_tube_is_an_eighth_over_its_size() -> None:
    assert len(tubes()) == 78
    assert all(r.od.inches == r.size.number + Fraction(1, 8) for r in tubes())
    assert all(r.od == r.size.outside_diameter for r in tubes())


def test_every_bore_is_the_outside_less_two_walls() -> None:
    assert all(r.id.inches == r.od.inches - 2 * r.wall_nominal.inches for r in tubes())


def test_refrigeration_bores_too_but_for_the_one_that_is_recorded() -> None:
    odd = [
        r.text("size")
        for r in records("tube_b280")
        if r.needed("id_in") != r.needed("od_in") - 2 * r.needed("wall_in")
    ]
    assert odd == ["3/16"]
    assert any("3/16" in c["where"] for c in table_source("tube_b280").conflicts)


def test_refrigeration_tube_is_named_by_its_outside_diameter() -> None:
    for r in records("tube_b280"):
        named = size_in(r.text("size"), SizeSystem.OUTSIDE_INCH).outside_diameter.inches
        assert abs(named - Fraction(r.needed("od_in"))) < Fraction(1, 1000)


def test_every_least_wall_is_the_nominal_wall_less_its_tolerance() -> None:
    for r in records("tube_b88_b819"):
        assert r.needed("wall_minimum_in") == r.needed("wall_in") - r.needed("wall_plus_minus_in")


def test_every_printed_weight_follows_from_the_printed_dimensions() -> None:
    for r in tubes():
        od, wall = float(r.od.inches), float(r.wall_nominal.inches)
        weight = math.pi * (od - wall) * wall * 12 * COPPER_LB_PER_IN3
        assert r.weight_lb_per_ft is not None
        room = half_unit(r.weight_lb_per_ft)
        assert weight == pytest.approx(float(r.weight_lb_per_ft), abs=room), r.row


def test_every_printed_bore_volume_follows_from_the_bore() -> None:
    for r in tubes():
        if r.bore_ft3_per_ft is not None:
            volume = math.pi / 4 * float(r.id.inches) ** 2 / 144
            room = half_unit(r.bore_ft3_per_ft)
            assert volume == pytest.approx(float(r.bore_ft3_per_ft), abs=room), r.row


def test_the_medical_rows_equal_the_water_rows_of_the_same_type() -> None:
    for kind in ("K", "L"):
        for size in tube_sizes("ASTM B819", kind):
            medical = tube("ASTM B819", size.designation, type_=kind)
            water = tube("ASTM B88", size.designation, type_=kind)
            assert medical.wall_nominal == water.wall_nominal
            assert medical.od_limits("drawn") == water.od_limits("drawn")


def test_all_68_printed_pressures_follow_from_least_wall_and_largest_diameter() -> None:
    rows = rated_pressures()
    assert len(rows) == 68
    for r in rows:
        row = tube("ASTM B88", r.size, type_=r.type_, temper=r.temper)
        stress = allowable_stress(str(r.temperature.value), temper=r.temper).stress.value
        assert row.wall_minimum is not None
        wall, largest = row.wall_minimum.inches, row.od_limits(r.temper)[1].inches
        pressure = 2 * Fraction(stress) * wall / (largest - Fraction(4, 5) * wall)
        assert abs(pressure - Fraction(r.pressure.value)) < Fraction(1, 2), r.row


def fit(size: NominalSize) -> tuple[Fraction, Fraction]:
    """Return least and largest diametral gap of a drawn tube in its cup."""
    smallest, largest = tube("ASTM B819", size.designation, type_="L").od_limits("drawn")
    low = fitting_end("ASME B16.22", "cup-id-min", size.designation).value.inches
    high = fitting_end("ASME B16.22", "cup-id-max", size.designation).value.inches
    return low - largest.inches, high - smallest.inches


def test_a_drawn_tube_always_enters_its_cup_and_the_gap_has_known_limits() -> None:
    for size in tube_sizes("ASTM B819", "L"):
        least, largest = fit(size)
        assert least >= Fraction(1, 1000), size
        limit = "0.012" if size.designation == "8" else "0.010"
        assert Fraction("0.007") <= largest <= Fraction(limit), size


def test_the_printed_largest_gap_follows_from_the_printed_tube_limit() -> None:
    checked = 0
    for r in records("fitting_ends"):
        if r.text("quantity") == "printed-clearance-max":
            size = r.text("size")
            high = fitting_end("ASME B16.22", "cup-id-max", size).value.inches
            low = fitting_end("ASME B16.22", "printed-tube-od-min", size).value.inches
            assert high - low == Fraction(r.needed("value_in")), size
            checked += 1
    assert checked == 15


def test_the_printed_tube_limits_that_are_no_tube_limits_are_recorded() -> None:
    odd = []
    for size in tube_sizes("ASTM B819", "L")[:-1]:
        printed = fitting_end("ASME B16.22", "printed-tube-od-min", size.designation).value
        smallest = tube("ASTM B819", size.designation, type_="L").od_limits("drawn")[0]
        if printed != smallest:
            odd.append(size.designation)
    assert odd == ["1/2", "3/4", "1", "1-1/4"]
    text = str([dict(c) for c in table_source("fitting_ends").conflicts])
    assert "1/2 and 3/4 in" in text
    assert "1-1/4 in" in text


def test_a_braze_cup_is_believed_as_wide_as_a_solder_cup_and_says_it_is_recalled() -> None:
    for size in tube_sizes("ASTM B819", "L"):
        for quantity in ("cup-id-min", "cup-id-max"):
            braze = fitting_end("ASME B16.50", quantity, size.designation)
            assert braze.value == fitting_end("ASME B16.22", quantity, size.designation).value
            assert braze.confidence is Confidence.MEMORY


def test_a_male_end_is_smaller_than_the_cup_it_enters() -> None:
    for size in tube_sizes("ASTM B819", "L"):
        at = size.designation
        low = fitting_end("ASME B16.22", "male-od-min", at).value
        high = fitting_end("ASME B16.22", "male-od-max", at).value
        bore = fitting_end("ASME B16.22", "bore-min", at).value
        assert bore < low < high < fitting_end("ASME B16.22", "cup-id-min", at).value


def test_cups_deepen_with_size_and_their_tube_is_the_size_s_tube() -> None:
    for name in ("ASME B16.50", "ASME B16.22", "ASME B16.18", "EN 1254-1"):
        rows = [cup(name, s.designation) for s in cup_sizes(name)]
        assert all(a.depth_min <= b.depth_min for a, b in pairwise(rows))
        assert all(r.tube_od == r.size.outside_diameter for r in rows)


def test_a_braze_cup_is_shallower_than_a_solder_cup() -> None:
    for size in cup_sizes("ASME B16.50"):
        at = size.designation
        assert cup("ASME B16.50", at).depth_min < cup("ASME B16.22", at).depth_min


def test_every_braze_cup_is_at_least_three_type_l_walls_deep() -> None:
    for size in tube_sizes("ASTM B819", "L"):
        wall = tube("ASTM B819", size.designation, type_="L").wall_nominal
        assert cup("ASME B16.50", size.designation).depth_min > wall.times("3")


def test_the_type_m_stand_in_is_the_type_m_wall_wherever_there_is_one() -> None:
    for size in tube_sizes("ASTM B88", "M"):
        at = size.designation
        assert wall_guess("type-m-tube-stand-in", at).wall == (
            tube("ASTM B88", at, type_="M").wall_nominal
        )


def test_a_cast_joint_pattern_is_six_tenths_of_its_body() -> None:
    for r in records("fitting_walls"):
        if r.text("hypothesis") == "cast-joint-pattern":
            body = wall_guess("cast-body-pattern", r.text("size")).wall
            assert inches(r.needed("wall_in")) == body.times("0.6")


def test_fahrenheit_and_celsius_of_the_fillers_agree() -> None:
    for r in records("fillers"):
        for figure in ("solidus", "liquidus", "brazing_low", "brazing_high"):
            exact = (Fraction(r.needed(f"{figure}_F")) - 32) * Fraction(5, 9)
            assert abs(exact - Fraction(r.needed(f"{figure}_C"))) <= 1, (r.cells, figure)


def test_no_filler_is_a_solder_and_none_melts_backwards() -> None:
    for r in records("fillers"):
        row = filler(r.text("classification"))
        assert row.solidus is not None
        assert row.liquidus is not None
        assert row.brazing_low is not None
        assert row.brazing_high is not None
        assert row.solidus <= row.liquidus
        assert row.solidus <= row.brazing_low < row.brazing_high
        assert row.solidus.value > 1000


def test_no_nominal_composition_exceeds_the_whole() -> None:
    for r in records("fillers"):
        row = filler(r.text("classification"))
        rest = sum(Decimal(n) for n in re.findall(r"[A-Z][a-z]? ([\d.]+)(?![\d.-])", row.other))
        assert Decimal(99) <= sum(row.composition.values()) + rest <= Decimal("100.5"), row


def test_every_family_is_the_word_before_the_dash() -> None:
    assert all(filler(n).family == n.rpartition("-")[0] for n in filler_names())


def test_expansion_follows_from_the_density_fit() -> None:
    cold = copper_by_temperature()[0]
    for row in copper_by_temperature()[1:]:
        ratio = float(cold.density_kg_per_m3 / row.density_kg_per_m3) ** (1 / 3) - 1
        assert ratio * 100 == pytest.approx(float(row.expansion_pct), abs=0.0006)
        assert row.mean_expansion_1e6_per_k is not None
        mean = ratio / (float(row.temperature_c) - 20) * 1e6
        assert mean == pytest.approx(float(row.mean_expansion_1e6_per_k), abs=0.03)


def test_two_independent_fits_of_the_expansion_agree() -> None:
    for row in copper_by_temperature()[1:]:
        if row.expansion_second_fit_pct is not None:
            room = 0.01 if row.temperature_c >= 400 else 0.03
            assert float(row.expansion_second_fit_pct) == pytest.approx(
                float(row.expansion_pct), rel=room
            )


def test_the_worked_laps_follow_from_their_formulas() -> None:
    printed = {r.item: Decimal(r.value) for r in strengths("worked example")}
    flat = 70000 * 0.050 / (0.8 * 25000)
    tubular = 0.064 * (0.750 - 0.064) * 33000 / (0.8 * 0.750 * 25000)
    assert flat == pytest.approx(float(printed["flat"]), abs=0.0051)
    assert tubular == pytest.approx(float(printed["tubular"]), abs=0.0005)


def test_the_strength_lap_of_type_l_tube_is_far_below_any_cup() -> None:
    for size in tube_sizes("ASTM B819", "L"):
        row = tube("ASTM B819", size.designation, type_="L")
        wall, od = row.wall_nominal.inches, row.od.inches
        lap = wall * (od - wall) * 30000 / (Fraction(8, 10) * od * 25000)
        assert lap < cup("ASME B16.50", size.designation).depth_min.inches / 2


def test_the_worked_purges_follow_from_complete_mixing() -> None:
    printed = {r.item: float(r.value) for r in purge_guidance("worked")}
    assert math.log(0.21 / 0.10) == pytest.approx(printed["0.21 to 0.10"], abs=0.005)
    assert math.log(0.21 / 0.077) == pytest.approx(printed["0.21 to 0.077"], abs=0.05)
    hall = printed["21 to 2 % O2, 25,000 m3, pure purge gas"]
    assert 25000 * math.log(21 / 2) == pytest.approx(hall, abs=0.5)


def test_one_change_of_100_ft_of_3_4_tube_takes_two_minutes_at_10_ft3_per_h() -> None:
    bore = tube("ASTM B819", "3/4", type_="L").bore_ft3_per_ft
    assert bore is not None
    assert 100 * bore / 10 * 60 == Decimal("2.016")


@pytest.mark.parametrize("hypothesis", ["wrought-minimum-recalled", "type-m-tube-stand-in"])
def test_both_wall_hypotheses_put_the_trade_limit_between_1_2_and_5_8(hypothesis: str) -> None:
    """Common practice, no source: a 1-1/2 in type L coupon serves down to 5/8 in."""
    half = tube("ASTM B819", "1-1/2", type_="L").wall_nominal.times("0.5")
    assert wall_guess(hypothesis, "1/2").wall < half <= wall_guess(hypothesis, "5/8").wall


def test_an_alloy_has_a_p_number_exactly_when_it_is_listed() -> None:
    for row in base_metals():
        assert (row.p_number is not None) == (row.listed == "listed")


@pytest.mark.parametrize("name", table_names())
def test_every_table_has_its_source_file_and_unique_keys(name: str) -> None:
    about = table_source(name)
    assert about.table == name
    assert about.title
    assert about.designation
    assert about.who_may_read
    rows = records(name)
    assert rows
    twice = [k for k, n in Counter(r.provenance.row for r in rows).items() if n > 1]
    assert not twice
    assert {*about.columns, "note", "source", "confidence"} == set(rows[0].cells)
    for conflict in about.conflicts:
        assert sorted(conflict) == ["found", "used", "where"]
        assert all(conflict.values())


@pytest.mark.parametrize(
    ("name", "places"),
    [
        ("tube_b88_b819", ["5.854", "6.625", ".050", ".002", "+.002/-.004", ".114"]),
        ("tube_b280", [".050"]),
        ("solder_use", ["100 % waste", "ten columns", "3.654", "3.456"]),
        ("fitting_ends", [".622", ".872", ".0015"]),
        ("fillers", ["8.9", "1485", "1335", "1250", "Celsius", "660-700"]),
        ("filler_f_numbers", ["103"]),
        ("metals", ["330, 339 and 380"]),
        ("purge_guidance", ["refrigeration"]),
        ("overlap_rules", ["one diameter"]),
        ("fitting_cups", [".25 and .31"]),
    ],
)
def test_the_slips_found_in_the_sources_are_recorded(name: str, places: list[str]) -> None:
    found = " ".join(c["found"] for c in table_source(name).conflicts)
    assert [p for p in places if p not in found] == []


@pytest.mark.parametrize("name", table_names())
def test_every_row_has_sources_and_a_confidence_that_fit(name: str) -> None:
    for r in records(name):
        seen = r.provenance.confidence is Confidence.SEEN
        assert r.provenance.citation.title
        if seen:
            assert set(r.provenance.sources) - {"recollection", "arithmetic"}, r.cells
        for column, cell in r.cells.items():
            if NUMBERS.search(column) and column not in {"conflict_in", "other_pct"}:
                number = r.number(column)
                assert cell == "" or (number is not None and "E" not in cell.upper())


def test_every_source_is_used_and_none_has_an_address() -> None:
    used = {s for n in table_names() for r in records(n) for s in r.provenance.sources}
    told = " ".join((DATA / f"{n}.source.yaml").read_text() for n in table_names())
    notes = " ".join(r.provenance.note for n in table_names() for r in records(n))
    idle = [s for s in tables.sources() if s not in used and s not in told and s not in notes]
    assert idle == []
    assert not re.search(r"https?:|www\.|\.com\b", told + notes + str(dict(tables.sources())))


def damaged(monkeypatch: pytest.MonkeyPatch, old: str, new: str) -> None:
    """Make the stress table read with one change in it."""
    real = tables._read
    monkeypatch.setattr(tables, "_read", lambda file: real(file).replace(old, new))
    tables.records.cache_clear()
    tables.table_source.cache_clear()


@pytest.fixture
def _fresh_tables() -> object:
    """Forget what was read, before and after."""
    yield
    tables.records.cache_clear()
    tables.table_source.cache_clear()


@pytest.mark.usefixtures("_fresh_tables")
@pytest.mark.parametrize(
    ("old", "new"),
    [
        (",copper-tube-handbook-3c,seen", ",somewhere,seen"),
        (",copper-tube-handbook-3c,seen", ",,seen"),
        (",seen", ",certain"),
        (",seen", ",seen,more"),
        (",seen", ""),
        ("6000", "six"),
        ("6000", ""),
        ("edition:", "issue:"),
    ],
)
def test_a_damaged_table_is_refused(monkeypatch: pytest.MonkeyPatch, old: str, new: str) -> None:
    damaged(monkeypatch, old, new)
    with pytest.raises(TableRefused, match="tube_stress"):
        allowable_stress("100", temper="annealed")
