"""Lookups answer exactly, cite their source, and refuse with candidates."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest

from lapwright.core.citations import Basis
from lapwright.core.errors import LapwrightError, SizeRefused
from lapwright.core.quantities import Quantity, inches, length
from lapwright.reference import errors, metals
from lapwright.reference.consumption import filler_use, solder_use
from lapwright.reference.fillers import filler, filler_iso, filler_names
from lapwright.reference.fittings import cup, cup_sizes, fitting_end, male_end, wall_guess
from lapwright.reference.metals import copper_at, metal_property, p_number
from lapwright.reference.practice import overlap_rules, purge_guidance, strengths
from lapwright.reference.ratings import allowable_stress
from lapwright.reference.sizes import NominalSize, parse_size, size_in
from lapwright.reference.standards import SizeSystem, standard
from lapwright.reference.tables import Confidence, records
from lapwright.reference.tube import tube, tube_sizes

# one line a refusal: what is asked, the class, what the text must name
REFUSALS: list[tuple[Callable[[], object], type[LapwrightError], str]] = [
    (lambda: tube("", "1/2", type_="L"), errors.SizeWithoutSystem, "ASTM B819"),
    (lambda: parse_size("1/2", standard_name=" "), errors.SizeWithoutSystem, "ASTM B280"),
    (lambda: tube("ASTM B819", "DN15", type_="L"), errors.DnOnCopperTube, "1-1/2"),
    (lambda: parse_size("dn 50", standard_name="EN 1254-1"), errors.DnOnCopperTube, "15 mm"),
    (lambda: tube("B819", "1/2", type_="L"), errors.UnknownStandard, "ASTM B819"),
    (lambda: tube("ASME B16.22", "1/2", type_="L"), errors.UnknownStandard, "ASTM B88"),
    (lambda: cup("ASTM B819", "1/2"), errors.UnknownStandard, "ASME B16.50"),
    (lambda: cup("MSS SP-73", "1/2"), errors.StandardWithdrawn, "ASME B16.50"),
    (lambda: tube("ASTM B819", "2-1/4", type_="L"), errors.UnknownSize, "2-1/2"),
    (lambda: tube("ASTM B88", "1/4", type_="M"), errors.UnknownSize, "3/8"),
    (lambda: cup("ASME B16.50", "10"), errors.UnknownSize, "8"),
    (lambda: wall_guess("wrought-minimum-recalled", "3"), errors.UnknownSize, "2"),
    (lambda: filler_use("1/8"), errors.UnknownSize, "1/4"),
    (lambda: solder_use("1/8", "0.001"), errors.UnknownSize, "1/4"),
    (lambda: tube("ASTM B819", "1/2", type_="M"), errors.UnknownType, "K, L"),
    (lambda: tube("ASTM B819", "1/2"), errors.UnknownType, "K, L"),
    (lambda: tube("ASTM B819", "1/2", type_="L", temper="annealed"), errors.TemperRefused,
     "drawn"),
    (lambda: tube("ASTM B280", "3/4"), errors.TemperRefused, "annealed, drawn"),
    (lambda: tube("ASTM B819", "1/2", type_="L").od_limits("annealed"), errors.TemperRefused,
     "Measure"),
    (lambda: tube("ASTM B88", "1/2", type_="L").od_limits("soft"), errors.TemperRefused, "soft"),
    (lambda: tube("ASTM B280", "3/4", temper="annealed"), errors.SeveralRows, "0.035, 0.042"),
    (lambda: tube("ASTM B819", "1/2", type_="L", wall="0.049"), errors.SeveralRows, "0.040"),
    (lambda: fitting_end("ASME B16.22", "cup", "1/2"), errors.UnknownEnd, "cup-id-max"),
    (lambda: male_end("ASME B16.50", "1/2"), errors.UnknownEnd, "male-end"),
    (lambda: wall_guess("wrought", "1/2"), errors.UnknownEnd, "Measure the wall"),
    (lambda: filler("BCuP5"), errors.UnknownFiller, "BCuP-5"),
    (lambda: filler("bcup-5"), errors.UnknownFiller, "BCuP-5"),
    (lambda: filler_iso("CuP284"), errors.UnknownFiller, "CuP 284"),
    (lambda: p_number("C1220"), errors.UnknownMetal, "C12200"),
    (lambda: p_number("C12200", form="wire"), errors.UnknownMetal, "tube"),
    (lambda: metal_property("C1220", "density"), errors.UnknownMetal, "C12200"),
    (lambda: metal_property("C12200", "density"), errors.UnknownProperty, "density at 20 C"),
    (lambda: copper_at("150"), errors.UnknownProperty, "200"),
    (lambda: allowable_stress("120", temper="drawn"), errors.UnknownProperty, "100 drawn"),
    (lambda: solder_use("1/2", "0.011"), errors.UnknownProperty, "0.010"),
    (lambda: filler("BCuP-5").citation_of("colour"), errors.UnknownProperty, "solidus"),
    (lambda: filler("BCuP-1").citation_of("f_number"), errors.UnknownProperty, "BCuP-1"),
]  # fmt: skip


@pytest.mark.parametrize(("ask", "kind", "named"), REFUSALS)
def test_what_no_table_has_is_refused_in_one_coded_line(
    ask: Callable[[], object], kind: type[LapwrightError], named: str
) -> None:
    with pytest.raises(kind) as caught:
        ask()
    line = str(caught.value)
    assert type(caught.value) is kind
    assert named in line
    assert line.endswith(f"[{kind.code}]")


NOT_DESIGNATIONS = (
    *("1.5", "1 1/2", '1-1/2"', "1-1/2 in", "2/4", "8/4", "01", "0", "½"),
    *("", "1/3", "1-3/2", "-1/2", "15 mm"),
)


@pytest.mark.parametrize("text", NOT_DESIGNATIONS)
def test_a_size_not_written_as_designated_is_refused(text: str) -> None:
    with pytest.raises(SizeRefused):
        parse_size(text, standard_name="ASTM B819")


@pytest.mark.parametrize("text", ["15", "15mm", "0 mm", "1/2"])
def test_an_en_size_carries_its_millimetres(text: str) -> None:
    with pytest.raises(errors.UnknownSize, match="15 mm"):
        parse_size(text, standard_name="EN 1254-1")


def test_a_place_is_put_before_the_refusal() -> None:
    with pytest.raises(errors.UnknownSize, match=r"^case\.yaml: tube\.size: "):
        tube("ASTM B819", "7", type_="L", where="case.yaml: tube.size")


def test_the_same_words_mean_another_tube_under_another_standard() -> None:
    medical = tube("ASTM B819", "1/2", type_="L")
    refrigeration = tube("ASTM B280", "1/2", temper="drawn")
    assert medical.od == length("0.625 in")
    assert refrigeration.od == length("0.500 in")
    assert medical.size != refrigeration.size
    assert parse_size("5/8", standard_name="ASTM B280").outside_diameter == medical.od
    assert parse_size("15 mm", standard_name="EN 1254-1").outside_diameter == length("15 mm")


def test_sizes_are_ordered_inside_their_system_only() -> None:
    designations = [str(s) for s in tube_sizes("ASTM B819", "L")]
    assert designations == ["1/4", "3/8", "1/2", "5/8", "3/4", "1", "1-1/4", "1-1/2", "2",
                            "2-1/2", "3", "3-1/2", "4", "5", "6", "8"]  # fmt: skip
    nominal, outside = size_in("1/2", SizeSystem.NOMINAL), size_in("5/8", SizeSystem.OUTSIDE_INCH)
    with pytest.raises(TypeError):
        sorted([nominal, outside])
    assert nominal != "1/2"
    assert nominal.number == Fraction(1, 2)
    assert len({nominal, NominalSize("1/2", SizeSystem.NOMINAL)}) == 1


def test_a_coupon_tube_is_answered_with_exact_figures_and_its_source() -> None:
    row = tube("ASTM B819", "1-1/2", type_="L", temper="drawn")
    assert row == tube("ASTM B819", "1-1/2", type_="L", temper=None)
    assert row.wall_nominal.text == "0.060 in"
    assert row.wall_minimum == inches("0.054")
    assert row.od_limits("drawn") == (inches("1.623"), inches("1.627"))
    assert row.weight_lb_per_ft == Decimal("1.14")
    assert row.confidence is Confidence.SEEN
    assert row.citation.basis is Basis.SECONDARY
    assert row.citation.where == "tube_b88_b819"
    assert len(row.provenance.citations) == 3
    assert row.row == "tube_b88_b819/ASTM B819/L/1-1/2"
    assert row.source.startswith("copper-tube-handbook-14.2f; ")
    assert row.note == ""


def test_the_eight_inch_tube_has_an_uneven_tolerance() -> None:
    assert tube("ASTM B88", "8", type_="K").od_limits("drawn") == (inches("8.121"), inches("8.127"))


def test_a_refrigeration_tube_with_two_walls_is_answered_when_the_wall_is_named() -> None:
    row = tube("ASTM B280", "3/4", temper="annealed", wall="0.042")
    assert row.wall_nominal == inches("0.042")
    assert row.type_ == "ACR"
    assert tube("ASTM B280", "2-1/8", temper="drawn").confidence is Confidence.MEMORY
    assert str(tube_sizes("ASTM B280")[0]) == "1/8"


def test_a_recalled_cup_says_so_and_a_seen_one_does_not() -> None:
    braze, solder = cup("ASME B16.50", "2"), cup("ASME B16.22", "2")
    assert (braze.depth_min.text, solder.depth_min.text) == ("0.40 in", "1.34 in")
    assert (braze.end, solder.end) == ("braze-cup", "solder-cup")
    assert braze.citation.basis is Basis.MEMORY
    assert braze.citation.needs_confirming
    assert "ASME B16.50" in str(braze.citation)
    assert solder.citation.basis is Basis.SECONDARY
    assert braze.tube_od == solder.tube_od == inches("2.125")


def test_an_unresolved_cup_shows_both_values() -> None:
    assert cup("ASME B16.22", "1/8").conflict == "0.25 or 0.31"
    assert cup("ASME B16.22", "1/4").conflict == ""


def test_an_en_cup_is_answered_in_millimetres() -> None:
    assert cup("EN 1254-1", "15 mm").depth_min.text == "10.6 mm"
    assert [str(s) for s in cup_sizes("EN 1254-1")][:2] == ["6 mm", "8 mm"]


def test_cast_cups_reach_twelve_inches_and_wrought_ones_eight() -> None:
    assert str(cup_sizes("ASME B16.18")[-1]) == "12"
    assert str(cup_sizes("ASME B16.22")[-1]) == "8"


def test_a_fitting_wall_is_a_hypothesis_whatever_it_rests_on() -> None:
    guess = wall_guess("type-m-tube-stand-in", "1/2")
    assert type(guess).__name__ == "WallHypothesis"
    assert guess.wall == tube("ASTM B88", "1/2", type_="M").wall_nominal
    assert guess.confidence is Confidence.MEMORY
    assert guess.citation.needs_confirming


def test_a_withdrawn_standard_can_be_looked_at_but_not_used() -> None:
    row = standard("MSS SP-73")
    assert (row.state, row.successor) == ("withdrawn", "ASME B16.50")
    with pytest.raises(errors.StandardWithdrawn, match="written confirmation"):
        male_end("MSS SP-73", "1/2")


def test_a_filler_carries_its_f_number_with_a_confidence_of_its_own() -> None:
    row = filler("BCuP-5")
    assert (row.family, row.f_number, row.f_confidence) == ("BCuP", "103", Confidence.SEEN)
    assert row.f_citation is not None
    assert row.f_citation.where == "filler_f_numbers"
    assert row.composition == {"Ag": Decimal(15), "Cu": Decimal(80), "P": Decimal(5)}
    assert row.liquidus == Quantity(Decimal(1475), "F", "temperature")
    silver = filler("BAg-7")
    assert (silver.confidence, silver.f_confidence) == (Confidence.SEEN, Confidence.MEMORY)


def test_a_recalled_figure_in_a_seen_row_is_told_apart() -> None:
    row = filler("BCuP-5")
    assert row.confidence_of("liquidus") is Confidence.SEEN
    assert row.confidence_of("gap") is Confidence.MEMORY
    assert row.citation_of("gap").needs_confirming
    assert row.citation_of("f_number") == row.f_citation


def test_a_filler_without_figures_or_without_f_number_says_none() -> None:
    nickel = filler("BNi-2")
    assert (nickel.solidus, nickel.f_number, nickel.family) == (None, "107", "BNi")
    withdrawn = filler("BCuP-1")
    assert (withdrawn.f_number, withdrawn.f_confidence, withdrawn.f_citation) == (None, None, None)
    assert len(filler_names()) == len(set(filler_names())) == 83


def test_an_iso_filler_names_its_near_aws_equivalent() -> None:
    row = filler_iso("CuP 284")
    assert (row.aws_near, row.solidus.text, row.confidence) == (
        "BCuP-5",
        "645 C",
        Confidence.MEMORY,
    )


def test_a_p_number_is_answered_from_the_best_known_row() -> None:
    row = p_number("C12200")
    assert (row.p_number, row.form, row.confidence) == ("107", "tube", Confidence.SEEN)
    assert p_number("C12200", form="pipe").confidence is Confidence.MEMORY


def test_an_unlisted_alloy_has_no_p_number_and_says_so() -> None:
    row = p_number("C84400")
    assert (row.p_number, row.listed) == (None, "unlisted until checked")


def test_forms_of_an_alloy_that_differ_must_be_named(monkeypatch: pytest.MonkeyPatch) -> None:
    rows = [r for r in records("base_metals") if r.text("alloy") == "C12200"]
    other = replace(rows[1], cells={**rows[1].cells, "p_number": "999"})
    monkeypatch.setattr(metals, "records", lambda _: (rows[0], other))
    with pytest.raises(errors.SeveralRows, match="tube, pipe"):
        p_number("C12200")
    assert p_number("C12200", form="tube").p_number == "107"


def test_properties_are_exact_and_keep_their_unit() -> None:
    row = metal_property("nitrogen", "density", condition="0 C, 1 atm")
    assert (row.value, row.unit) == (Decimal("1.2504"), "kg/m3")
    assert metal_property("C83600", "melting range").value_high == Decimal(1010)
    assert metal_property("C12200", "composition").text.startswith("Cu >= 99.9")
    assert copper_at("500").mean_expansion_1e6_per_k == Decimal("18.43")
    assert copper_at("900").expansion_second_fit_pct is None


def test_practice_rows_keep_their_kind() -> None:
    assert [r.value for r in purge_guidance("limit")] == ["< 1"]
    assert purge_guidance("limit")[0].citation.needs_confirming
    assert len(purge_guidance()) == 20
    assert {r.kind for r in strengths()} >= {"strength", "formula"}
    assert any("3 x thinner wall" in r.value for r in overlap_rules())


def test_printed_use_is_answered() -> None:
    assert filler_use("1-1/2").wire_1_16_in is None
    assert solder_use("1-1/2", "0.005").cup_depth_in == Decimal("1.09")


def test_importing_the_lookups_reads_no_table() -> None:
    code = (
        "import sys\n"
        "def stop(event, args):\n"
        "    if event == 'open' and str(args[0]).endswith(('.csv', '.source.yaml')):\n"
        "        raise SystemExit('read ' + str(args[0]))\n"
        "sys.addaudithook(stop)\n"
        "from lapwright.reference import consumption, fillers, fittings, metals, practice\n"
        "from lapwright.reference import ratings, sizes, standards, strictyaml, tables, tube\n"
        "assert 'numpy' not in sys.modules\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")
