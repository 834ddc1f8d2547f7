"""The printed card is true to size. Witnesses: pdfium's raster, OpenCV's corners, pikepdf."""

from __future__ import annotations

from dataclasses import replace
from io import BytesIO

import cv2
import numpy as np
import pikepdf
import pytest

from lapwright.documents.card import CARD_LABELS, typeset_card
from lapwright.documents.errors import LabelsMissing
from lapwright.services.cards import card_pdf, card_sheet
from unit.documents.witness import page_count, page_image, standard_faults, text_of

DPI = 600
PX_PER_MM = DPI / 25.4


@pytest.fixture(scope="module", params=["letter", "a4"])
def pdf(request: pytest.FixtureRequest) -> bytes:
    return card_pdf(request.param)


@pytest.fixture(scope="module")
def raster() -> np.ndarray:
    return np.asarray(page_image(card_pdf("letter"), page=0, dpi=DPI).convert("L"))


def test_the_sheet_is_one_page_of_the_asked_paper(pdf: bytes) -> None:
    assert page_count(pdf) == 1
    assert standard_faults(pdf) == []
    assert "Print at 100 %" in text_of(pdf)
    with pikepdf.open(BytesIO(pdf)) as document:
        assert document.Root.ViewerPreferences.PrintScaling == "/None"
        size = [float(v) / 72 * 25.4 for v in document.pages[0].MediaBox[2:]]
    expected = (215.9, 279.4) if size[0] > 212 else (210.0, 297.0)
    assert size == pytest.approx(expected, abs=0.1)


def test_equal_sheets_are_equal_bytes() -> None:
    assert card_pdf("a4") == card_pdf("a4")
    assert card_pdf("a4") != card_pdf("letter")


@pytest.mark.parametrize(
    ("square", "columns", "rows", "first"), [(6, 8, 5, 53), (4, 10, 5, 28), (2, 14, 4, 0)]
)
def test_every_square_is_true_to_a_thousandth(
    raster: np.ndarray, square: int, columns: int, rows: int, first: int
) -> None:
    """The board is defined here anew; only its markers and corners are looked for."""
    kinds = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_100)
    ids = np.arange(first, first + columns * rows // 2)
    board = cv2.aruco.CharucoBoard((columns, rows), square, 0.7 * square, kinds, ids)
    parameters = cv2.aruco.DetectorParameters()
    parameters.minMarkerPerimeterRate = 0.005
    marks, found, _ = cv2.aruco.ArucoDetector(kinds, parameters).detectMarkers(raster)
    copies: dict[int, list[np.ndarray]] = {}
    for mark, number in zip(marks, found.ravel(), strict=True):
        copies.setdefault(int(number), []).append(mark)
    start = min(copies[first], key=lambda m: (m[0, 0, 1] // 100, m[0, 0, 0]))[0, 0]
    reach = 1.5 * columns * square * PX_PER_MM
    own = [
        (min(copies[i], key=lambda m: float(np.hypot(*(m[0, 0] - start)))), i) for i in ids.tolist()
    ]
    assert all(np.hypot(*(m[0, 0] - start)) < reach for m, _ in own)
    corners, places, _, _ = cv2.aruco.CharucoDetector(board).detectBoard(
        raster,
        markerCorners=[m for m, _ in own],
        markerIds=np.array([[i] for _, i in own], np.int32),
    )
    assert len(places) == (columns - 1) * (rows - 1)
    truth = np.asarray(board.getChessboardCorners())[places.ravel(), :2] * PX_PER_MM
    seen = corners.reshape(-1, 2).astype(float)
    for axis in (0, 1):
        slope = np.polyfit(truth[:, axis], seen[:, axis], 1)[0]
        coarse = 0.25 / float(
            np.ptp(truth[:, axis])
        )  # a quarter pixel over the rows of a small board
        assert slope == pytest.approx(1.0, abs=max(1e-3, coarse))
    off = (seen - seen.mean(axis=0)) - (truth - truth.mean(axis=0))
    assert np.abs(off).max() < 1.0  # a pixel of 0.042 mm


def test_both_check_lines_are_100_mm_long(raster: np.ndarray) -> None:
    dark = raster < 128
    for picture in (dark, dark.T):
        longest = 0
        for row in picture:
            edges = np.flatnonzero(np.diff(np.concatenate([[0], row.astype(int), [0]])))
            runs = edges[1::2] - edges[::2]
            near = runs[(runs > 95 * PX_PER_MM) & (runs < 105 * PX_PER_MM)]
            longest = max(longest, int(near.max(initial=0)))
        assert longest / PX_PER_MM == pytest.approx(100.2, abs=0.1)  # 100 and half a mark each end


def test_a_sheet_without_its_labels_is_refused() -> None:
    assert len(CARD_LABELS) == len(set(CARD_LABELS))
    with pytest.raises(LabelsMissing, match="DOC-001"):
        typeset_card(replace(card_sheet("a4"), labels={}))
