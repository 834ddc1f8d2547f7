"""Faces of the testing stream against their truth; none of them was used for tuning.

The bounds are loose: so few faces cannot show an accuracy, only a breakdown. Figures are on the
page "How a face is read" and come from ``benchmarks/accuracy.py``.
"""

from __future__ import annotations

import itertools
import json

import numpy as np
import pytest

from lapwright.core.errors import LapwrightError
from lapwright.measure.budget import combined
from lapwright.measure.errors import FillUnclear
from lapwright.measure.face import read_face
from lapwright.measure.image import photo_from_pixels
from lapwright.measure.segments import both_countings
from lapwright.measure.synthetic import draw_demo_face, draw_face

FIRST = {"field": 7001, "plate": 7101}
KEYS = {
    "outcome",
    "code",
    "message",
    "overlap_px",
    "overlap_mm",
    "segments",
    "unbrazed_share",
    "u",
    "interval95",
    "ends_found",
    "given_px",
    "unsure_share",
    "needs_reader",
    "tube_end_px",
    "cup_face_px",
    "candidates",
    "method",
    "image_sha256",
    "budget",
}


def jittered(face, seed: int):
    rng = np.random.default_rng(seed)
    move = rng.normal(0, 0.0025 * face.pixels.shape[1] / 2**0.5, (2, 2))
    return [
        tuple(np.array(e) + m) for e, m in zip((face.tube_end, face.cup_face), move, strict=True)
    ]


@pytest.fixture(scope="module")
def readings(face_of):
    found = []
    for style in ("field", "plate"):
        for seed in range(FIRST[style], FIRST[style] + 15):
            face = face_of(seed, style)
            try:
                reading = read_face(photo_from_pixels(face.pixels), *jittered(face, seed))
            except LapwrightError as refusal:
                found.append((face, refusal))
            else:
                found.append((face, reading))
    return found


def measured(readings):
    return [(f, r) for f, r in readings if not isinstance(r, LapwrightError)]


def test_most_faces_are_answered_and_few_are_unclear(readings) -> None:
    unclear = [r for _, r in readings if isinstance(r, FillUnclear)]
    assert len(measured(readings)) + len(unclear) >= 0.85 * len(readings)
    assert len(unclear) <= 0.2 * len(readings)


def test_the_share_is_right_on_faces_not_used_for_tuning(readings) -> None:
    errors = [abs(r.unbrazed_share - f.truth_share) for f, r in measured(readings)]
    assert np.mean(errors) < 0.02
    assert np.median(errors) < 0.006


def test_the_interval_holds_the_truth(readings) -> None:
    held = [r.interval95[0] <= f.truth_share <= r.interval95[1] for f, r in measured(readings)]
    assert np.mean(held) >= 0.8


def test_no_face_far_above_the_limit_is_plainly_below_it(readings) -> None:
    wrong = [
        f.plan.seed
        for f, r in measured(readings)
        if f.truth_share > 0.22
        and (r.interval95[1] <= 0.2 or (r.unbrazed_share <= 0.2 and not r.needs_reader))
    ]
    assert not wrong


def test_the_spread_and_the_interval_tell_the_same_story(readings) -> None:
    for face, reading in measured(readings):
        low, high = reading.interval95
        assert low <= reading.unbrazed_share <= high, face.plan.seed
        assert reading.u <= 0.55 * (high - low) + 0.005, face.plan.seed
        assert reading.u == pytest.approx(combined(reading.budget))


@pytest.mark.parametrize(("seed", "clearance"), [(7201, 0.07), (7202, 0.12), (7203, 0.18)])
def test_a_tidy_face_without_voids_is_read_as_sound(seed: int, clearance: float) -> None:
    face = draw_demo_face([], seed=seed, width_px=1200, clearance_mm=clearance)
    reading = read_face(photo_from_pixels(face.pixels), face.tube_end, face.cup_face)
    assert reading.unbrazed_share < 0.015
    assert reading.u < 0.015
    assert reading.interval95[1] < 0.03
    assert reading.needs_reader == ""


def test_no_long_residue_void_is_called_brazed(readings) -> None:
    wrong = []
    for face, reading in measured(readings):
        for start, end, kind in face.segments:
            if kind != "residue" or end - start < 0.03:
                continue
            sure = sum(
                max(0.0, min(s.end, end) - max(s.start, start))
                for s in reading.segments
                if s.probability < 0.2
            )
            if sure > 0.5 * (end - start):
                wrong.append((face.plan.seed, start, end))
    assert not wrong


def test_segments_cover_the_line_without_holes(readings) -> None:
    for _, reading in measured(readings):
        ends = [s.end for s in reading.segments]
        starts = [s.start for s in reading.segments]
        assert starts[0] == 0
        assert ends[-1] == 1
        assert starts[1:] == ends[:-1]


def test_the_interval_spans_both_countings_of_the_unsure(readings) -> None:
    for _, reading in measured(readings):
        low, high = both_countings(reading.segments)
        assert reading.interval95[0] <= low
        assert reading.interval95[1] >= min(1.0, high)


