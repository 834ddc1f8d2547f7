"""Find a printed scale card in a picture and the plane it lies in.

Corners of the card's chessboard are found through its markers, so a part of the
card is enough; each is then settled to a fraction of a pixel in the full
picture. The card gives the plane in perspective: lengths hold for things *in
that plane*. Refused: no card, too few corners or all in one row, a card seen
too steeply, a bent card, and two cards that contradict each other. That a
single card lies in the plane of the face cannot be seen in a picture: whoever
lays it there answers for it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from lapwright.reference.cards import CHECK_LINE_MM, DICTIONARY, ScaleCard, scale_cards

from .errors import (
    CardNotFlat,
    CardsDisagree,
    CardTooSteep,
    CheckLineRefused,
    NoCard,
    TooFewCorners,
)
from .image import Photo
from .plane import Plane, apply, beyond_horizon, fit_plane, residual_px, spread_of, squash_at
from .scale import LENS_REL_U, PictureScale, firm, middle_scale

MIN_CORNERS = 8
MAX_TILT_DEG = 40.0
PRINT_PLACE_MM = 0.03  # a dot of a 600 dpi printer is 0.042 mm; common practice, no source
FLAT_PX = 0.6
CHECK_U_MM = 0.2  # both ends read to half a millimetre on a steel rule: rectangular
UNCHECKED_REL_U = 0.01 / math.sqrt(3)  # printers keep 1 %: common practice, no source
MAX_CHECK_OFF = 0.1
SEARCH_SIDE_PX = 2200


@dataclass(frozen=True)
class Print:
    """How long the two check lines came out, [mm]; None where nobody has measured them."""

    across_mm: float | None = None
    along_mm: float | None = None

    @property
    def stretch(self) -> np.ndarray:
        """Printed over nominal length in the two directions, shape (2,)."""
        sides = (self.across_mm, self.along_mm)
        return np.array([1.0 if v is None else v / CHECK_LINE_MM for v in sides])

    @property
    def relative_u(self) -> float:
        """Relative standard uncertainty of a printed length, [-]."""
        measured = self.across_mm is not None and self.along_mm is not None
        return CHECK_U_MM / CHECK_LINE_MM if measured else UNCHECKED_REL_U


@dataclass(frozen=True)
class Sighting:
    """Corners of one card in a picture, in the same order on card and picture.

    ``card_mm`` and ``picture_px`` have shape (n, 2).
    """

    card: ScaleCard
    card_mm: np.ndarray
    picture_px: np.ndarray


def measured_print(across_mm: float, along_mm: float | None = None) -> Print:
    """Take the measured check lines of a sheet.

    Parameters
    ----------
    across_mm : float
        Measured length of the check line across the sheet, [mm].
    along_mm : float, optional
        That of the one along the sheet, [mm]; the same when left out.

    Raises
    ------
    CheckLineRefused
        Unless both lie within 10 % of 100 mm.
    """
    both = (across_mm, across_mm if along_mm is None else along_mm)
    if not all(abs(v / CHECK_LINE_MM - 1) <= MAX_CHECK_OFF for v in both):
        raise CheckLineRefused(
            "no print of the card has such a check line",
            got=f"{both[0]:g} mm and {both[1]:g} mm",
            expected=f"{CHECK_LINE_MM} mm, within {MAX_CHECK_OFF:.0%}",
            do="Measure the line in millimetres, or print the card again at 100 %.",
        )
    return Print(*both)


def board_of(card: ScaleCard) -> cv2.aruco.CharucoBoard:
    """Return a card as the board that its markers and corners are found with."""
    return cv2.aruco.CharucoBoard(
        (card.columns, card.rows),
        float(card.square_mm),
        float(card.marker_mm),
        dictionary(),
        np.array(card.marker_ids),
    )


def dictionary() -> cv2.aruco.Dictionary:
    """Return the predefined dictionary of markers."""
    return cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, DICTIONARY))


def find_cards(photo: Photo) -> tuple[Sighting, ...]:
    """Find every card in a picture.

    Parameters
    ----------
    photo : Photo
        Not modified.

    Returns
    -------
    tuple of Sighting
        Cards of which at least 4 corners are seen, the most corners first.

    Raises
    ------
    CardsDisagree
        If two copies of one card lie in the picture.
    """
    grey = cv2.cvtColor(photo.pixels, cv2.COLOR_BGR2GRAY)
    shrink = max(photo.width, photo.height) / SEARCH_SIDE_PX
    for factor in (shrink, 1.0) if shrink > 1 else (1.0,):
        small = grey
        if factor > 1:
            size = (round(photo.width / factor), round(photo.height / factor))
            small = cv2.resize(grey, size, interpolation=cv2.INTER_AREA)
        seen = _search(grey, small)
        if any(len(s.card_mm) >= MIN_CORNERS for s in seen):
            break
    return tuple(sorted(seen, key=lambda s: -len(s.card_mm)))


def card_scale(photo: Photo, *, printed: Print | None = None) -> PictureScale:
    """Scale of a picture from the scale card in it.

    Parameters
    ----------
    photo : Photo
        A photograph in which a card lies in the plane of the face; not modified.
    printed : Print, optional
        Its check lines as measured; without them the print is trusted to 1 %.

    Returns
    -------
    PictureScale
        With the plane; the scale is that at the middle of the picture.

    Raises
    ------
    NoCard, TooFewCorners, CardTooSteep, CardNotFlat, CardsDisagree, ScaleTooLoose
        When no honest scale can be had from it.
    """
    printed = printed or Print()
    seen = find_cards(photo)
    if not seen:
        raise NoCard(
            "no scale card in the picture",
            got=f"under 4 corners of any card in {photo.width} x {photo.height} px",
            expected="a card printed by 'lapwright card', in focus, beside the joint",
            do="Lay a card in the plane of the face and photograph again.",
        )
    if len(seen[0].card_mm) < MIN_CORNERS:
        raise _few(f"{len(seen[0].card_mm)} corners of card {seen[0].card.name}")
    middle = np.array([photo.width - 1, photo.height - 1]) / 2
    scales = [
        _scale_of(sighting, printed, middle)
        for sighting in seen
        if len(sighting.card_mm) >= MIN_CORNERS
    ]
    _check_agreement(scales, middle)
    return firm(scales[0])


def _search(grey: np.ndarray, small: np.ndarray) -> list[Sighting]:
    parameters = cv2.aruco.DetectorParameters()
    parameters.minMarkerPerimeterRate = 0.012
    parameters.adaptiveThreshWinSizeMax = 43
    finder = cv2.aruco.ArucoDetector(dictionary(), parameters)
    found, ids, _ = finder.detectMarkers(small)
    if not len(found):
        return []
    known = np.ravel(ids)
    seen = []
    for card in scale_cards():
        own = np.flatnonzero(np.isin(known, card.marker_ids))
        if len(own) >= 2:
            _check_copies(card, known[own])
            sighting = _corners(
                card, [np.asarray(found[int(i)]) for i in own], known[own], grey, small
            )
            seen += [] if sighting is None else [sighting]
    return seen


def _check_copies(card: ScaleCard, ids: np.ndarray) -> None:
    _, counts = np.unique(ids, return_counts=True)
    if (counts > 1).sum() >= 2:
        raise CardsDisagree(
            "two copies of one card lie in the picture",
            got=f"card {card.name}",
            expected="each card once",
            do="Leave one of them in the picture, or use cards of two sizes.",
        )


def _corners(
    card: ScaleCard,
    found: Sequence[np.ndarray],
    ids: np.ndarray,
    grey: np.ndarray,
    small: np.ndarray,
) -> Sighting | None:
    """Corners of one card, settled in the full picture; None for fewer than four."""
    board = board_of(card)
    finder = cv2.aruco.CharucoDetector(board)
    corners, places, _, _ = finder.detectBoard(
        small, markerCorners=list(found), markerIds=ids[:, None]
    )
    if np.size(places) < 4:
        return None
    factor = np.array([grey.shape[1] / small.shape[1], grey.shape[0] / small.shape[0]])
    start = (corners.reshape(-1, 2) + 0.5) * factor - 0.5
    card_mm = np.asarray(board.getChessboardCorners())[np.ravel(places), :2].astype(float)
    settled, kept = _settle(grey, start, card_mm, float(card.square_mm))
    return Sighting(card, card_mm[kept], settled[kept])


def _settle(
    grey: np.ndarray, start: np.ndarray, card_mm: np.ndarray, square_mm: float
) -> tuple[np.ndarray, np.ndarray]:
    """Move corners to where the squares meet, looking no further than the markers."""
    square_px = square_mm * _rough_scale(card_mm, start)
    reach = int(np.clip(0.13 * square_px, 2, 15))
    stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_COUNT, 60, 1e-4)
    settled = cv2.cornerSubPix(
        grey, start.astype(np.float32).reshape(-1, 1, 2), (reach, reach), (-1, -1), stop
    )
    settled = settled.reshape(-1, 2).astype(float)
    high, wide = grey.shape
    room = np.minimum(settled, np.array([wide, high]) - 1 - settled).min(axis=1)
    return settled, np.flatnonzero(room > reach)


def _rough_scale(card_mm: np.ndarray, picture_px: np.ndarray) -> float:
    """Pixels per millimetre between the corners, roughly."""
    spread = [np.sqrt(((p - p.mean(axis=0)) ** 2).sum()) for p in (picture_px, card_mm)]
    return float(spread[0] / spread[1])


def _scale_of(sighting: Sighting, printed: Print, middle: np.ndarray) -> PictureScale:
    card_mm = sighting.card_mm * printed.stretch
    _check_spread(card_mm, sighting.card)
    plane = _fit_without_strays(card_mm, sighting.picture_px)
    name = sighting.card.name
    rough = _rough_scale(card_mm, sighting.picture_px)
    limit = FLAT_PX + PRINT_PLACE_MM * rough
    if plane.rms_px > limit:
        raise CardNotFlat(
            f"the corners of card {name} do not lie in one plane",
            got=f"{plane.rms_px:.2f} px",
            expected=f"at most {limit:.2f} px from a plane",
            do="Glue the card flat onto something stiff and photograph again.",
        )
    if beyond_horizon(plane, middle[None])[0]:
        raise _steep(name, "over 80 degrees")
    tilt, tilt_u = _tilt(plane, middle, printed)
    if tilt - tilt_u > MAX_TILT_DEG:
        raise _steep(name, f"about {tilt:.0f} degrees")
    value, fit_u = middle_scale(plane, middle)
    parts = (("corners", fit_u / value), ("print", printed.relative_u), ("lens", LENS_REL_U))
    return PictureScale("card", value, parts, plane).with_facts(
        card=name,
        corners=len(plane.residuals),
        residual_px=plane.rms_px,
        tilt_deg=tilt,
        tilt_u_deg=tilt_u,
        print_checked=printed.across_mm is not None,
    )


def _check_spread(card_mm: np.ndarray, card: ScaleCard) -> None:
    """Refuse corners of a single row: they fix no plane."""
    rows, columns = (len(np.unique(np.round(card_mm[:, i], 4))) for i in (1, 0))
    thin = np.linalg.svd(card_mm - card_mm.mean(axis=0), compute_uv=False)[1]
    if min(rows, columns) < 2 or thin < 0.5 * float(card.square_mm):
        raise _few(f"{len(card_mm)} corners of card {card.name} in one row")


def _fit_without_strays(card_mm: np.ndarray, picture_px: np.ndarray) -> Plane:
    """Fit; leave out at most a tenth of the corners, far from where all others want them."""
    plane = fit_plane(card_mm, picture_px)
    off = np.hypot(*plane.residuals.T)
    usual = max(float(np.median(off)), 0.1)
    stray = off > 6 * usual
    if not stray.any() or stray.sum() > 0.1 * len(off) or len(off) - stray.sum() < MIN_CORNERS:
        return plane
    again = fit_plane(card_mm[~stray], picture_px[~stray])
    return again if again.rms_px < residual_px(plane.residuals) else plane


def _tilt(plane: Plane, middle: np.ndarray, printed: Print) -> tuple[float, float]:
    """Angle between card and sensor and its spread, [deg], supposing an uncropped picture."""
    squash = squash_at(plane.matrix(), middle)
    u = spread_of(plane, lambda matrix: squash_at(matrix, middle))
    u = math.hypot(u, math.sqrt(2) * printed.relative_u)
    far, near = (math.degrees(math.acos(min(1.0, squash + s * u))) for s in (-1, 1))
    return math.degrees(math.acos(min(1.0, squash))), (far - near) / 2


def _check_agreement(scales: list[PictureScale], middle: np.ndarray) -> None:
    """Refuse two cards whose planes give one place different scales."""
    first = scales[0]
    for other in scales[1:]:
        assert first.plane is not None
        assert other.plane is not None
        for plane in (first.plane, other.plane):
            spot = apply(plane.matrix(), np.linalg.inv(plane.card_frame)[None, :2, 2])[0]
            one, other_one = (middle_scale(p, spot) for p in (first.plane, other.plane))
            apart = abs(one[0] / other_one[0] - 1)
            limit = 0.01 + 3 * math.hypot(one[1], other_one[1]) / one[0]
            if apart > limit:
                names = f"{dict(first.facts)['card']} and {dict(other.facts)['card']}"
                raise CardsDisagree(
                    "the cards of the picture do not lie in one plane",
                    got=f"{names}: scales {apart:.1%} apart",
                    expected=f"at most {limit:.1%}",
                    do="Lay both cards in the plane of the face and photograph again.",
                )


def _few(got: str) -> TooFewCorners:
    return TooFewCorners(
        "too little of the card is seen",
        got=got,
        expected=f"at least {MIN_CORNERS} corners in two rows",
        do="Photograph again with more of the card in the picture, in focus and in even light.",
    )


def _steep(name: str, got: str) -> CardTooSteep:
    return CardTooSteep(
        f"card {name} is seen too much from the side",
        got=got,
        expected=f"at most {MAX_TILT_DEG:g} degrees",
        do="Photograph from straight above the face.",
    )
