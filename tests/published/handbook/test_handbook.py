"""The shipped tables, and sums on them, against figures printed in handbooks.

Also whole printed columns: solder for one joint (180 cells) and brazing filler for one
joint, against the model that the handbook's own figures imply.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from lapwright.reference.consumption import filler_use, solder_uses
from lapwright.reference.fillers import filler
from lapwright.reference.fittings import cup, fitting_end
from lapwright.reference.ratings import allowable_stress
from lapwright.reference.strictyaml import read_yaml
from lapwright.reference.tables import records
from lapwright.reference.tube import tube

WIRE_1_8_IN2 = 0.01227  # section of a wire of 1/8 in, as the handbook rounds it
FILLER_LB_PER_IN3 = 0.304  # implied by 268 in of 1/8 in wire to the pound


def cases() -> list[dict[str, Any]]:
    """Return the witness cases."""
    read = read_yaml(Path(__file__).with_name("witness.yaml"))
    assert isinstance(read, list)
    return read


def tube_weight(given: dict[str, str]) -> float:
    """Return the weight of a tube in lb/ft from its dimensions."""
    row = tube("ASTM B819", given["size"], type_=given["type"])
    od, wall = float(row.od.inches), float(row.wall_nominal.inches)
    return math.pi * (od - wall) * wall * 12 * 0.323


def pressure(given: dict[str, str]) -> float:
    """Return P = 2 S t / (D - 0.8 t) with least wall and largest diameter, psi."""
    row = tube("ASTM B88", given["size"], type_=given["type"])
    stress = allowable_stress(given["temperature_F"], temper=given["temper"]).stress.value
    assert row.wall_minimum is not None
    wall = float(row.wall_minimum.inches)
    largest = float(row.od_limits(given["temper"])[1].inches)
    return 2 * float(stress) * wall / (largest - 0.8 * wall)


def largest_gap(given: dict[str, str]) -> float:
    """Return the largest diametral gap between a drawn tube and its cup, in."""
    smallest = tube("ASTM B819", given["size"], type_="L").od_limits("drawn")[0]
    high = fitting_end("ASME B16.22", "cup-id-max", given["size"]).value
    return float(high.inches - smallest.inches)


def solder_length(given: dict[str, str]) -> float:
    """Return the length of 1/8 in wire that fills a solder cup at a radial gap, in."""
    row = cup("ASME B16.22", given["size"])
    round_ = math.pi * float(row.tube_od.inches)
    return round_ * float(row.depth_min.inches) * float(given["gap_in"]) / WIRE_1_8_IN2


def filler_weight(given: dict[str, str]) -> float:
    """Return pounds for 100 joints: two thirds of a solder cup at a radial gap of 0.005 in."""
    name = "ASME B16.18" if given["size"] in {"10", "12"} else "ASME B16.22"
    row = cup(name, given["size"])
    volume = math.pi * float(row.tube_od.inches) * float(row.depth_min.inches) * 0.005 * 2 / 3
    return 100 * volume * FILLER_LB_PER_IN3


def liquidus(given: dict[str, str]) -> float:
    """Return the liquidus of a filler, degrees F."""
    row = filler(given["filler"])
    assert row.liquidus is not None
    return float(row.liquidus.value)


def flat_lap(given: dict[str, str]) -> float:
    """Return the lap X = T W / (C L), in."""
    strength = float(given["tensile_psi"]) * float(given["wall_in"])
    return strength / (float(given["integrity"]) * float(given["shear_psi"]))


SUMS: dict[str, Callable[[dict[str, str]], float]] = {
    "tube-weight": tube_weight,
    "pressure": pressure,
    "largest-gap": largest_gap,
    "solder-length": solder_length,
    "filler-weight": filler_weight,
    "liquidus-F": liquidus,
    "flat-lap": flat_lap,
}


@pytest.mark.parametrize("case", cases(), ids=lambda c: str(c["id"]))
def test_a_printed_figure_comes_out(case: dict[str, Any]) -> None:
    got = SUMS[case["sum"]](case["inputs"])
    room = float(case["tolerance"]) + 1e-9
    assert got == pytest.approx(float(case["expected"]), abs=room), case["sentence"]


def test_all_180_printed_solder_lengths_come_out() -> None:
    rows = solder_uses()
    assert len(rows) == 180
    for r in rows:
        model = math.pi * float(r.tube_od_in) * float(r.cup_depth_in) * float(r.gap_in)
        assert model / WIRE_1_8_IN2 == pytest.approx(float(r.wire_1_8_in), abs=0.0007), r.row


def test_the_solder_table_uses_the_cup_depths_of_the_fitting_table() -> None:
    for r in solder_uses():
        name = "ASME B16.18" if r.size.designation in {"10", "12"} else "ASME B16.22"
        depth = cup(name, r.size.designation).depth_min
        assert (depth.value, r.tube_od_in) == (r.cup_depth_in, r.size.outside_diameter.value)


def test_the_printed_solder_weight_holds_no_waste() -> None:
    rows = [r for r in solder_uses() if r.weight_lb_per_100 is not None]
    assert len(rows) == 18
    for r in rows:
        volume = 100 * math.pi * float(r.tube_od_in) * float(r.cup_depth_in) * 0.010
        assert r.weight_lb_per_100 is not None
        assert float(r.weight_lb_per_100) / volume == pytest.approx(0.266, abs=0.0021), r.row


def test_the_printed_filler_weights_follow_from_two_thirds_of_a_solder_cup() -> None:
    for record in records("filler_use"):
        size = record.text("size")
        printed = float(filler_use(size).weight_lb_per_100)
        got = filler_weight({"size": size})
        assert got == pytest.approx(printed, rel=0.08 if size == "1/4" else 0.02), size


def test_the_other_forms_of_filler_imply_one_density() -> None:
    row = filler_use("12")
    section = {"wire_3_32_in": math.pi / 4 * 0.09375**2, "rod_1_8_by_050_in": 0.125 * 0.050}
    for form, area in section.items():
        density = float(row.weight_lb_per_100) / (100 * area * float(getattr(row, form)))
        assert density == pytest.approx(0.304, rel=0.025), form
