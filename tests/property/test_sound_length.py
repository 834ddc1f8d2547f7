"""Sound length from the mouth: laws that hold for any row of segments."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapwright.measure.besides.sound import in_walls, sound_from_mouth
from lapwright.measure.values import Segment

KINDS = st.sampled_from(["brazed", "unbrazed", "unsure"])
PIECES = st.lists(
    st.tuples(st.integers(1, 20), KINDS, st.integers(20, 80)), min_size=1, max_size=12
)


def row(pieces: list[tuple[int, str, int]]) -> tuple[Segment, ...]:
    total, at, found = sum(n for n, _, _ in pieces), 0, []
    chances = {"brazed": 0.02, "unbrazed": 0.98}
    for n, kind, percent in pieces:
        chance = chances.get(kind, percent / 100)
        found.append(Segment(at / total, (at + n) / total, kind, chance))
        at += n
    return tuple(found)


@given(PIECES)
def test_the_bounds_hold_the_share_and_the_longest_is_never_shorter(pieces) -> None:
    sound = sound_from_mouth(row(pieces))
    for share, low, high in (sound.from_mouth, sound.longest):
        assert 0 <= low <= share <= high <= 1
    for from_mouth, longest in zip(sound.from_mouth, sound.longest, strict=True):
        assert from_mouth <= longest + 1e-12


@given(PIECES)
def test_sound_and_unbrazed_never_exceed_the_overlap(pieces) -> None:
    segments = row(pieces)
    open_ = sum(s.end - s.start for s in segments if s.state == "unbrazed")
    assert sound_from_mouth(segments).longest[2] <= 1 - open_ + 1e-9


@given(PIECES)
def test_a_counting_by_hand_gives_the_same_depth(pieces) -> None:
    total = sum(n for n, _, _ in pieces)
    for index, counts in ((1, {"brazed"}), (2, {"brazed", "unsure"})):
        states = [kind for n, kind, _ in pieces for _ in range(n)]
        depth = 0
        while depth < total and states[-1 - depth] in counts:
            depth += 1
        assert sound_from_mouth(row(pieces)).from_mouth[index] == pytest.approx(depth / total)


@given(PIECES, st.integers(0, 11))
def test_one_more_void_never_makes_the_joint_sounder(pieces, which) -> None:
    segments = row(pieces)
    index = which % len(segments)
    worse = [
        replace(s, state="unbrazed", probability=1.0) if k == index else s
        for k, s in enumerate(segments)
    ]
    before, after = sound_from_mouth(segments), sound_from_mouth(worse)
    for a, b in zip(
        after.from_mouth + after.longest, before.from_mouth + before.longest, strict=True
    ):
        assert a <= b + 1e-12


def test_segments_with_a_hole_are_refused() -> None:
    with pytest.raises(ValueError, match="do not follow"):
        sound_from_mouth([Segment(0, 0.4, "brazed", 0), Segment(0.5, 1, "brazed", 0)])
    with pytest.raises(ValueError, match="do not follow"):
        sound_from_mouth([])


def test_three_walls_beside_a_length_as_on_paper() -> None:
    # rule sheet E-12: wall 0.9 mm, penetration 2.6 mm against 2.7 mm
    told = in_walls({"share": 0.26, "low": 0.26, "high": 0.3}, 10.0, 0.9)
    assert told["three_walls_mm"] == pytest.approx(2.7)
    assert told["from_mouth_walls"] == pytest.approx(2.6 / 0.9)
    assert in_walls({"share": 1, "low": 1, "high": 1}, None, 0.9)["low_walls"] is None
