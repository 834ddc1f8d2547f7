"""Read a mask of a peeled surface: area, worst line, paths from edge to edge.

ASME BPVC IX, QB-172, and AWS B2.2:2016, 4.2.3 to 4.2.7, ask these questions; the
limits and the verdict are the rules' matter.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction

import cv2
import numpy as np

from lapwright.core.messages import Message
from lapwright.measure.errors import PeelSurfaceMissing

from .direction import SKEW_DEG, LapDirection, skew_deg
from .lines import WorstLine, line_ends, span_of_edges, worst_lines
from .mask import DISCONTINUITY, OUTSIDE, SOUND, UNSURE
from .outline import GRID, Outline
from .paths import Edges, find_edges, holes, join_edges
from .values import Bounds, LineBounds, PeelReading, Place

ANY, HALF = Fraction(0), Fraction(1, 2)
MOST_PLACES = 20


def read_peel(
    states: np.ndarray, lap: LapDirection, *, outline: Outline | None = None
) -> PeelReading:
    """Read a mask; the answers are exact for its pixels.

    Parameters
    ----------
    states : ndarray of uint8, shape (height, width)
        States of the pixels (see `lapwright.measure.peel.mask`); not modified.
    lap : LapDirection
        From the mouth edge to the stop edge.
    outline : Outline, optional
        Names the edges where it has four corners. The surface is that of the
        mask alone: cut it with `cut_to_outline` first.

    Returns
    -------
    PeelReading
        Shares as fractions with bounds, paths, places.

    Raises
    ------
    PeelSurfaceMissing
        If no pixel belongs to the surface.

    Notes
    -----
    Area share: discontinuity pixels over surface pixels. Line share: of four
    corners, lines count that cross both mouth and stop edge, since one that cuts
    across a corner of the surface has no lap to speak of; else every line (see
    `worst_line`). Unsure pixels count as sound for the low bound and as
    discontinuity for the high one.
    """
    kept, left, top = _crop(states)
    surface, sure = kept != OUTSIDE, kept == DISCONTINUITY
    possible = sure | (kept == UNSURE)
    moved = _moved(outline, left, top)
    edges = find_edges(surface, lap, moved)
    count, places = _places(sure, edges)
    span = None if moved is None else span_of_edges(moved, lap)
    wanted = ((ANY, span), (HALF, span), (ANY, None))
    low = worst_lines(sure, surface, lap=lap, wanted=wanted)
    high = worst_lines(possible, surface, lap=lap, wanted=wanted)
    lines, long, every = (LineBounds(a, b) for a, b in zip(low, high, strict=True))
    ends = line_ends(surface, lap, lines.high.offset)
    total = int(np.count_nonzero(surface))
    counted = [int(np.count_nonzero(a)) for a in (sure, possible)]
    reading = PeelReading(
        surface_px=total,
        discontinuity_px=counted[0],
        unsure_px=counted[1] - counted[0],
        area=Bounds(Fraction(counted[0], total), Fraction(counted[1], total)),
        line=_shifted(lines, lap, left, top),
        long_line=_shifted(long, lap, left, top),
        any_line=_shifted(every, lap, left, top),
        line_ends_px=((ends[0][0] + left, ends[0][1] + top), (ends[1][0] + left, ends[1][1] + top)),
        paths=join_edges(sure, possible, edges),
        places=tuple(_placed(p, left, top) for p in places),
        place_count=count,
        lap=lap,
    )
    return replace(reading, warnings=tuple(_warnings(reading, surface, outline)))


def cut_to_outline(states: np.ndarray, pixels: np.ndarray) -> tuple[np.ndarray, int]:
    """Return the mask inside an outline, and how many pixels of the outline it leaves out.

    Parameters
    ----------
    states : ndarray of uint8, shape (height, width)
        States of the pixels; not modified.
    pixels : ndarray of bool, shape (height, width)
        The pixels of the outline.
    """
    cut = np.where(pixels, states, np.uint8(OUTSIDE))
    return cut, int(np.count_nonzero(pixels) - np.count_nonzero(cut))


def sound_surface(pixels: np.ndarray) -> np.ndarray:
    """Return a mask of sound pixels, to be painted on, from the pixels of an outline."""
    return np.where(pixels, np.uint8(SOUND), np.uint8(OUTSIDE))


def _crop(states: np.ndarray) -> tuple[np.ndarray, int, int]:
    surface = states != OUTSIDE
    rows, columns = (np.flatnonzero(surface.any(axis=a)) for a in (1, 0))
    if not len(rows):
        raise PeelSurfaceMissing(
            "no pixel of a lap surface",
            got="a picture that lies wholly outside",
            expected="at least one pixel inside the outline that the mask does not call outside",
            do="Check the outline and the mask.",
        )
    kept = states[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    return kept, int(columns[0]), int(rows[0])


def _moved(outline: Outline | None, left: int, top: int) -> Outline | None:
    if outline is None:
        return None
    return Outline(tuple((x - left * GRID, y - top * GRID) for x, y in outline.points))


def _shifted(lines: LineBounds, lap: LapDirection, left: int, top: int) -> LineBounds:
    by = lap.dx * top - lap.dy * left

    def move(line: WorstLine) -> WorstLine:
        return replace(line, offset=line.offset + by)

    return LineBounds(move(lines.low), move(lines.high))


def _places(sure: np.ndarray, edges: Edges) -> tuple[int, tuple[Place, ...]]:
    """Return how many discontinuities there are, and the largest of them."""
    count, labels, stats, centres = cv2.connectedComponentsWithStats(
        sure.astype(np.uint8), connectivity=8
    )
    touched = {edge: set(np.unique(labels[place]).tolist()) for edge, place in edges.items()}
    order = np.argsort(-stats[1:, cv2.CC_STAT_AREA], kind="stable")[:MOST_PLACES] + 1
    return count - 1, tuple(
        Place(
            int(stats[n, cv2.CC_STAT_AREA]),
            (float(centres[n, 0]), float(centres[n, 1])),
            (int(stats[n, 0]), int(stats[n, 1]), int(stats[n, 2]), int(stats[n, 3])),
            tuple(edge for edge, labels_there in touched.items() if int(n) in labels_there),
        )
        for n in order
    )


def _placed(place: Place, left: int, top: int) -> Place:
    x, y = place.centre_px
    a, b, width, height = place.box_px
    return replace(place, centre_px=(x + left, y + top), box_px=(a + left, b + top, width, height))


def _warnings(
    reading: PeelReading, surface: np.ndarray, outline: Outline | None
) -> Iterator[Message]:
    pieces = cv2.connectedComponents(surface.astype(np.uint8), connectivity=8)[0] - 1
    if pieces > 1:
        yield Message("peel.warning.pieces", count=str(pieces))
    if enclosed := holes(surface):
        yield Message("peel.warning.holes", count=str(enclosed))
    if reading.any_line.high.share > reading.line.high.share:
        share = f"{100 * float(reading.any_line.high.share):.1f}"
        yield Message("peel.warning.side_line", share=share)
    if reading.line.high.share > reading.long_line.high.share:
        yield Message(
            "peel.warning.short_line",
            lap=f"{100 * reading.line.high.lap_share:.0f}",
            share=f"{100 * float(reading.long_line.high.share):.1f}",
        )
    if reading.through_path == "no" and reading.corner_path != "no":
        yield Message("peel.warning.corner")
    if outline is not None and len(outline.points) == 4 and skew_deg(outline) > SKEW_DEG:
        yield Message("peel.warning.skew", angle=f"{skew_deg(outline):.1f}")
