"""Checks of the material vectors: tube, fittings, tees, filler, penetration."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from lapwright.core.outcomes import Subject
from lapwright.core.quantities import Quantity, length
from lapwright.rules import materials
from lapwright.rules.rulebook import Adopted


def _tube(given: Mapping[str, Any]) -> materials.TubeUse:
    pressure = given.get("pressure")
    rest = {k: v for k, v in given.items() if k not in ("pressure", "delivered")}
    return materials.TubeUse(
        "L1",
        **rest,
        delivered=tuple(given.get("delivered", ())),
        pressure=Quantity.parse(pressure, "pressure") if pressure else None,
    )


def tube(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """Tube as marked and delivered."""
    return materials.judge_tube(_tube(given), adopted=adopted)


def tube_type(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """Type K at high pressure and large size."""
    return materials.judge_tube_type(_tube(given), adopted=adopted)


def fitting(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """A fitting by its standard or its mark."""
    return materials.judge_fitting(materials.FittingUse("F1", **given), adopted=adopted)


def tee(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """A drilled tee."""
    return materials.judge_tee("J1", **given, adopted=adopted)


def filler(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """Filler and flux for two metals."""
    one, two = given["metals"]
    return materials.judge_filler(
        materials.FillerUse("J1", (one, two), given["filler"], given["flux"]), adopted=adopted
    )


def melting(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """Melting temperature of a filler."""
    return materials.judge_melting(
        given["filler"], Quantity.parse(given["liquidus"], "temperature"), adopted=adopted
    )


def sound(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """Least sound penetration, and its judgement where one was measured."""
    walls = [length(w) for w in given["walls"]]
    found: dict[str, Any] = {"least": materials.least_sound_overlap(walls, adopted=adopted)}
    if given.get("found"):
        found["finding"] = materials.judge_penetration(
            Subject("face", "F1"), length(given["found"]), walls, adopted=adopted
        )
    return found


CHECKS = {
    f"materials.{f.__name__}": f for f in (tube, tube_type, fitting, tee, filler, melting, sound)
}
