"""Where a joint line ends inside the copper: the tube end of a tube pushed home, without a gap.

A tube that stands against the stop of its fitting leaves no gap that would
break the copper. The line between the two walls still ends there. The numbers
are our own choice on the tuning stream, no source.
"""

from __future__ import annotations

import cv2
import numpy as np

from .trace import bends_of, line_evidence

SEEN = 0.45  # evidence at and above which a column shows the line
NEAR_ROWS = 2  # how far off its arc the line is still looked for


def line_seen(planes: np.ndarray, arc: np.ndarray, wide: float) -> np.ndarray:
    """Return how plainly each column shows a line at its row of an arc, 0 to 1, shape (n,).

    Parameters
    ----------
    planes : ndarray of float32, shape (m, n, 3)
        Colour planes of a straightened band.
    arc : ndarray of float, shape (n,)
        Row of the line in every column.
    wide : float
        How far to each side walls of copper are sure to lie, in rows.
    """
    rows = np.arange(-round(wide), round(wide) + 1)[:, None]
    columns = np.broadcast_to(np.arange(arc.size, dtype=np.float32), (rows.size, arc.size))
    at = (arc[None, :] + rows).astype(np.float32)
    level = cv2.remap(
        planes, np.ascontiguousarray(columns), at, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    middle = level[rows.size // 4 : rows.size - rows.size // 4].shape[0]
    likely = np.exp(-0.5 * (np.arange(middle)[:, None] - middle // 2) ** 2 / 4.0)
    likely = np.broadcast_to(likely, (middle, arc.size))
    evidence, _ = line_evidence(bends_of(level, middle), likely)
    near = slice(middle // 2 - NEAR_ROWS, middle // 2 + NEAR_ROWS + 1)
    return np.asarray(evidence[near].max(axis=0))


def line_end(seen: np.ndarray, low: int, high: int, window: int) -> tuple[float, float]:
    """Return the column between two where a line, followed from the right, ends; and how plainly.

    Parameters
    ----------
    seen : ndarray of float, shape (n,)
        From `line_seen`.
    low, high : int
        Columns between which it may end.
    window : int
        Columns that must show the line before its end and none behind it.
    """
    low, high = max(low, window // 2), min(high, seen.size - window - 1)
    if high <= low:
        return float(low), 0.0
    sums = np.concatenate([[0.0], np.cumsum(seen - SEEN)])
    at = np.arange(low, high + 1)
    gain = (sums[min(seen.size, high + 2 * window)] - sums[at]) - sums[at]
    best = int(at[int(gain.argmax())])
    inside = float(np.mean(seen[best : best + window]))
    behind = seen[max(0, best - 2 * window) : best]
    return float(best), float(np.clip(inside - np.mean(behind), 0, 1))


def line_ends(seen: np.ndarray, window: int, *, least: float = 0.3) -> list[int]:
    """Return up to three columns where a line may end, the plainest first.

    Parameters
    ----------
    seen : ndarray of float, shape (n,)
        From `line_seen`; the line is followed from the right.
    window : int
        Columns that must show the line before its end; twice as many behind it must not.
    least : float, optional
        Least difference of the two.
    """
    sums = np.concatenate([[0.0], np.cumsum(seen)])
    at = np.arange(window // 2, seen.size - window)
    if at.size == 0:
        return []
    behind = np.maximum(0, at - 2 * window)
    fall = (sums[at + window] - sums[at]) / window - (sums[at] - sums[behind]) / (at - behind)
    found: list[int] = []
    while len(found) < 3:
        best = int(fall.argmax())
        if fall[best] < least:
            break
        found.append(int(at[best]))
        fall[max(0, best - window) : best + window + 1] = -1
    return found
