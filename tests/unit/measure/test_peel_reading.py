"""Area, worst line and paths of given masks. Witnesses: skimage, shapely, sums by hand."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
import shapely
import skimage.measure

from lapwright.measure.errors import PeelSurfaceMissing
from lapwright.measure.peel.direction import LapDirection, lap_from_corners
from lapwright.measure.peel.lines import span_of_edges, worst_line
from lapwright.measure.peel.outline import make_outline, outline_pixels
from lapwright.measure.peel.paths import find_edges, joining
from lapwright.measure.peel.reading import cut_to_outline, read_peel, sound_surface

DOWN = LapDirection(0, 1)


def drawn(*rows: str) -> np.ndarray:
    """Return states from letters: blank outside, D, ? and S."""
    return np.array([[" D?S".index(letter) for letter in row] for row in rows], np.uint8)


def blobs(seed: int, shape: tuple[int, int] = (90, 120)) -> np.ndarray:
    noise = skimage.filters.gaussian(np.random.default_rng(seed).normal(size=shape), 3)
    states = np.full(shape, 3, np.uint8)
    states[noise > np.quantile(noise, 0.8)] = 1
    states[noise < np.quantile(noise, 0.05)] = 2
    return states


def test_shares_are_counted_by_hand() -> None:
    reading = read_peel(drawn("SSSS", "SD?S", "SDSS", "SSSS", "S?SS"), DOWN)
    assert (reading.area.low, reading.area.high) == (Fraction(2, 20), Fraction(4, 20))
    assert (reading.line.low.share, reading.line.high.share) == (Fraction(2, 5), Fraction(3, 5))
    assert reading.line.high.lap_px == 5
    across = read_peel(drawn("SSSS", "SD?S", "SDSS", "SSSS", "S?SS"), LapDirection(1, 0))
    assert (across.line.low.share, across.line.high.share) == (Fraction(1, 4), Fraction(1, 2))


def test_a_line_counts_only_the_lap_that_is_there() -> None:
    reading = read_peel(drawn("SS ", "SDD", "SSS", "SS "), DOWN)
    assert reading.line.high.share == Fraction(1, 2)
    assert reading.line.high.lap_share == 0.5
    assert reading.long_line.high.share == Fraction(1, 2)
    short = read_peel(drawn("SS ", "SDD", "SS ", "SS "), DOWN)
    assert short.line.high.share == 1
    assert short.long_line.high.share == Fraction(1, 4)
    assert [w.id for w in short.warnings] == ["peel.warning.short_line"]


def test_a_slanted_line_through_one_pixel_is_summed_by_hand() -> None:
    states = np.full((4, 4), 3, np.uint8)
    states[1, 1] = 1
    # along 45 degrees the line through the corners of (1,1) has lap 4 and one pixel of it
    line = worst_line(states == 1, states > 0, lap=LapDirection(1, 1))
    assert line.share == Fraction(1, 4)
    assert line.offset == 0
    assert line.lap_px == pytest.approx(4 * 2**0.5)


def test_slanted_lines_match_shapely() -> None:
    states = blobs(4, (24, 30))
    lap = LapDirection(3, 7)
    boxes = [shapely.box(x, y, x + 1, y + 1) for y, x in zip(*np.nonzero(states == 1), strict=True)]
    marked = shapely.union_all(boxes)
    best = 0.0
    for offset in range(-7 * 30, 3 * 24 + 1):
        line = shapely.LineString([(-offset / 7 - 3 * 9, -7 * 9), (-offset / 7 + 3 * 9, 7 * 9)])
        lap_there = line.intersection(shapely.box(0, 0, 30, 24)).length
        if lap_there > 1e-9:
            best = max(best, line.intersection(marked).length / lap_there)
    found = worst_line(states == 1, states > 0, lap=lap)
    assert float(found.share) == pytest.approx(best, abs=1e-9)


def test_a_line_over_a_side_of_four_corners_is_told_but_not_counted() -> None:
    outline = make_outline([(20, 20), (160, 23), (157, 120), (17, 117)], (180, 140))
    states = sound_surface(outline_pixels(outline, (180, 140)))
    states[110:118, 15:24] = np.where(states[110:118, 15:24] == 3, 1, 0)
    reading = read_peel(states, LapDirection(0, 1), outline=outline)
    assert reading.any_line.high.share == 1
    column = states[:, 20:158]  # between the later of the left ends and the sooner of the right
    wanted = ((column == 1).sum(axis=0) / (column > 0).sum(axis=0)).max()
    assert float(reading.line.high.share) == pytest.approx(wanted)
    assert "peel.warning.side_line" in [w.id for w in reading.warnings]


def test_the_span_of_four_corners_is_worked_out_by_hand() -> None:
    square = make_outline([(2, 2), (8, 2), (8, 6), (2, 6)], (12, 12))
    assert span_of_edges(square, DOWN) == (Fraction(-17, 2), Fraction(-5, 2))
    leaning = make_outline([(0, 0), (4, 0), (7, 9), (5, 9)], (12, 12))
    assert span_of_edges(leaning, DOWN) is None
    assert span_of_edges(make_outline([(0, 0), (4, 0), (7, 9)], (12, 12)), DOWN) is None


def test_areas_and_places_match_regionprops() -> None:
    states = blobs(7)
    reading = read_peel(states, DOWN)
    labels = skimage.measure.label(states == 1, connectivity=2)
    regions = sorted(skimage.measure.regionprops(labels), key=lambda r: -r.area)
    assert reading.place_count == len(regions)
    assert [p.area_px for p in reading.places] == [int(r.area) for r in regions[:20]]
    assert reading.discontinuity_px == sum(int(r.area) for r in regions)
    for place, region in zip(reading.places[:3], regions[:3], strict=True):
        assert place.centre_px == pytest.approx(region.centroid[::-1])
        top, left, bottom, right = region.bbox
        assert place.box_px == (left, top, right - left, bottom - top)


@pytest.mark.parametrize("seed", range(6))
def test_paths_match_the_labels_of_skimage(seed: int) -> None:
    states = blobs(seed, (18, 24))
    reading = read_peel(states, DOWN)
    for marked, words in ((states == 1, {"yes"}), ((states == 1) | (states == 2), None)):
        labels = skimage.measure.label(marked, connectivity=2)
        rims = {
            "mouth": labels[0],
            "stop": labels[-1],
            "left": labels[:, 0],
            "right": labels[:, -1],
        }
        for path in reading.paths:
            joined = set(rims[path.from_edge]) & set(rims[path.to_edge]) - {0}
            assert (path.state in (words or {"yes", "possible"})) == bool(joined)


def test_a_path_runs_over_corners_of_pixels() -> None:
    reading = read_peel(drawn("SDSS", "DSSS", "SDSS", "SSDS"), DOWN)
    assert reading.path("mouth", "stop") == "yes"
    assert reading.through_path == "yes"
    broken = read_peel(drawn("SDSS", "DSSS", "SSSS", "SSDS"), DOWN)
    assert broken.through_path == "no"


def test_an_unsure_pixel_makes_a_path_possible() -> None:
    reading = read_peel(drawn("SSDSS", "SSDSS", "SS?SS", "SSDSS"), DOWN)
    assert reading.path("mouth", "stop") == "possible"
    assert reading.path("stop", "mouth") == "possible"
    assert reading.through_path == "possible"
    assert reading.path("left", "right") == "no"


def test_a_path_round_a_corner_is_told_apart() -> None:
    reading = read_peel(drawn("SSSD", "SSSD", "SSSS"), DOWN)
    assert (reading.through_path, reading.corner_path) == ("no", "yes")
    assert reading.path("mouth", "right") == "yes"
    assert "peel.warning.corner" in [w.id for w in reading.warnings]


def test_left_is_left_with_the_mouth_turned_to_the_top() -> None:
    states = drawn("SSSS", "DSSS", "SSSS")
    names = {"down": (0, 1), "up": (0, -1), "right": (1, 0), "left": (-1, 0)}
    touched = {n: read_peel(states, LapDirection(*d)).places[0].edges for n, d in names.items()}
    assert touched == {"down": ("left",), "up": ("right",), "right": ("mouth",), "left": ("stop",)}


def test_holes_and_pieces_are_told_and_have_no_edge() -> None:
    reading = read_peel(drawn("SSSSS", "SD SS", "SSSSS", "     ", "SSSSS"), DOWN)
    assert {w.id for w in reading.warnings} >= {"peel.warning.holes", "peel.warning.pieces"}
    assert reading.places[0].edges == ()


def turned_corners(degrees: float) -> list[tuple[float, float]]:
    turn = np.radians(degrees)
    spin = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    square = np.array([(-60, -40), (60, -40), (60, 40), (-60, 40)]) @ spin.T + 100
    return [(float(x), float(y)) for x, y in square]


@pytest.mark.parametrize("degrees", [0.0, 3.0, 17.0, 45.0, 120.0, 200.0])
def test_edges_of_a_turned_outline_are_its_rim_and_within_a_pixel(degrees: float) -> None:
    outline = make_outline(turned_corners(degrees), (200, 200))
    pixels = outline_pixels(outline, (200, 200))
    edges = find_edges(pixels, lap_from_corners(outline), outline)
    corners = outline.points_px
    for n, name in enumerate(("mouth", "right", "stop", "left")):
        side = shapely.LineString([corners[n], corners[(n + 1) % 4]])
        rows, columns = edges[name]
        distance = shapely.distance(side, shapely.points(columns, rows))
        assert distance.max() < 1 + 1e-9
        assert len(rows) >= side.length / 2**0.5 - 4
    alone = find_edges(pixels, lap_from_corners(outline))
    rim = {
        name: set(zip(*(v.tolist() for v in place), strict=True)) for name, place in alone.items()
    }
    for name, place in edges.items():
        ours = set(zip(*(v.tolist() for v in place), strict=True))
        assert len(ours & rim[name]) / len(ours | rim[name]) > 0.9


@pytest.mark.parametrize("degrees", [0.0, 3.0, 17.0, 45.0, 120.0])
@pytest.mark.parametrize("along", ["lap", "side", "rim"])
def test_a_band_across_a_turned_surface_is_found(degrees: float, along: str) -> None:
    outline = make_outline(turned_corners(degrees), (200, 200))
    a, b, c, d = (np.array(p) for p in outline.points_px)
    ends = {"lap": ((a + b) / 2, (c + d) / 2), "side": ((a + d) / 2, (b + c) / 2), "rim": (a, d)}
    band = shapely.LineString(ends[along]).buffer(3)
    y, x = np.mgrid[0:200, 0:200]
    inside = shapely.contains(band, shapely.points(x, y))
    states = sound_surface(outline_pixels(outline, (200, 200)))
    states[inside & (states == 3)] = 1
    reading = read_peel(states, lap_from_corners(outline), outline=outline)
    pair = ("left", "right") if along == "side" else ("mouth", "stop")
    assert reading.path(*pair) == "yes"
    assert joining(states == 1, find_edges(states > 0, reading.lap, outline), pair).any()
    if along != "rim":
        other = ("mouth", "stop") if along == "side" else ("left", "right")
        assert reading.path(*other) == "no"
    assert float(reading.area.high) == pytest.approx(
        band.intersection(shapely.Polygon(outline.points_px)).area / (120 * 80), abs=0.015
    )


def test_the_place_of_a_surface_in_the_picture_changes_nothing() -> None:
    states = blobs(2, (30, 40))
    framed = np.zeros((70, 90), np.uint8)
    framed[11:41, 23:63] = states
    lap = LapDirection(2, 9)
    own, moved = read_peel(states, lap), read_peel(framed, lap)
    assert (moved.area, moved.paths) == (own.area, own.paths)
    shift = 2 * 11 - 9 * 23
    assert moved.line.high == replace(own.line.high, offset=own.line.high.offset + shift)


def test_the_mask_given_is_not_changed() -> None:
    states = blobs(1)
    before = states.copy()
    states.flags.writeable = False
    read_peel(states, LapDirection(1, 5))
    np.testing.assert_array_equal(states, before)


def test_a_mask_is_cut_to_the_outline_and_tells_what_it_leaves_out() -> None:
    states = drawn("SSSS", "SD S", "SSSS")
    pixels = np.zeros((3, 4), bool)
    pixels[1:, 1:] = True
    cut, left_out = cut_to_outline(states, pixels)
    assert left_out == 1
    assert cut.tolist() == [[0, 0, 0, 0], [0, 1, 0, 3], [0, 3, 3, 3]]


def test_a_mask_without_surface_is_refused() -> None:
    with pytest.raises(PeelSurfaceMissing, match="MEAS-036"):
        read_peel(np.zeros((5, 5), np.uint8), DOWN)
