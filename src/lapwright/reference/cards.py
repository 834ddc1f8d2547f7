"""The scale cards that the tool prints: a board of squares with markers, by exact name.

The markers are those of the open predefined dictionary `DICTIONARY` of OpenCV
(ArUco markers; in the white squares of a chessboard: a ChArUco board). No two
cards share a marker, so a part of a card in a picture tells which card it is.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from functools import cache

from .tables import Sourced, records

DICTIONARY = "DICT_4X4_100"
VERSION = "1"
CHECK_LINE_MM = 100
"""Nominal length of the two check lines of a sheet, [mm]."""


@dataclass(frozen=True)
class ScaleCard(Sourced):
    """One card: ``columns`` × ``rows`` squares; markers count up from ``first_id``."""

    name: str
    square_mm: Decimal
    marker_mm: Decimal
    columns: int
    rows: int
    first_id: int

    @property
    def marker_ids(self) -> range:
        """Ids of the card's markers: one in every second square."""
        return range(self.first_id, self.first_id + self.columns * self.rows // 2)

    @property
    def size_mm(self) -> tuple[Decimal, Decimal]:
        """Width and height of the board, [mm]."""
        return self.columns * self.square_mm, self.rows * self.square_mm


@cache
def scale_cards() -> tuple[ScaleCard, ...]:
    """Return every card, the smallest squares first."""
    return tuple(
        ScaleCard(
            provenance=r.provenance,
            name=r.text("card"),
            square_mm=r.needed("square_mm"),
            marker_mm=r.needed("marker_mm"),
            columns=int(r.needed("columns")),
            rows=int(r.needed("rows")),
            first_id=int(r.needed("first_id")),
        )
        for r in records("scale_cards")
    )
