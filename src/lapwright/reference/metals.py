"""Base metals: brazing P-numbers and material properties.

P-numbers are those of ASME BPVC Section IX, QW/QB-422; AWS groups are another
numbering and are not mixed in. An alloy can be known and yet *unlisted*: then
``p_number`` is ``None`` and ``listed`` says so.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from .errors import SeveralRows, UnknownMetal, UnknownProperty
from .tables import Confidence, Record, Sourced, near, records


@dataclass(frozen=True)
class BaseMetalRow(Sourced):
    """One alloy in one product form; ``listed`` is ``listed`` or ``unlisted until checked``."""

    alloy: str
    name: str
    form: str
    specifications: str
    p_number: str | None
    listed: str


@dataclass(frozen=True)
class PropertyRow(Sourced):
    """One property; a figure with ``unit``, or ``text``. ``value_high`` ends a range."""

    material: str
    property_: str
    condition: str
    value: Decimal | None
    value_high: Decimal | None
    unit: str
    text: str


@dataclass(frozen=True)
class CopperRow(Sourced):
    """Pure copper at one temperature, degrees C; expansion counts from 20 C."""

    temperature_c: Decimal
    density_kg_per_m3: Decimal
    expansion_pct: Decimal
    mean_expansion_1e6_per_k: Decimal | None
    expansion_second_fit_pct: Decimal | None
    conductivity_w_per_mk: Decimal
    specific_heat_j_per_kgk: Decimal


def p_number(alloy: str, *, form: str = "", where: str = "") -> BaseMetalRow:
    """Return the row of an alloy with its brazing P-number.

    Parameters
    ----------
    alloy : str
        UNS number or the designation listed, for example ``C12200``.
    form : str, optional
        ``tube``, ``pipe``, ``casting``, ...; without it, all forms listed must
        agree, and the best known row is returned.
    where : str, optional
        File and key, put before a refusal.

    Raises
    ------
    UnknownMetal
        For an alloy, or a form of it, that is not in the table.
    SeveralRows
        If the forms differ and none was named.

    Examples
    --------
    >>> p_number("C12200").p_number
    '107'
    >>> p_number("C84400").listed
    'unlisted until checked'
    """
    table = records("base_metals")
    rows = [r for r in table if r.text("alloy") == alloy]
    if not rows:
        raise UnknownMetal(
            "unknown base metal",
            got=alloy,
            where=where,
            expected=near(alloy, (r.text("alloy") for r in table)),
            do="Write the UNS number of the alloy.",
        )
    if form:
        forms = [r.text("form") for r in rows]
        rows = [r for r in rows if r.text("form") == form]
        if not rows:
            raise UnknownMetal(
                f"no such form of {alloy}",
                got=form,
                where=where,
                expected="one of " + ", ".join(forms),
                do="Name a listed form.",
            )
    if len({r.text("p_number") for r in rows}) > 1:
        raise SeveralRows(
            f"P-number of {alloy}",
            got="no form",
            where=where,
            expected="one of " + ", ".join(r.text("form") for r in rows),
            do="Name the product form.",
        )
    seen = [r for r in rows if r.provenance.confidence is Confidence.SEEN]
    return _base_metal((seen or rows)[0])


def base_metals() -> tuple[BaseMetalRow, ...]:
    """Return every alloy and form of the table."""
    return tuple(_base_metal(r) for r in records("base_metals"))


def metal_property(
    material: str, property_: str, *, condition: str = "", where: str = ""
) -> PropertyRow:
    """Return one property of a material under one listed condition.

    Examples: ``("C12200", "density", condition="20 C")``,
    ``("nitrogen", "density", condition="0 C, 1 atm")``.

    Raises
    ------
    UnknownMetal
        For a material not listed.
    UnknownProperty
        For a property or condition not listed for it.
    """
    table = records("metals")
    rows = [r for r in table if r.text("material") == material]
    if not rows:
        raise UnknownMetal(
            "unknown material",
            got=material,
            where=where,
            expected=near(material, (r.text("material") for r in table)),
            do="Write the material as listed.",
        )
    for r in rows:
        if (r.text("property"), r.text("condition")) == (property_, condition):
            return PropertyRow(
                r.provenance,
                material,
                property_,
                condition,
                r.number("value"),
                r.number("value_high"),
                r.text("unit"),
                r.text("text"),
            )
    listed = (_label(r.text("property"), r.text("condition")) for r in rows)
    raise UnknownProperty(
        f"no such property of {material}",
        got=_label(property_, condition),
        where=where,
        expected=near(_label(property_, condition), listed),
        do="Ask for a listed property and condition.",
    )


def copper_at(temperature_c: str, *, where: str = "") -> CopperRow:
    """Return pure copper at a listed temperature, degrees C; nothing is interpolated.

    Raises
    ------
    UnknownProperty
        For a temperature not listed.
    """
    for row in copper_by_temperature():
        if str(row.temperature_c) == temperature_c:
            return row
    listed = (str(r.temperature_c) for r in copper_by_temperature())
    raise UnknownProperty(
        "no copper figures listed at this temperature",
        got=temperature_c,
        where=where,
        expected=near("", listed),
        do="Use a listed temperature, or interpolate and say so.",
    )


def copper_by_temperature() -> tuple[CopperRow, ...]:
    """Return pure copper from 20 to 900 C, coldest first."""
    return tuple(
        CopperRow(
            provenance=r.provenance,
            temperature_c=r.needed("temperature_C"),
            density_kg_per_m3=r.needed("density_kg_per_m3"),
            expansion_pct=r.needed("expansion_from_20C_pct"),
            mean_expansion_1e6_per_k=r.number("mean_expansion_from_20C_1e-6_per_K"),
            expansion_second_fit_pct=r.number("expansion_second_fit_pct"),
            conductivity_w_per_mk=r.needed("conductivity_pure_W_per_mK"),
            specific_heat_j_per_kgk=r.needed("specific_heat_J_per_kgK"),
        )
        for r in records("copper_by_temperature")
    )


def _label(property_: str, condition: str) -> str:
    return f"{property_} at {condition}" if condition else property_


def _base_metal(record: Record) -> BaseMetalRow:
    return BaseMetalRow(
        record.provenance,
        record.text("alloy"),
        record.text("name"),
        record.text("form"),
        record.text("specifications"),
        record.text("p_number") or None,
        record.text("listed"),
    )
