"""Filler where none should be: behind the tube end, and on the tube's inner wall.

Behind the tube end lies a gap up to the stop; along the inner wall lies the bore. Both
show what surrounds the copper when they are empty. What stands there may be filler, a
burr of copper or dirt: it is shown to a person, who decides.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import cv2
import numpy as np

from .frame import Frame, room_beyond, stands_out, surroundings
from .mouth import last_copper
from .values import NOTHING, SEEN, UNMEASURED, ExtraFill, Spot

OPEN = 0.4  # of the way from surroundings to copper: nearer than this a place is empty
DARK = -0.45  # weighted lightness beside copper: a deep gap in shadow, no polished metal
LEAST_PX, LEAST_SHARE = 4.0, 0.008  # smallest height: in pixels, and as a share of the overlap
LEAST_GAP = 5  # cells inside the blurred sides of the gap behind the tube end
BLOCKS = 10  # along the bore, each with its own look of an empty place
LEAST_FILLED = 0.12  # of the gap behind the tube end


@dataclass(frozen=True)
class Bore:
    """The tube's inner wall: ``rows`` (n,) where metal ends below ``columns`` (n,).

    ``ground`` (n, 3) is the tone of the empty bore beside each column: a stain or a slope of
    light may colour it.
    """

    rows: np.ndarray
    columns: np.ndarray
    ground: np.ndarray


def find_bore(frame: Frame) -> Bore | str:
    """Find the inner wall of the tube along the overlap, or say why not.

    Parameters
    ----------
    frame : Frame
        The face laid straight.
    """
    if frame.sides != "told":
        return "sides-not-told-apart"
    columns = np.arange(frame.first + 2, frame.last)
    low = slice(0, round(0.3 * frame.middle))
    if frame.is_seen(low, slice(frame.first, frame.last)) < 0.75:
        return "bore-outside-picture"
    ground = surroundings(frame, low, slice(frame.first, frame.last))
    if ground is None:
        return "no-contrast"
    start = frame.middle - round(0.5 * frame.gap) - 4
    part = frame.copper[start::-1][:, columns]
    wall = float(np.median(last_copper(part)))
    if not 3 < wall < 0.8 * frame.middle:
        return "no-inner-wall-in-view"
    # from the wall's middle on, so that a void in the joint is not taken for the bore
    half = start - round(0.5 * wall)
    tone = cv2.GaussianBlur(frame.tone[: half + 1], (3, 3), 0)
    grounds = _ground_along(frame, columns, start - round(1.15 * wall))
    empty = _empty(tone[:, columns], grounds)[::-1]
    rows = half - np.where(empty.any(axis=0), empty.argmax(axis=0), half) + 0.5
    return Bore(np.asarray(rows, float), columns, grounds)


def _ground_along(frame: Frame, columns: np.ndarray, below: int) -> np.ndarray:
    """Return the tone of the bore beside every column, float, shape (n, 3)."""
    part = frame.tone[: max(below, 2) : 2, columns]
    edges = np.linspace(0, columns.size, BLOCKS + 1).astype(int)
    levels = [np.median(part[:, a:b], axis=(0, 1)) for a, b in itertools.pairwise(edges)]
    middles = (edges[:-1] + edges[1:] - 1) / 2
    at = np.arange(columns.size)
    return np.stack([np.interp(at, middles, [v[k] for v in levels]) for k in range(3)], axis=1)


def _empty(tone: np.ndarray, ground: np.ndarray) -> np.ndarray:
    away = np.linalg.norm(tone - ground, axis=-1)
    return np.asarray((away < OPEN * np.linalg.norm(ground, axis=-1)) | (tone[..., 0] < DARK))


def measure_bore(frame: Frame, bore: Bore | str, filler: np.ndarray | None) -> ExtraFill:
    """Look for what stands on the tube's inner wall.

    Parameters
    ----------
    frame : Frame
        The face laid straight.
    bore : Bore or str
        From `find_bore`; the reason where there is none.
    filler : ndarray of float, shape (3,), or None
        Tone of the filler in the gap, to know whether it would show.
    """
    if isinstance(bore, str):
        return ExtraFill(UNMEASURED, bore)
    wall, rough = _even_wall(bore)
    least = max(LEAST_PX / frame.step_px, LEAST_SHARE * frame.cells, 5 * rough)
    stands = wall - bore.rows  # rows fall towards the bore
    if float(np.mean(stands > least)) > 0.4:
        return ExtraFill(UNMEASURED, "inner-wall-uneven")
    spots = []
    for a, b in _stretches(stands > 0.5 * least):
        high = float(stands[a:b].max())
        if high < least or b - a < 3:
            continue
        middle = (a + b) // 2
        rows = slice(int(wall[middle] - high), max(int(wall[middle] - high) + 1, int(wall[middle])))
        place = frame.place(wall[middle] - high / 2, bore.columns[middle])
        looks = _looks(frame.copper[rows, bore.columns[a] : bore.columns[b - 1] + 1])
        spots.append(Spot(place, (b - a) * frame.step_px, high * frame.step_px, looks))
    if (
        not spots
        and filler is not None
        and not stands_out(filler, np.median(bore.ground, axis=0), OPEN)
    ):
        return ExtraFill(UNMEASURED, "filler-as-surroundings")
    return ExtraFill(SEEN if spots else NOTHING, "", tuple(spots))


def _even_wall(bore: Bore) -> tuple[np.ndarray, float]:
    """Return the inner wall as an even arc that ignores what stands on it, and its roughness."""
    u = np.linspace(-1, 1, bore.rows.size)
    kept = np.ones(u.size, bool)
    fit: np.ndarray = np.zeros(u.size)
    for degree in (1, 1, 3, 3):
        fit = np.asarray(np.polyval(np.polyfit(u[kept], bore.rows[kept], degree), u))
        miss = fit - bore.rows
        spread = 1.48 * float(np.median(np.abs(miss[kept]))) + 0.3
        kept = np.abs(miss - float(np.median(miss[kept]))) < 2.5 * spread
        if kept.sum() < 0.3 * u.size:
            break
    return fit, 1.48 * float(np.median(np.abs(fit - bore.rows)))


def _stretches(found: np.ndarray) -> list[tuple[int, int]]:
    steps = np.flatnonzero(np.diff(np.concatenate([[0], found.astype(np.int8), [0]])))
    return [(int(a), int(b)) for a, b in zip(steps[::2], steps[1::2], strict=True)]


def _looks(likeness: np.ndarray) -> str:
    return "as-copper" if likeness.size and float(np.mean(likeness)) > 0.7 else "other"


def measure_behind(frame: Frame, bore: Bore | str, filler: np.ndarray | None) -> ExtraFill:
    """Look for fill in the gap between tube end and stop.

    Parameters
    ----------
    frame : Frame
        The face laid straight.
    bore : Bore or str
        From `find_bore`; gives the tube's wall and the look of what is empty.
    filler : ndarray of float, shape (3,), or None
        Tone of the filler in the gap, to know whether it would show.
    """
    if isinstance(bore, str):
        return ExtraFill(UNMEASURED, bore)
    wall = round(float(np.median(bore.rows[: max(5, bore.rows.size // 8)])))
    rows = slice(wall + 2, frame.middle - round(0.5 * frame.gap))
    room = room_beyond(frame.seen[:, ::-1], frame.seen.shape[1] - 1 - frame.first)
    room = min(room, round(0.2 * frame.cells))
    reach = slice(frame.first - room, frame.first + round(0.03 * frame.cells))
    if rows.stop - rows.start < 4 or room < 0.02 * frame.cells or frame.is_seen(rows, reach) < 0.9:
        return ExtraFill(UNMEASURED, "tube-end-outside-picture")
    core = _gap_core(frame, rows, reach)
    if core is None:
        return ExtraFill(UNMEASURED, "no-gap-in-view")
    tone = cv2.GaussianBlur(frame.tone[rows, reach], (3, 3), 0)
    filled = core & ~_empty(tone, bore.ground[0])
    spot = _largest(frame, filled, core, rows, reach)
    if spot is not None:
        return ExtraFill(SEEN, "", (spot,))
    if filler is not None and not stands_out(filler, np.median(bore.ground, axis=0), OPEN):
        return ExtraFill(UNMEASURED, "filler-as-surroundings")
    return ExtraFill(NOTHING)


def _gap_core(frame: Frame, rows: slice, reach: slice) -> np.ndarray | None:
    """Return the inside of the gap between tube end and stop, without its blurred sides.

    The tube end lies where copper stops near the joint's inner end, the stop where it
    begins again; where fill as red as copper hides them, the other rows say. None where
    most rows show no such gap, or one of less than `LEAST_GAP` cells inside.
    """
    apart = np.linalg.norm(frame.tone[rows, reach], axis=-1)
    other = (frame.copper[rows, reach] < 0.5) | (apart > 0.3)
    near = other.shape[1] - 2 * round(0.03 * frame.cells) - 2
    found = []
    for row, line in enumerate(other):
        runs = [r for r in _stretches(line) if r[1] > near and r[1] < line.size and r[0] > 0]
        found += [(row, *runs[-1])] if runs else []
    if len(found) < 0.25 * len(other):
        return None
    seen = np.array(found)
    wide = np.median(seen[:, 2] - seen[:, 1])
    firm = seen[np.abs(seen[:, 2] - seen[:, 1] - wide) <= 2]
    at = np.arange(len(other))[:, None]
    stop, end = (np.polyval(np.polyfit(firm[:, 0], firm[:, k], 1), at) for k in (1, 2))
    columns = np.arange(other.shape[1])
    core = (columns >= stop + 2) & (columns < end - 2)
    return core if wide - 4 >= LEAST_GAP else None


def _largest(
    frame: Frame, filled: np.ndarray, core: np.ndarray, rows: slice, reach: slice
) -> Spot | None:
    count, names, stats, middles = cv2.connectedComponentsWithStats(
        filled.astype(np.uint8), connectivity=8
    )
    if count < 2:
        return None
    best = 1 + int(np.argmax(stats[1:, cv2.CC_STAT_AREA]))
    wide, high, area = (int(v) for v in stats[best, 2:5])
    least = max(LEAST_PX / frame.step_px, LEAST_SHARE * frame.cells)
    if area < LEAST_FILLED * core.sum() or high < least:
        return None
    column, row = middles[best]
    place = frame.place(rows.start + float(row), reach.start + float(column))
    looks = _looks(frame.copper[rows, reach][names == best])
    return Spot(place, wide * frame.step_px, high * frame.step_px, looks)