def test_the_overlap_is_the_arc_length(tidy, tidy_reading) -> None:
    chord = float(np.hypot(*np.subtract(tidy.cup_face, tidy.tube_end)))
    assert chord * 0.999 <= tidy_reading.overlap_px < chord * 1.01


def test_a_tidy_face_is_read_within_a_point(tidy, tidy_reading) -> None:
    assert tidy_reading.unbrazed_share == pytest.approx(tidy.truth_share, abs=0.012)
    assert tidy_reading.needs_reader == ""
    assert [s.state for s in tidy_reading.segments if s.end - s.start > 0.02] == [
        "brazed",
        "unbrazed",
        "brazed",
        "unbrazed",
        "brazed",
        "unbrazed",
        "brazed",
    ]


def test_void_ends_are_found(tidy, tidy_reading) -> None:
    found = [(s.start, s.end) for s in tidy_reading.segments if s.state == "unbrazed"]
    for (start, end, _), (a, b) in zip(tidy.segments, found, strict=True):
        assert (a, b) == (pytest.approx(start, abs=0.006), pytest.approx(end, abs=0.006))


def test_the_json_document_has_exactly_the_published_keys(tidy_reading) -> None:
    document = tidy_reading.as_dict(message="a sentence")
    assert set(document) == KEYS
    assert json.loads(json.dumps(document))["outcome"] == "measured"
    assert document["method"].startswith("face-trace/")


def test_the_photo_is_not_modified(tidy) -> None:
    before = tidy.pixels.copy()
    read_face(photo_from_pixels(tidy.pixels), tidy.tube_end, tidy.cup_face)
    np.testing.assert_array_equal(tidy.pixels, before)


def test_reading_twice_gives_the_same(tidy, tidy_photo, tidy_reading) -> None:
    assert read_face(tidy_photo, tidy.tube_end, tidy.cup_face) == tidy_reading


def test_a_length_needs_a_scale_and_a_share_does_not(tidy, tidy_photo, tidy_reading) -> None:
    assert tidy_reading.overlap_mm is None
    scaled = read_face(
        tidy_photo,
        tidy.tube_end,
        tidy.cup_face,
        px_per_mm=tidy.px_per_mm,
        px_per_mm_u=0.002 * tidy.px_per_mm,
    )
    assert scaled.overlap_mm == pytest.approx(10.0, rel=0.005)
    assert scaled.overlap_mm_u == pytest.approx(0.02, rel=0.01)
    assert scaled.unbrazed_share == tidy_reading.unbrazed_share
    assert scaled.u == tidy_reading.u


def test_looser_ends_widen_the_interval() -> None:
    face = draw_demo_face([(0.0, 0.1, "open"), (0.5, 0.6, "open")], seed=2, width_px=1200)
    photo = photo_from_pixels(face.pixels)
    close = read_face(photo, face.tube_end, face.cup_face, ends_u_px=1.0, snap="no")
    loose = read_face(photo, face.tube_end, face.cup_face, ends_u_px=20.0, snap="no")
    assert loose.u > close.u
    assert dict(loose.budget)["ends"] == pytest.approx(20 * dict(close.budget)["ends"])


@pytest.mark.parametrize("kind", ["open", "residue"])
@pytest.mark.parametrize("seed", [4, 7301, 7302])
def test_a_face_without_any_filler_is_never_called_sound(kind: str, seed: int) -> None:
    face = draw_demo_face([(0.0, 1.0, kind)], seed=seed, width_px=1200)
    try:
        reading = read_face(photo_from_pixels(face.pixels), face.tube_end, face.cup_face)
    except LapwrightError:
        return
    assert reading.interval95[1] > 0.5
    assert reading.needs_reader or reading.unbrazed_share > 0.2


def test_the_fillet_and_the_gap_behind_the_tube_end_do_not_count(tidy, tidy_photo) -> None:
    # only the stretch between the ends counts: half the face gives half the voids
    middle = np.add(tidy.tube_end, tidy.cup_face) / 2
    half = read_face(tidy_photo, tidy.tube_end, tuple(middle))
    assert half.unbrazed_share == pytest.approx(0.15 / 0.5, abs=0.03)


def test_streams_share_no_picture() -> None:
    one = draw_face(3, stream="tuning", width_px=400)
    two = draw_face(3, stream="testing", width_px=400)
    assert one.plan.voids != two.plan.voids
    assert one.plan.overlap_mm != two.plan.overlap_mm


def test_a_drawing_is_the_same_each_time() -> None:
    one, two = (draw_face(6, stream="testing", width_px=600) for _ in range(2))
    np.testing.assert_array_equal(one.pixels, two.pixels)


def test_a_wanted_share_is_drawn() -> None:
    for seed in range(20):
        face = draw_face(seed, stream="testing", width_px=200, unbrazed_share=0.23)
        assert face.truth_share == pytest.approx(0.23, abs=1e-6)
        spans = face.segments
        assert all(b[0] >= a[1] for a, b in itertools.pairwise(spans))


def test_an_unknown_style_is_a_programming_mistake() -> None:
    with pytest.raises(ValueError, match="style"):
        draw_face(1, stream="testing", style="oil")
