"""Brazing fillers: AWS A5.8 classifications, F-numbers, ISO 17672 designations.

Melting figures are those printed after AWS A5.8-1981; later figures stand in the
notes. A row read in a page can still hold recalled figures: ask `confidence_of`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from types import MappingProxyType

from lapwright.core.citations import Citation
from lapwright.core.quantities import Quantity

from .errors import UnknownFiller, UnknownProperty
from .tables import Confidence, Provenance, Record, Sourced, near, records

_ELEMENTS = ("Ag", "Cu", "Zn", "P")
_FIGURES = ("composition", "solidus", "liquidus", "brazing_range", "gap", "density", "f_number")


@dataclass(frozen=True)
class FillerRow(Sourced):
    """One classification; ``None`` where no figure is known.

    ``composition`` holds nominal per cent by element, ``other`` the rest as
    text; temperatures in degrees F; gaps in inches, radial or diametral is not
    stated by the source. ``f_number`` has a provenance of its own.
    """

    classification: str
    family: str
    composition: Mapping[str, Decimal]
    other: str
    solidus: Quantity | None
    liquidus: Quantity | None
    brazing_low: Quantity | None
    brazing_high: Quantity | None
    gap_min: Quantity | None
    gap_max: Quantity | None
    density_g_per_cm3: Decimal | None
    recalled: tuple[str, ...]
    f_number: str | None
    f_provenance: Provenance | None

    @property
    def f_confidence(self) -> Confidence | None:
        """How the F-number is known; ``None`` when there is none."""
        return self.f_provenance.confidence if self.f_provenance else None

    @property
    def f_citation(self) -> Citation | None:
        """Citation of the F-number; ``None`` when there is none."""
        return self.f_provenance.citation if self.f_provenance else None

    def confidence_of(self, figure: str) -> Confidence:
        """Return how one figure of the row is known; see `citation_of`."""
        return self._provenance_of(figure).confidence

    def citation_of(self, figure: str) -> Citation:
        """Return the citation of one figure of the row.

        Parameters
        ----------
        figure : str
            ``composition``, ``solidus``, ``liquidus``, ``brazing_range``, ``gap``,
            ``density`` or ``f_number``.

        Raises
        ------
        UnknownProperty
            For another word, or an F-number that is not known.
        """
        return self._provenance_of(figure).citation

    def _provenance_of(self, figure: str) -> Provenance:
        if figure == "f_number" and self.f_provenance:
            return self.f_provenance
        if figure not in _FIGURES or figure == "f_number":
            raise UnknownProperty(
                f"no such figure of {self.classification}",
                got=figure,
                expected=near(figure, _FIGURES),
                do="Ask for a listed figure.",
            )
        return self.provenance.as_memory() if figure in self.recalled else self.provenance


@dataclass(frozen=True)
class IsoFillerRow(Sourced):
    """One ISO 17672 designation with its older and its nearest AWS name, empty if none."""

    designation: str
    en_1044: str
    aws_near: str
    composition: str
    solidus: Quantity
    liquidus: Quantity


def filler(classification: str, *, where: str = "") -> FillerRow:
    """Return a filler by its AWS A5.8 classification.

    Parameters
    ----------
    classification : str
        Exactly as printed, for example ``BCuP-5``.
    where : str, optional
        File and key, put before a refusal.

    Raises
    ------
    UnknownFiller
        For a classification not listed, with near candidates.

    Examples
    --------
    >>> filler("BCuP-5").f_number
    '103'
    """
    data = _one("fillers", "classification", classification)
    number = _one("filler_f_numbers", "classification", classification)
    if data is not None:
        return _with_data(data, number)
    if number is not None:
        return _without_data(classification, number)
    raise UnknownFiller(
        "unknown filler",
        got=classification,
        where=where,
        expected=near(classification, filler_names()),
        do="Write the AWS A5.8 classification as printed on the rod.",
    )


def filler_names() -> tuple[str, ...]:
    """Return every classification that `filler` answers, in table order."""
    names = [r.text("classification") for t in ("fillers", "filler_f_numbers") for r in records(t)]
    return tuple(dict.fromkeys(names))


def filler_iso(designation: str, *, where: str = "") -> IsoFillerRow:
    """Return a filler by its ISO 17672 designation, for example ``CuP 284``.

    Raises
    ------
    UnknownFiller
        For a designation not listed, with near candidates.
    """
    record = _one("filler_iso17672", "designation", designation)
    if record is None:
        names = (r.text("designation") for r in records("filler_iso17672"))
        raise UnknownFiller(
            "unknown filler",
            got=designation,
            where=where,
            expected=near(designation, names),
            do="Write the ISO 17672 designation.",
        )
    return IsoFillerRow(
        record.provenance,
        designation,
        record.text("en_1044"),
        record.text("aws_near"),
        record.text("composition"),
        Quantity(record.needed("solidus_C"), "C", "temperature"),
        Quantity(record.needed("liquidus_C"), "C", "temperature"),
    )


def _with_data(record: Record, number: Record | None) -> FillerRow:
    parts = {e: record.number(f"{e}_pct") for e in _ELEMENTS}
    return FillerRow(
        provenance=record.provenance,
        classification=record.text("classification"),
        family=record.text("family"),
        composition=MappingProxyType({e: v for e, v in parts.items() if v is not None}),
        other=record.text("other_pct"),
        solidus=_degrees(record, "solidus_F"),
        liquidus=_degrees(record, "liquidus_F"),
        brazing_low=_degrees(record, "brazing_low_F"),
        brazing_high=_degrees(record, "brazing_high_F"),
        gap_min=record.inches_or_none("gap_min_in"),
        gap_max=record.inches_or_none("gap_max_in"),
        density_g_per_cm3=record.number("density_g_per_cm3"),
        recalled=tuple(f for f in record.text("recalled").split("; ") if f),
        f_number=number.text("f_number") if number else None,
        f_provenance=number.provenance if number else None,
    )


def _without_data(classification: str, number: Record) -> FillerRow:
    return FillerRow(
        provenance=number.provenance,
        classification=classification,
        family=classification.rpartition("-")[0],
        composition=MappingProxyType({}),
        other="",
        solidus=None,
        liquidus=None,
        brazing_low=None,
        brazing_high=None,
        gap_min=None,
        gap_max=None,
        density_g_per_cm3=None,
        recalled=(),
        f_number=number.text("f_number"),
        f_provenance=number.provenance,
    )


def _degrees(record: Record, column: str) -> Quantity:
    return Quantity(record.needed(column), "F", "temperature")


def _one(table: str, column: str, value: str) -> Record | None:
    return next((r for r in records(table) if r.text(column) == value), None)
