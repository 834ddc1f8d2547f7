"""Masks of peeled surfaces: the convention, other conventions, refusals. Witness: Pillow."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image

from lapwright.measure.errors import (
    PeelMaskMeaningRefused,
    PeelMaskOtherSize,
    PeelMaskUnreadable,
    PeelMaskValueUnknown,
)
from lapwright.measure.peel.mask import (
    MEANING,
    STATES,
    mask_png,
    open_mask,
    parse_meaning,
    proposal_note,
)

STATES_GIVEN = np.arange(48, dtype=np.uint8).reshape(6, 8) % 4
SIZE = (8, 6)
GREYS = np.array([0, 80, 160, 240], np.uint8)[STATES_GIVEN]


def saved(picture: Image.Image, kind: str = "PNG") -> bytes:
    out = io.BytesIO()
    picture.save(out, kind)
    return out.getvalue()


def test_a_mask_written_here_holds_the_greys_of_the_convention() -> None:
    with Image.open(io.BytesIO(mask_png(STATES_GIVEN))) as picture:
        np.testing.assert_array_equal(np.asarray(picture), GREYS)
    assert [MEANING[name] for name in STATES] == [0, 80, 160, 240]


@pytest.mark.parametrize("mode", ["L", "RGB", "RGBA", "P", "LA"])
def test_a_mask_reads_the_same_in_every_mode_an_editor_may_save(mode: str) -> None:
    data = saved(Image.fromarray(GREYS).convert(mode))
    np.testing.assert_array_equal(open_mask(data, SIZE), STATES_GIVEN)


def test_another_convention_is_read_where_it_is_named() -> None:
    black_and_white = np.where(STATES_GIVEN == 1, 255, 0).astype(np.uint8)
    meaning = parse_meaning("discontinuity=255, sound=0")
    states = open_mask(saved(Image.fromarray(black_and_white)), SIZE, meaning=meaning)
    np.testing.assert_array_equal(states == 1, STATES_GIVEN == 1)
    assert set(np.unique(states)) == {1, 3}


def test_a_black_and_white_mask_is_refused_and_never_misread() -> None:
    data = saved(Image.fromarray(np.where(STATES_GIVEN == 1, 255, 0).astype(np.uint8)))
    with pytest.raises(PeelMaskValueUnknown, match=r"12 px, the first at 1,0 \(grey 255\)"):
        open_mask(data, SIZE)


def test_a_soft_brush_is_refused_with_the_place() -> None:
    grey = GREYS.copy()
    grey[4, 3] = 120
    with pytest.raises(PeelMaskValueUnknown, match=r"1 px, the first at 3,4 \(grey 120\)"):
        open_mask(saved(Image.fromarray(grey)), SIZE, where="mask.png")


def test_a_colour_is_refused() -> None:
    colour = np.stack([GREYS] * 3, axis=2)
    colour[2, 5] = (80, 80, 81)
    with pytest.raises(PeelMaskValueUnknown, match=r"1 px, the first at 5,2 \(a colour\)"):
        open_mask(saved(Image.fromarray(colour)), SIZE)


def test_a_mask_of_another_size_is_refused() -> None:
    with pytest.raises(PeelMaskOtherSize, match="8 x 6 px, expected 6 x 8"):
        open_mask(mask_png(STATES_GIVEN), (6, 8))


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"no picture",
        saved(Image.fromarray(GREYS), "JPEG"),
        mask_png(np.tile(STATES_GIVEN, (40, 40)))[:200],
        saved(Image.fromarray(GREYS.astype(np.uint16) * 257)),
    ],
    ids=["empty", "text", "jpeg", "cut", "16 bit"],
)
def test_what_is_no_whole_png_of_8_bits_is_refused(data: bytes) -> None:
    size = (320, 240) if data.startswith(b"\x89PNG") and len(data) == 200 else SIZE
    with pytest.raises(PeelMaskUnreadable, match="MEAS-030"):
        open_mask(data, size)


def test_a_transparent_mask_is_refused() -> None:
    picture = Image.fromarray(GREYS).convert("RGBA")
    picture.putpixel((2, 2), (80, 80, 80, 254))
    with pytest.raises(PeelMaskUnreadable, match="transparent"):
        open_mask(saved(picture), SIZE)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "discontinuity=255",
        "discontinuity=255,sound=255",
        "discontinuity=256,sound=0",
        "discontinuity=-1,sound=0",
        "discontinuity=1,discontinuity=2,sound=0",
        "void=255,sound=0",
        "discontinuity,sound=0",
    ],
)
def test_a_meaning_that_leaves_something_open_is_refused(text: str) -> None:
    with pytest.raises(PeelMaskMeaningRefused, match="MEAS-033"):
        parse_meaning(text)


def test_a_proposal_is_known_until_a_pixel_changes() -> None:
    data = mask_png(STATES_GIVEN, proposal="peel-proposal-1")
    assert proposal_note(data, open_mask(data, SIZE)) == "peel-proposal-1"
    changed = STATES_GIVEN.copy()
    changed[0, 0] = 3
    assert proposal_note(data, changed) == ""
    plain = mask_png(STATES_GIVEN)
    assert proposal_note(plain, open_mask(plain, SIZE)) == ""
