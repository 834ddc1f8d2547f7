"""Reliability of the stated probabilities on drawn faces: a table and a picture.

``python benchmarks/reliability.py --out docs/images/reliability.png`` reads 60 faces of each style
(testing stream, seeds 7400 to 7459, 1,200 px wide, ends jittered as in ``accuracy.py``). At 1,000
places of every overlap the probability of being unbrazed is compared with the truth, for all
places, and for those farther than 0.5 % of the overlap from a true void end, where a void end read
a pixel off does not count as a wrong class. Bars hold 95 % when whole faces are drawn again.
The last line printed is the one the docs quote. ``--stream tuning --first 9200`` is for work on the
class model; without ``--out`` nothing is drawn.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path

import cv2
import numpy as np
from errorparts import along_reading, read_drawn

from lapwright.measure.pen import INK, PAPER, Colour, png, shrink, stroke, words
from lapwright.measure.reliability import POSITIONS, Reliability, probability_at, reliability

WIDTH_PX = 1200
CLEAR_SHARE = 0.005  # places nearer to a true void end say more of its place than of its class
FEW = 5  # faces: below that a bin is drawn small, without a bar
Panel = tuple[str, Reliability, Reliability]
Face = tuple[np.ndarray, np.ndarray, np.ndarray, str]

ALL: Colour = (130, 96, 44)
CLEAR: Colour = (46, 104, 190)
PALE: Colour = (218, 216, 212)
SIZE, LEFT, TOP, GAP = 800, 190, 210, 190  # of a panel and its margins, [px] before shrinking


def measure(seed: int, *, style: str, stream: str) -> Face | None:
    cv2.setNumThreads(1)
    drawn, reading = read_drawn(seed, style=style, stream=stream, width_px=WIDTH_PX)
    if reading is None:
        return None
    at = (np.arange(POSITIONS) + 0.5) / POSITIONS
    true, clear = np.zeros(POSITIONS), np.ones(POSITIONS, bool)
    for start, end, _ in drawn.segments:
        true[(at >= start) & (at < end)] = 1
        for edge in (start, end):
            clear &= np.abs(at - edge) > CLEAR_SHARE
    stated = probability_at(reading.segments, along_reading(drawn, reading, at))
    return stated, true, clear, reading.method


def report(name: str, found: Reliability) -> None:
    print(f"{name}: Brier {found.brier:.4f}, calibration error {found.calibration_error:.4f}")
    for b in found.bins:
        print(
            f"  {b.low:.2f} to {b.high:.2f}: {b.positions:6d} places on {b.faces:3d} faces, stated "
            f"{b.stated:.4f}, true {b.true:.4f} ({b.bounds[0]:.4f} to {b.bounds[1]:.4f})"
        )


def figures_line(panels: Sequence[Panel]) -> str:
    """Return the one line that the page "How well is it known" quotes."""
    told = [
        f"{style} {every.faces} faces, Brier score {every.brier:.4f} (clear of void ends "
        f"{clear.brier:.4f}), calibration error {every.calibration_error:.4f} "
        f"({clear.calibration_error:.4f})"
        for style, every, clear in panels
    ]
    return "; ".join(told)


def draw(panels: Sequence[Panel]) -> np.ndarray:
    """Draw the panels side by side, shape (height, width, 3), BGR."""
    wide = LEFT + len(panels) * (SIZE + GAP)
    canvas = np.full((TOP + SIZE + 240, wide, 3), PAPER, np.uint8)
    words(canvas, "How often a place was unbrazed, by the probability stated", (wide / 2, 52),
          size=44)  # fmt: skip
    for number, panel in enumerate(panels):
        _panel(canvas, LEFT + number * (SIZE + GAP), panel)
    words(canvas, "stated probability of being unbrazed", (wide / 2, TOP + SIZE + 110), size=32)
    _legend(canvas, wide / 2, TOP + SIZE + 185)
    return canvas


def _panel(canvas: np.ndarray, left: int, panel: Panel) -> None:
    style, every, clear = panel
    words(canvas, f"style {style}, {every.faces} faces", (left + SIZE / 2, TOP - 70), size=34)
    for tick in np.linspace(0, 1, 6):
        x, y = _at(left, tick, tick)
        _rule(canvas, (left, y), (left + SIZE, y), PALE)
        _rule(canvas, (x, TOP), (x, TOP + SIZE), PALE)
        words(canvas, f"{tick:.1f}", (x, TOP + SIZE + 40), size=28)
        words(canvas, f"{100 * tick:.0f} %", (left - 58, y), size=28)
    _rule(canvas, _at(left, 0, 0), _at(left, 1, 1), INK, width=2)
    for found, colour, shift in ((every, ALL, -7), (clear, CLEAR, 7)):
        for b in found.bins:
            x, y = _at(left, b.stated, b.true)
            if b.faces >= FEW:
                low, high = (_at(left, 0, v)[1] for v in b.bounds)
                _rule(canvas, (x + shift, low), (x + shift, high), colour, width=3)
            _mark(canvas, (x + shift, y), colour, 10 if b.faces >= FEW else 5)


def _at(left: int, x: float, y: float) -> tuple[float, float]:
    return left + SIZE * x, TOP + SIZE * (1 - y)


def _rule(
    canvas: np.ndarray,
    start: tuple[float, float],
    end: tuple[float, float],
    colour: Colour,
    width: int = 1,
) -> None:
    stroke(canvas, np.array([start, end]), colour, width=width, halo=0)


def _mark(canvas: np.ndarray, at: tuple[float, float], colour: Colour, size: int = 10) -> None:
    """Draw a filled square for all places, an open circle for those clear of void ends."""
    x, y = round(at[0]), round(at[1])
    if colour == ALL:
        corners = (x - size, y - size), (x + size, y + size)
        cv2.rectangle(canvas, *corners, colour, -1, cv2.LINE_AA)
    else:
        cv2.circle(canvas, (x, y), size + 1, PAPER, -1, cv2.LINE_AA)
        cv2.circle(canvas, (x, y), size + 1, colour, 4, cv2.LINE_AA)


def _legend(canvas: np.ndarray, middle: float, y: float) -> None:
    for x, colour, text in (
        (middle - 780, ALL, "square: all places"),
        (middle - 340, CLEAR, "circle: 0.5 % clear of void ends"),
    ):
        _mark(canvas, (x, y), colour)
        words(canvas, text, (x + 34 + 6.9 * len(text), y), size=32)
    words(canvas, f"small, no bar: fewer than {FEW} faces", (middle + 540, y), size=32)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--faces", type=int, default=60, help="of each style")
    parser.add_argument("--first", type=int, default=7400)
    parser.add_argument("--stream", default="testing", choices=["testing", "tuning"])
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--out", type=Path, help="picture to write")
    options = parser.parse_args()
    seeds = range(options.first, options.first + options.faces)
    panels: list[Panel] = []
    for style in ("field", "plate"):
        work = partial(measure, style=style, stream=options.stream)
        with ProcessPoolExecutor(options.workers) as pool:
            faces = [face for face in pool.map(work, seeds, chunksize=4) if face is not None]
        stated, true, clear = (np.stack([face[k] for face in faces]) for k in range(3))
        every, inner = reliability(stated, true), reliability(stated, true, kept=clear)
        print(f"{style}: {len(faces)} of {options.faces} answered, {faces[0][3]}")
        report("all places", every)
        report("clear of void ends", inner)
        panels.append((style, every, inner))
    print(f"figures: {figures_line(panels)}")
    if options.out is not None:
        options.out.write_bytes(png(shrink(draw(panels), 1100)))


if __name__ == "__main__":
    main()
