"""Allowable stress and printed working pressure of copper tube."""

from __future__ import annotations

from dataclasses import dataclass

from lapwright.core.quantities import Quantity

from .errors import UnknownProperty
from .tables import Record, Sourced, near, records


@dataclass(frozen=True)
class StressRow(Sourced):
    """Allowable stress at one temperature; annealed governs once a tube is brazed."""

    temperature: Quantity
    temper: str
    stress: Quantity


@dataclass(frozen=True)
class RatedPressureRow(Sourced):
    """One printed internal working pressure."""

    type_: str
    size: str
    temperature: Quantity
    temper: str
    pressure: Quantity


def allowable_stress(temperature_f: str, *, temper: str, where: str = "") -> StressRow:
    """Return the allowable stress at a listed temperature; nothing is interpolated.

    Parameters
    ----------
    temperature_f : str
        Temperature as listed, degrees F.
    temper : str
        ``annealed`` or ``drawn``.
    where : str, optional
        File and key, put before a refusal.

    Raises
    ------
    UnknownProperty
        For a temperature or temper that is not listed.
    """
    for r in records("tube_stress"):
        if (r.text("temperature_F"), r.text("temper")) == (temperature_f, temper):
            return StressRow(r.provenance, _temperature(r), temper, _psi(r, "stress_psi"))
    listed = (f"{r.text('temperature_F')} {r.text('temper')}" for r in records("tube_stress"))
    raise UnknownProperty(
        "no allowable stress listed",
        got=f"{temperature_f} {temper}",
        where=where,
        expected=near(f"{temperature_f} {temper}", listed),
        do="Use the next higher listed temperature, and say so.",
    )


def rated_pressures() -> tuple[RatedPressureRow, ...]:
    """Return all printed internal working pressures."""
    return tuple(
        RatedPressureRow(
            r.provenance,
            r.text("type"),
            r.text("size"),
            _temperature(r),
            r.text("temper"),
            _psi(r, "pressure_psi"),
        )
        for r in records("tube_rated_pressure")
    )


def _temperature(record: Record) -> Quantity:
    return Quantity(record.needed("temperature_F"), "F", "temperature")


def _psi(record: Record, column: str) -> Quantity:
    return Quantity(record.needed(column), "psi", "pressure")
