"""Scans: what is masked is gone, what is stored is not the original, and each refusal."""

from __future__ import annotations

import io

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from lapwright.services.errors import (
    PaperMaskRefused,
    PaperNumberUnsaid,
    PaperPdfRefused,
    PaperScanRefused,
)
from lapwright.services.scans import Region, masked_scans, parse_region

PDF = b"%PDF-1.7\n%%EOF\n"
SECRET = b"secret-in-metadata"


def _picture(kind: str, width: int = 200, height: int = 120, **saved: object) -> bytes:
    noise = np.random.default_rng(3).integers(90, 255, (height, width, 3), dtype=np.uint8)
    held = io.BytesIO()
    Image.fromarray(noise).save(held, kind, **saved)  # type: ignore[arg-type]
    return held.getvalue()


def _pixels(data: bytes) -> np.ndarray:
    return np.asarray(Image.open(io.BytesIO(data)).convert("RGB"))


@given(st.integers(0, 199), st.integers(0, 119), st.integers(1, 200), st.integers(1, 120))
def test_a_masked_region_is_black_and_the_rest_is_as_it_was(x: int, y: int, w: int, h: int) -> None:
    w, h = min(w, 200 - x), min(h, 120 - y)
    original = _picture("PNG")
    (made,) = masked_scans([("a.png", original)], [Region(1, x, y, w, h)])
    pixels, before = _pixels(made.data), _pixels(original).copy()
    assert not pixels[y : y + h, x : x + w].any()
    before[y : y + h, x : x + w] = 0
    assert np.array_equal(pixels, before)


def test_a_jpeg_loses_its_hidden_parts_and_the_masked_digits() -> None:
    exif = Image.Exif()
    exif[0x010E] = SECRET.decode()
    original = _picture("JPEG", exif=exif, quality=95)
    assert SECRET in original
    (made,) = masked_scans([("a.jpg", original)], [Region(1, 40, 30, 64, 32)])
    assert made.kind == "jpg"
    assert SECRET not in made.data
    assert _pixels(made.data)[34:58, 46:98].max() < 60  # ringing of the code, and no picture


def test_a_turned_photograph_is_masked_as_it_is_seen() -> None:
    exif = Image.Exif()
    exif[0x0112] = 6  # shown turned a quarter clockwise: 120 wide, 200 high
    (made,) = masked_scans(
        [("a.jpg", _picture("JPEG", exif=exif, quality=95))], [Region(1, 0, 150, 120, 50)]
    )
    pixels = _pixels(made.data)
    assert pixels.shape[:2] == (200, 120)
    assert pixels[156:].max() < 60
    assert pixels[:140].mean() > 100


def test_each_region_belongs_to_its_page() -> None:
    pages = [("1.png", _picture("PNG")), ("2.png", _picture("PNG"))]
    one, two = masked_scans(pages, [Region(2, 0, 0, 200, 120)])
    assert _pixels(one.data).any()
    assert not _pixels(two.data).any()


def test_a_scan_without_a_number_is_stored_anew_when_somebody_says_so() -> None:
    original = _picture("PNG", pnginfo=None)
    (made,) = masked_scans([("a.png", original)], [], no_number="yes")
    assert np.array_equal(_pixels(made.data), _pixels(original))


def test_a_pdf_without_a_number_is_kept_as_it_is() -> None:
    (made,) = masked_scans([("a.pdf", PDF)], [], no_number="yes")
    assert (made.kind, made.data) == ("pdf", PDF)


@pytest.mark.parametrize("regions", [[], [Region(1, 0, 0, 5, 5)]])
def test_a_pdf_that_would_need_masking_is_refused(regions: list[Region]) -> None:
    with pytest.raises(PaperPdfRefused, match="PAPER-005"):
        masked_scans([("a.pdf", PDF)], regions)


def test_a_scan_of_which_nobody_says_anything_is_refused() -> None:
    with pytest.raises(PaperNumberUnsaid, match="PAPER-004"):
        masked_scans([("a.png", _picture("PNG"))], [])


@pytest.mark.parametrize(
    "region",
    [
        Region(1, 0, 0, 0, 5),
        Region(1, 0, 0, 5, 0),
        Region(1, 190, 0, 11, 5),
        Region(1, 0, 119, 5, 2),
        Region(2, 0, 0, 5, 5),
        Region(0, 0, 0, 5, 5),
    ],
)
def test_a_region_that_is_not_on_its_page_is_refused(region: Region) -> None:
    with pytest.raises(PaperMaskRefused, match="PAPER-003"):
        masked_scans([("a.png", _picture("PNG"))], [region])


@pytest.mark.parametrize("text", ["", "1", "1:2,3,4", "a:1,2,3,4", "1:-1,2,3,4", "1:1,2,3,4,5"])
def test_a_region_written_otherwise_is_refused(text: str) -> None:
    with pytest.raises(PaperMaskRefused, match="page:x,y,w,h"):
        parse_region(text)


def test_a_region_is_read_as_it_is_written() -> None:
    assert parse_region("2: 10, 20, 30, 40") == Region(2, 10, 20, 30, 40)
    assert parse_region(Region(1, 2, 3, 4, 5).text) == Region(1, 2, 3, 4, 5)


@pytest.mark.parametrize(
    "pages",
    [
        [],
        [("a.txt", b"no picture at all")],
        [("a.png", _picture("PNG")[:400])],
        [("a.webp", _picture("WEBP"))],
        [("a.pdf", PDF), ("b.png", _picture("PNG"))],
    ],
)
def test_what_is_no_scan_is_refused(pages: list[tuple[str, bytes]]) -> None:
    with pytest.raises(PaperScanRefused, match="PAPER-002"):
        masked_scans(pages, [], no_number="yes")
