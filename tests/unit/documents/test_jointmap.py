"""The drawing of a joint map, read back as XML and measured with the shipped fonts."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import combinations, pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import box

from lapwright.documents.errors import GlyphMissing, JointMapRefused, LabelsMissing
from lapwright.documents.jointlayout import Span
from lapwright.documents.jointmap import joint_map_svg
from lapwright.documents.jointvalues import MapFace, Stretch
from lapwright.documents.record import typeset_record
from lapwright.documents.sheets import Picture
from lapwright.documents.svg import text_width, wrap
from unit.documents import samples
from unit.documents.mapping import (
    SVG,
    boxes,
    chart,
    drawn,
    face,
    hatched,
    labels,
    real_width,
    view_box,
)
from unit.documents.witness import standard_faults, text_of

TWO = (face("H1-1", 0.0, [(0.2, 0.4)]), face("H1-2", 180.0, [(0.25, 0.35)], unsure=[(0.8, 0.9)]))
grid = st.integers(0, 500)
ids = st.from_regex(r"[A-Za-z0-9][A-Za-z0-9._-]{0,39}", fullmatch=True)


@st.composite
def some_faces(draw: st.DrawFn) -> list[MapFace]:
    """Draw one to seven faces of any kind."""
    faces = []
    for id_ in draw(st.lists(ids, min_size=1, max_size=7, unique=True)):
        cuts = [n / 500 for n in sorted(draw(st.lists(grid, max_size=12, unique=True)))]
        pairs = list(zip(cuts[::2], cuts[1::2], strict=False))
        way = draw(st.sampled_from(["read", "read", "read", "unplaced", "unread"]))
        half = len(pairs) // 2
        angle = draw(st.one_of(st.none(), st.floats(0, 359.9), st.sampled_from([0.0, 90.0, 180.0])))
        read = way == "read"
        faces.append(
            face(
                id_,
                angle,
                pairs[:half] if read else (),
                unsure=pairs[half:] if read else (),
                way=way,
                lines=("position not recorded", "1 of 3 readings: the largest share that counts"),
            )
        )
    return faces


@given(some_faces(), ids)
def test_every_text_stands_within_the_drawing(faces: list[MapFace], joint: str) -> None:
    root = drawn(*faces, joint=joint, hints=("Unbrazed on " + ", ".join(f.id for f in faces),))
    width, height = view_box(root)
    for told in boxes(root):
        assert told.left >= 0, told
        assert told.right <= width, told
        assert told.top >= 0, told
        assert told.bottom <= height, told


@given(some_faces())
def test_no_two_texts_lie_on_top_of_each_other(faces: list[MapFace]) -> None:
    found = boxes(drawn(*faces))
    shapes = [box(b.left, b.top, b.right, b.bottom).buffer(-1.5) for b in found]
    for (one, a), (two, b) in combinations(zip(found, shapes, strict=True), 2):
        assert not a.intersects(b), (one, two)


@given(st.text(st.characters(min_codepoint=32, max_codepoint=0x24F, categories=["L", "N", "P"])))
def test_estimated_widths_are_never_below_the_shipped_font(text: str) -> None:
    for weight in ("normal", "bold"):
        assert text_width(text, 10, weight=weight) >= real_width(text, 10, weight) - 1e-6


@given(st.text("abcW .%9", max_size=80), st.floats(12, 200))
def test_wrapped_lines_fit_and_lose_no_letter(text: str, room: float) -> None:
    lines = wrap(text, room, 10)
    assert all(text_width(line, 10) <= room or len(line) == 1 for line in lines)
    assert "".join("".join(lines).split()) == "".join(text.split())


def test_a_figure_keeps_its_unit_on_its_line() -> None:
    assert wrap("aaaa 95 % b", text_width("aaaa 95", 10), 10) == ["aaaa", "95 % b"]


@given(some_faces())
def test_stretches_are_drawn_at_their_depths(faces: list[MapFace]) -> None:
    root = drawn(*faces)
    strips = [n for n in root.iter(f"{SVG}rect") if n.get("width") == "30"]
    top, height = float(strips[0].get("y")), float(strips[0].get("height"))
    for state in ("unbrazed", "unsure"):
        wanted = sorted(
            (s.span.start, s.span.length) for f in faces for s in f.stretches if s.state == state
        )
        got = sorted(((y - top) / height, h / height) for _, y, h in hatched(root, state))
        assert len(got) == len(wanted)
        thinnest = 1.5 / height + 1e-4
        for (at, long), (start, length) in zip(got, wanted, strict=True):
            assert at == pytest.approx(start, abs=thinnest)
            assert long == pytest.approx(max(length, 1.5 / height), abs=1e-4)


def test_strips_stand_at_their_clock_positions() -> None:
    root = drawn(*(face(f"F{i}", a, [(0.1, 0.2)]) for i, a in enumerate((0.0, 90.0, 180.0, 270.0))))
    middles = sorted(x + 15 for x, _, _ in hatched(root, "unbrazed"))
    dots = sorted(float(n.get("cx")) for n in root.iter(f"{SVG}circle") if n.get("r") == "3.5")
    assert middles == pytest.approx(dots[-4:])
    steps = {round(b - a, 6) for a, b in pairwise(middles)}
    assert steps == {142.0}


def test_the_drawing_is_named_described_and_free_of_style() -> None:
    root = drawn(*TWO)
    title, desc = root[0], root[1]
    assert (title.tag, desc.tag) == (f"{SVG}title", f"{SVG}desc")
    assert root.get("role") == "img"
    assert root.get("aria-labelledby").split() == [title.get("id"), desc.get("id")]
    for node in root.iter():
        assert node.tag not in (f"{SVG}style", f"{SVG}script", f"{SVG}image")
        assert not {"style", "class", "href"} & {k.rsplit("}")[-1] for k in node.attrib}


def test_what_it_is_and_is_not_stands_on_the_drawing() -> None:
    told = " ".join(b.text for b in boxes(drawn(*TWO)))
    assert "never a verdict" in told
    assert "Nothing is known between two cuts" in told


def test_states_have_letters_and_hatchings_of_their_own() -> None:
    root = drawn(*TWO)
    told = [b.text for b in boxes(root)]
    assert "U 20–40 %" in told
    assert "? 80–90 %" in told
    assert "J" in told
    patterns = {n.get("id").split("-")[1]: [c.tag for c in n] for n in root.iter(f"{SVG}pattern")}
    assert patterns["unbrazed"] != patterns["unsure"]


def test_a_possible_continuation_is_a_dotted_line_and_never_an_area() -> None:
    root = drawn(*TWO)
    dotted = [n for n in root.iter(f"{SVG}line") if n.get("stroke-dasharray")]
    assert len(dotted) == 3  # from 12 to 6, and from 6 over the cut of the roll to 12
    strips = {round(x) for state in ("unbrazed", "unsure") for x, _, _ in hatched(root, state)}
    assert len(strips) == 2


def test_faces_without_positions_stand_side_by_side_and_say_so() -> None:
    root = drawn(face("A", None, [(0.2, 0.4)]), face("B", None, [(0.2, 0.4)]))
    told = [b.text for b in boxes(root)]
    assert any("position round the tube not recorded" in t for t in told)
    assert "J" not in told
    assert not any("o'clock" in t for t in told)


def test_two_drawings_in_one_page_share_no_id() -> None:
    found = [{n.get("id") for n in drawn(*TWO, joint=j).iter() if n.get("id")} for j in ("a", "A")]
    assert not found[0] & found[1]


def test_markup_in_a_name_is_printed() -> None:
    assert "<b>&\"'" in [b.text[4:] for b in boxes(drawn(face("<b>&\"'", 0.0)))]


def test_equal_input_gives_equal_bytes() -> None:
    assert joint_map_svg(chart(*TWO), labels()) == joint_map_svg(chart(*TWO), labels())


def test_the_drawing_goes_into_a_record_with_its_words() -> None:
    svg = joint_map_svg(chart(*TWO), labels())
    sheet = samples.record_sheet()
    row = replace(sheet.faces[0], overlay=Picture(svg.encode(), "the joint unrolled"))
    pdf = typeset_record(
        replace(sheet, faces=(row, *sheet.faces[1:])),
        attachments=samples.attachments(),
        issued_at=samples.ISSUED,
    )
    assert "never a verdict" in re.sub(r"\s+", " ", text_of(pdf))
    assert not standard_faults(pdf)


GOOD = face("F", 0.0, [(0.2, 0.4)])
BAD = {
    "no face": (),
    "a stretch beyond the tube end": (face("F", 0.0, [(0.5, 1.2)]),),
    "an end before its start": (face("F", 0.0, [(0.5, 0.4)]),),
    "a stretch that is no number": (face("F", 0.0, [(float("nan"), 0.4)]),),
    "an angle that is no number": (replace(GOOD, angle_deg=float("inf")),),
    "a state of no name": (replace(GOOD, stretches=(Stretch(Span(0, 1), "sound", "x"),)),),
    "a way of no name": (replace(GOOD, way="guessed"),),
    "a share above one": (replace(GOOD, share=(0.5, 0.4, 1.5)),),
}


@pytest.mark.parametrize("what", sorted(BAD))
def test_joint_map_refused(what: str) -> None:
    with pytest.raises(JointMapRefused):
        joint_map_svg(chart(*BAD[what]), labels())


def test_a_character_that_cannot_be_printed_is_refused() -> None:
    with pytest.raises(GlyphMissing):
        joint_map_svg(chart(face("F\x07", 0.0)), labels())


def test_a_missing_label_is_refused() -> None:
    with pytest.raises(LabelsMissing):
        joint_map_svg(chart(*TWO), {})
