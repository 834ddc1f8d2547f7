"""What the trade blames for what pattern: drawn faces in, sentence ids out."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapwright.documents.jointvalues import MapFace
from lapwright.services.jointpatterns import NO_CAUSE, patterns
from lapwright.services.text import catalogue, say
from unit.documents.mapping import face

A, B, C, D = ("A", 0.0), ("B", 90.0), ("C", 180.0), ("D", 270.0)
CASES: dict[str, tuple[list[MapFace], set[str]]] = {
    "the bottom of the cup was cold": (
        [face(*A, [(0.85, 1.0)]), face(*C, [(0.90, 0.97)])],
        {"stop"},
    ),
    "only one face is open at the tube end": ([face(*A, [(0.88, 1.0)]), face(*C)], {"one_sided"}),
    "a short feed": ([face(*A, [(0.0, 0.06)]), face(*C)], {"mouth"}),
    "a leak path on one face": (
        [face(*A, [(0.0, 0.5), (0.51, 1.0)]), face(*C, [(0.4, 0.9)])],
        {"through"},
    ),
    "a leak path if the unsure holds none": (
        [face(*A, [(0.1, 1.0)], unsure=[(0.0, 0.1)]), face(*C, [(0.3, 0.93)])],
        {"through_unsure"},
    ),
    "a sound piece closes the path": (
        [face(*A, [(0.06, 0.5), (0.55, 0.94)]), face(*C, [(0.2, 0.54), (0.56, 0.9)])],
        {"band"},
    ),
    "no filler anywhere": ([face(*A, [(0.0, 1.0)]), face(*C, [(0.0, 1.0)])], {"through", "bare"}),
    "heat from one side": (
        [face(*A, [(0.3, 0.5)]), face(*B, [(0.6, 0.75)]), face(*C), face(*D)],
        {"one_sided"},
    ),
    "two open faces opposite each other are no side": (
        [face(*A, [(0.3, 0.5)]), face(*B), face(*C, [(0.6, 0.75)]), face(*D)],
        set(),
    ),
    "uneven, and nobody knows which side": (
        [face("A", None, [(0.3, 0.5)]), face("B", None)],
        {"uneven"},
    ),
    "three faces of unknown place have no side": (
        [face("A", None, [(0.3, 0.5)]), face("B", None), face("C", None)],
        set(),
    ),
    "pores": (
        [face(*A, [(0.2, 0.23), (0.4, 0.43)], unsure=[(0.7, 0.72)]), face(*C, [(0.8, 0.85)])],
        {"scattered"},
    ),
    "one band round the tube": (
        [face(*A, [(0.4, 0.5)]), face(*C, [(0.45, 0.55)])],
        {"band"},
    ),
    "one small gap": ([face(*A, [(0.4, 0.44)]), face(*C)], set()),
}


@pytest.mark.parametrize("what", sorted(CASES))
def test_a_pattern_has_its_cause(what: str) -> None:
    faces, wanted = CASES[what]
    found = {m.id.removeprefix("jointmap.cause.") for m in patterns(faces)}
    assert found - {"none"} == wanted
    assert ("none" in found) is (not wanted)


def test_sound_faces_are_said_to_be_that_and_no_more() -> None:
    (told,) = patterns([face(*A), face(*C)])
    assert told.id == "jointmap.cause.sound"
    assert "nothing of the joint between" in say(told)


def test_nothing_is_said_where_nothing_was_read() -> None:
    assert patterns([face(*A, way="unread")]) == ()


def test_lengths_without_places_take_no_part_in_patterns_of_place() -> None:
    bare = MapFace("A", 0.0, "unplaced", (), (0.3, 0.28, 0.32), ())
    assert {m.id for m in patterns([bare, face(*C, [(0.9, 1.0)])])} == {
        "jointmap.cause.one_sided",
        "jointmap.cause.stop",
    }


def test_a_pattern_of_every_face_says_how_many_of_how_many() -> None:
    open_end = face(*A, [(0.9, 1.0)])
    bare = MapFace("C", 180.0, "unplaced", (), (0.05, 0.03, 0.07), ())
    for others, wanted in (([bare], "1 of 2"), ([face(*C, way="unread"), bare], "1 of 3")):
        said = [say(m) for m in patterns([open_end, *others]) if m.id == "jointmap.cause.stop"]
        assert [wanted in text for text in said] == [True]
    both = patterns([open_end, face(*C, [(0.88, 1.0)])])
    assert "tube end on 2 of 2 faces (A, C)" in say(both[0])


def test_no_sentence_gives_a_verdict() -> None:
    said = [text for id_, text in catalogue().items() if id_.startswith("jointmap.cause.")]
    assert len(said) >= 10
    for text in said:
        for verdict in ("Met", "Not met", "pass", "fail", "safe", "accept", "reject"):
            assert verdict not in text


pairs = st.lists(st.integers(0, 40), max_size=8, unique=True).map(
    lambda marks: [
        (a / 40, b / 40) for a, b in zip(sorted(marks)[::2], sorted(marks)[1::2], strict=False)
    ]
)


@given(st.lists(st.tuples(st.sampled_from(range(0, 360, 15)), pairs), min_size=1, max_size=5))
def test_turning_the_joint_or_its_list_changes_no_pattern(rows) -> None:
    def named(turn: float, order: int) -> dict[str, frozenset[str]]:
        faces = [face(f"F{i}", (a + turn) % 360, p) for i, (a, p) in enumerate(rows)][::order]
        return {
            m.id: frozenset(", ".join(str(v) for v in dict(m.params).values()).split(", "))
            for m in patterns(faces)
        }

    first = named(0.0, 1)
    assert first == named(90.0, 1) == named(0.0, -1)
    assert len(first) == 1 or not set(first) & set(NO_CAUSE)
