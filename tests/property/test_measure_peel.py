"""Small random masks against slow second implementations in plain Python."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import numpy as np
import shapely
from hypothesis import assume, given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from lapwright.measure.errors import PeelOutlineRefused
from lapwright.measure.peel.direction import LapDirection
from lapwright.measure.peel.lines import worst_line
from lapwright.measure.peel.outline import make_outline, outline_pixels
from lapwright.measure.peel.paths import PAIRS
from lapwright.measure.peel.reading import read_peel

SHAPES = st.tuples(st.integers(1, 7), st.integers(1, 7))
MASKS = SHAPES.flatmap(lambda shape: arrays(np.uint8, shape, elements=st.integers(0, 3)))
WHOLE = SHAPES.flatmap(lambda shape: arrays(np.uint8, shape, elements=st.integers(1, 3)))
LAPS = st.sampled_from([(0, 1), (1, 0), (0, -1), (1, 1), (1, -2), (-3, 5), (7, 2), (12, 997)])
HALVES = st.sampled_from([Fraction(0), Fraction(1, 2), Fraction(2, 3), Fraction(1)])


def chord(x: int, y: int, lap: LapDirection, offset: Fraction) -> Fraction:
    """Length of a slanted line inside one pixel, in steps of the lap vector."""
    # the points of the line: dx * y - dy * x = offset, here written as start + s * (dx, dy)
    start_x, start_y = -offset / lap.dy, Fraction(0)
    spans = []
    for low, start, step in ((x, start_x, lap.dx), (y, start_y, lap.dy)):
        ends = sorted(((low - start) / step, (low + 1 - start) / step))
        spans.append(ends)
    return max(Fraction(0), min(s[1] for s in spans) - max(s[0] for s in spans))


def lengths(pixels: np.ndarray, lap: LapDirection, offset: Fraction) -> Fraction:
    places = zip(*np.nonzero(pixels), strict=True)
    return sum((chord(int(x), int(y), lap, offset) for y, x in places), Fraction(0))


def slow_worst(states: np.ndarray, lap: LapDirection, least: Fraction) -> Fraction:
    marked, surface = states == 1, states > 0
    if lap.dx == 0 or lap.dy == 0:
        axis = 0 if lap.dx == 0 else 1
        pairs = zip(marked.sum(axis), surface.sum(axis), strict=True)
        shares = [(Fraction(int(d), 1), int(s)) for d, s in pairs]
        longest = max(s for _, s in shares)
        return max(d / s for d, s in shares if s and s >= least * longest)
    corners = {
        Fraction(lap.dx * y - lap.dy * x)
        for y in range(states.shape[0] + 1)
        for x in range(states.shape[1] + 1)
    }
    laps = {t: lengths(surface, lap, t) for t in corners}
    longest = max(laps.values())
    for low, high in pairwise(sorted(corners)):  # where the lap just reaches the least one
        if least and (laps[low] - least * longest) * (laps[high] - least * longest) < 0:
            part = (least * longest - laps[low]) / (laps[high] - laps[low])
            corners.add(low + part * (high - low))
    found = {t: (lengths(marked, lap, t), lengths(surface, lap, t)) for t in corners}
    return max(d / s for d, s in found.values() if s > 0 and s >= least * longest)


@given(MASKS, LAPS, HALVES)
def test_the_worst_line_is_that_of_a_slow_exact_search(states, lap, least) -> None:
    assume((states > 0).any())
    direction = LapDirection(*lap)
    found = worst_line(states == 1, states > 0, lap=direction, shortest_lap=least)
    assert found.share == slow_worst(states, direction, least)


@given(MASKS, LAPS, st.fractions(0, 1, max_denominator=97))
def test_no_line_anywhere_is_worse_than_the_worst_line(states, lap, place) -> None:
    assume((states > 0).any())
    direction = LapDirection(*lap)
    assume(direction.dx and direction.dy)
    found = worst_line(states == 1, states > 0, lap=direction)
    height, width = states.shape
    ends = [direction.dx * y - direction.dy * x for y in (0, height) for x in (0, width)]
    offset = min(ends) + place * (max(ends) - min(ends))
    there = lengths(states > 0, direction, offset)
    assert lengths(states == 1, direction, offset) <= found.share * there


@given(MASKS, st.sampled_from([(1, 1), (1, -2), (-3, 5), (12, 997)]), st.data())
def test_the_worst_line_of_a_span_is_that_of_a_slow_exact_search(states, lap, data) -> None:
    assume((states > 0).any())
    direction = LapDirection(*lap)
    height, width = states.shape
    corners = {
        Fraction(direction.dx * y - direction.dy * x)
        for y in range(height + 1)
        for x in range(width + 1)
    }
    places = st.fractions(min(corners) - 1, max(corners) + 1, max_denominator=9)
    span = tuple(sorted((data.draw(places), data.draw(places))))
    found = worst_line(states == 1, states > 0, lap=direction, span=span)
    inside = {t for t in corners | set(span) if span[0] <= t <= span[1]}
    pairs = [
        (lengths(states == 1, direction, t), lengths(states > 0, direction, t)) for t in inside
    ]
    shares = [over / under for over, under in pairs if under > 0]
    assert found.share == (max(shares) if shares else slow_worst(states, direction, Fraction(0)))


@given(MASKS, st.integers(-1, 14), st.integers(-1, 14))
def test_a_span_of_columns_counts_the_columns_inside_it(states, first, last) -> None:
    assume((states > 0).any())
    low, high = sorted((first, last))
    # a column's line runs through its middle, at x + 1/2; offsets of the direction (0, 1) are -x
    span = (-Fraction(high, 2), -Fraction(low, 2))
    found = worst_line(states == 1, states > 0, lap=LapDirection(0, 1), span=span)
    columns = [x for x in range(states.shape[1]) if low <= 2 * x + 1 <= high]
    counts = [(int((states[:, x] == 1).sum()), int((states[:, x] > 0).sum())) for x in columns]
    shares = [Fraction(over, under) for over, under in counts if under]
    every = slow_worst(states, LapDirection(0, 1), Fraction(0))
    assert found.share == (max(shares) if shares else every)


def slow_joined(marked: np.ndarray) -> set[tuple[str, str]]:
    """Flood from every pixel over sides and corners; note which rims are reached together."""
    height, width = marked.shape
    left = {(int(y), int(x)) for y, x in zip(*np.nonzero(marked), strict=True)}
    joined = set()
    while left:
        wave, reached = [left.pop()], set()
        while wave:
            y, x = wave.pop()
            rims = (("mouth", y == 0), ("stop", y == height - 1), ("left", x == 0))
            reached |= {name for name, there in (*rims, ("right", x == width - 1)) if there}
            near = {(y + a, x + b) for a in (-1, 0, 1) for b in (-1, 0, 1)} & left
            left -= near
            wave += near
        joined |= {pair for pair in PAIRS if set(pair) <= reached}
    return joined


@given(WHOLE)
def test_paths_are_those_of_a_slow_flood(states) -> None:
    reading = read_peel(states, LapDirection(0, 1))
    sure, possible = slow_joined(states == 1), slow_joined((states == 1) | (states == 2))
    for path in reading.paths:
        pair = (path.from_edge, path.to_edge)
        assert path.state == ("yes" if pair in sure else "possible" if pair in possible else "no")


@given(MASKS, LAPS)
def test_bounds_hold_every_way_of_settling_the_unsure(states, lap) -> None:
    assume((states > 0).any())
    direction = LapDirection(*lap)
    reading = read_peel(states, direction)
    rng = np.random.default_rng(int(states.sum()))
    settled = np.where(states == 2, rng.choice([1, 3], states.shape), states).astype(np.uint8)
    one = read_peel(settled, direction)
    assert reading.area.low <= one.area.low == one.area.high <= reading.area.high
    assert reading.line.low.share <= one.line.high.share <= reading.line.high.share
    assert (
        one.through_path
        in {
            "yes": ("yes",),
            "possible": ("yes", "no"),
            "no": ("no",),
        }[reading.through_path]
    )


@given(MASKS)
def test_mirrored_and_turned_masks_read_the_same(states) -> None:
    assume((states > 0).any())
    own = read_peel(states, LapDirection(1, 2))
    flipped = read_peel(np.ascontiguousarray(states[:, ::-1]), LapDirection(-1, 2))
    turned = read_peel(np.ascontiguousarray(np.rot90(states)), LapDirection(2, -1))
    for other in (flipped, turned):
        assert other.area == own.area
        assert other.line.high.share == own.line.high.share
        assert other.path("mouth", "stop") == own.path("mouth", "stop")
    assert turned.paths == own.paths


POINTS = st.lists(st.tuples(st.integers(-50, 1250), st.integers(-50, 950)), min_size=3, max_size=7)


@given(POINTS, st.sampled_from([1, 10, 50, 100]))
def test_outline_pixels_are_those_shapely_covers(points, coarse) -> None:
    snapped = [(max(-50, x // coarse * coarse), max(-50, y // coarse * coarse)) for x, y in points]
    # a corner given twice is refused as a slip, whatever shapely makes of it
    assume(all(a != b for a, b in pairwise([*snapped, snapped[0]])))
    try:
        outline = make_outline([(x / 100, y / 100) for x, y in snapped], (13, 10))
    except PeelOutlineRefused:
        assert not shapely.Polygon(snapped).is_valid
        return
    polygon = shapely.Polygon(outline.points)
    assert polygon.is_valid
    y, x = np.mgrid[0:10, 0:13] * 100
    np.testing.assert_array_equal(
        outline_pixels(outline, (13, 10)), shapely.covers(polygon, shapely.points(x, y))
    )
