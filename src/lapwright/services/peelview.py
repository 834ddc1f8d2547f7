"""``lapwright peel``: read a peeled lap surface, or propose its mask; write the pictures."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from lapwright.core.messages import Message

from .atomic import write_made
from .errors import CaseFileRefused
from .peeldocument import reading_document
from .text import word

if TYPE_CHECKING:
    import numpy as np

    from lapwright.measure.image import Photo
    from lapwright.measure.peel.direction import LapDirection
    from lapwright.measure.peel.outline import Outline
    from lapwright.measure.peel.values import PeelReading

Point = tuple[float, float]
LABELS = (
    "mouth",
    "stop",
    "left",
    "right",
    "discontinuity",
    "unsure",
    "worst",
    "joined",
    "area",
    "line",
    "path",
    "yes",
    "possible",
    "no",
    "proposal",
)


@dataclass(frozen=True)
class PeelQuestion:
    """What a person says of a peeled surface.

    Parameters
    ----------
    outline : sequence of pair of float
        Corners, [px]; empty where the mask alone bounds the surface.
    mask : Path, optional
        The mask PNG; without it classes are proposed.
    mask_values : str
        Meaning of its greys, such as ``discontinuity=255,sound=0``; empty for
        the tool's own convention.
    lap : pair of points, optional
        A point at the mouth edge and one at the stop edge, [px].
    lap_angle_deg : float, optional
        Instead the angle of the lap, [deg] clockwise from the picture's right.
    px_per_mm : float, optional
        Scale, [px/mm].
    """

    outline: Sequence[Point] = ()
    mask: Path | None = None
    mask_values: str = ""
    lap: tuple[Point, Point] | None = None
    lap_angle_deg: float | None = None
    px_per_mm: float | None = None


@dataclass(frozen=True)
class _States:
    """The states of the pixels, where they come from, and what to say about that."""

    values: np.ndarray
    proposal: str = ""
    mask_sha256: str = ""
    probabilities: tuple[tuple[str, float], ...] = ()
    warnings: tuple[Message, ...] = ()


def view_peel(
    photo: Path,
    question: PeelQuestion,
    *,
    overlay: Path | None = None,
    propose: Path | None = None,
) -> dict[str, Any]:
    """Read one peeled surface and return the JSON document.

    Parameters
    ----------
    photo : Path
        The photograph.
    question : PeelQuestion
        Outline, mask, lap direction, scale.
    overlay : Path, optional
        Where to write the picture of the reading (PNG).
    propose : Path, optional
        Where to write the proposed mask (PNG).

    Raises
    ------
    LapwrightError
        With a coded line; nothing half-written is left behind.
    """
    from lapwright.measure.image import open_photo
    from lapwright.measure.peel.reading import read_peel

    _check_scale(question.px_per_mm)
    opened = open_photo(_bytes(photo, "a photograph"), where=str(photo))
    outline = _outline(question, opened)
    states = _states(question, opened, outline)
    lap = _lap(question, outline)
    reading = read_peel(states.values, lap, outline=outline)
    reading = replace(reading, warnings=(*states.warnings, *reading.warnings))
    drawn = b"" if overlay is None else _drawn(opened, states, reading, outline)
    sources = [photo] if question.mask is None else [photo, question.mask]
    document = reading_document(reading, px_per_mm=question.px_per_mm, proposal=states.proposal)
    document |= {
        "outline_px": None if outline is None else [list(p) for p in outline.points_px],
        "mean_probability": dict(states.probabilities),
        "image_sha256": opened.sha256,
        "mask_sha256": states.mask_sha256,
    }
    if propose is not None:
        _write(propose, _proposed_png(states), sources)
        document["warnings"].append(word("peelview.mask_written", path=str(propose)))
    if overlay is not None:
        _write(overlay, drawn, sources)
    return document


def _drawn(photo: Photo, states: _States, reading: PeelReading, outline: Outline | None) -> bytes:
    from lapwright.measure.peel.overlay import draw_peel_overlay

    return draw_peel_overlay(
        photo,
        states.values,
        reading,
        outline=outline,
        labels={name: word(f"peel.label.{name}") for name in LABELS},
        proposal=states.proposal,
    )


def _bytes(path: Path, what: str) -> bytes:
    try:
        return path.read_bytes()
    except OSError as fault:
        raise CaseFileRefused(
            f"{what} that cannot be read",
            got=f"{path}",
            expected="a readable file",
            do=f"Correct the name ({fault.strerror}).",
        ) from fault


def _check_scale(px_per_mm: float | None) -> None:
    from lapwright.measure.errors import ScaleRefused

    if px_per_mm is not None and not 1e-3 <= px_per_mm <= 1e6:
        raise ScaleRefused(
            "not a scale",
            got=f"{px_per_mm:g} px/mm",
            expected="a number from 0.001 to 1 000 000 px/mm",
            do="Give the scale measured in the plane of the surface, or leave it out.",
        )


def _outline(question: PeelQuestion, photo: Photo) -> Outline | None:
    from lapwright.measure.peel.outline import make_outline

    if not question.outline:
        return None
    return make_outline(question.outline, (photo.width, photo.height))


def _lap(question: PeelQuestion, outline: Outline | None) -> LapDirection:
    from lapwright.measure.peel import direction

    if question.lap is not None:
        given = direction.lap_from_points(*question.lap)
    elif question.lap_angle_deg is not None:
        given = direction.lap_from_angle(question.lap_angle_deg)
    elif outline is not None:
        return direction.lap_from_corners(outline)
    else:
        raise direction.missing()
    if outline is not None and len(outline.points) == 4:
        return direction.check_against_corners(given, outline)
    return given


def _states(question: PeelQuestion, photo: Photo, outline: Outline | None) -> _States:
    from lapwright.measure.errors import PeelSurfaceMissing
    from lapwright.measure.peel.outline import outline_pixels

    size = (photo.width, photo.height)
    pixels = None if outline is None else outline_pixels(outline, size)
    if question.mask is not None:
        return _from_mask(question.mask, question.mask_values, size, pixels)
    if pixels is None:
        raise PeelSurfaceMissing(
            "no lap surface named",
            got="neither an outline nor a mask",
            expected="--outline x,y,... or --mask PNG",
            do="Give the four corners: mouth left, mouth right, stop right, stop left.",
        )
    return _from_photo(photo, pixels)


def _from_mask(
    path: Path, values: str, size: tuple[int, int], pixels: np.ndarray | None
) -> _States:
    from lapwright.measure.peel import mask
    from lapwright.measure.peel.reading import cut_to_outline

    data = _bytes(path, "a mask")
    meaning = mask.parse_meaning(values) if values else mask.MEANING
    states = mask.open_mask(data, size, meaning=meaning, where=str(path))
    proposal = "" if values else mask.proposal_note(data, states)
    warnings = [Message("peel.warning.unchanged")] if proposal else []
    if pixels is not None:
        states, left_out = cut_to_outline(states, pixels)
        if left_out:
            warnings.append(Message("peel.warning.left_out", count=str(left_out)))
    digest = hashlib.sha256(data).hexdigest()
    return _States(states, proposal, digest, warnings=tuple(warnings))


def _from_photo(photo: Photo, pixels: np.ndarray) -> _States:
    from lapwright.measure.peel.proposal import propose_states

    made = propose_states(photo, pixels)
    states = _States(made.states, made.method, "", tuple(made.mean_probability.items()))
    return replace(states, mask_sha256=hashlib.sha256(_proposed_png(states)).hexdigest())


def _proposed_png(states: _States) -> bytes:
    from lapwright.measure.peel.mask import mask_png

    return mask_png(states.values, proposal=states.proposal)


def _write(path: Path, data: bytes, sources: Sequence[Path]) -> None:
    for source in sources:
        if path.resolve() == source.resolve():
            write_made(path, data, suffix=".png", source=source)
    write_made(path, data, suffix=".png")
