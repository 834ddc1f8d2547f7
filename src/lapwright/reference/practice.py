"""Practice of several trades: overlap and gap, purge, strength of laps.

Rows are told as they were printed: values may be words or formulas, so they
stay text with a unit. `lapwright.rules` decides what a basis adopts.
"""

from __future__ import annotations

from dataclasses import dataclass

from .tables import Sourced, records


@dataclass(frozen=True)
class OverlapRule(Sourced):
    """One rule of overlap or gap and where it applies."""

    origin: str
    applies_to: str
    quantity: str
    value: str
    unit: str


@dataclass(frozen=True)
class PurgeRow(Sourced):
    """One limit, practice, formula, worked example or conflict on purging."""

    kind: str
    item: str
    value: str
    unit: str


@dataclass(frozen=True)
class StrengthRow(Sourced):
    """One strength, formula, worked example or rating."""

    kind: str
    item: str
    quantity: str
    value: str
    unit: str


def overlap_rules() -> tuple[OverlapRule, ...]:
    """Return all rules of overlap and gap."""
    return tuple(
        OverlapRule(
            r.provenance,
            r.text("origin"),
            r.text("applies_to"),
            r.text("quantity"),
            r.text("value"),
            r.text("unit"),
        )
        for r in records("overlap_rules")
    )


def purge_guidance(kind: str = "") -> tuple[PurgeRow, ...]:
    """Return the purge rows of a kind (``limit``, ``practice``, ``formula``, ...), or all."""
    return tuple(
        PurgeRow(r.provenance, r.text("kind"), r.text("item"), r.text("value"), r.text("unit"))
        for r in records("purge_guidance")
        if kind in ("", r.text("kind"))
    )


def strengths(kind: str = "") -> tuple[StrengthRow, ...]:
    """Return the rows of a kind (``strength``, ``formula``, ``worked example``, ...), or all."""
    return tuple(
        StrengthRow(
            r.provenance,
            r.text("kind"),
            r.text("item"),
            r.text("quantity"),
            r.text("value"),
            r.text("unit"),
        )
        for r in records("strength")
        if kind in ("", r.text("kind"))
    )
