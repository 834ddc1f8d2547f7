"""Read a face whose ends nobody gave: find the joint, and refuse where it is not plain."""

from __future__ import annotations

from typing import Any

from .errors import NoJointFound, SeveralJoints
from .face import read_face
from .find import Candidate, find_joints
from .image import Photo
from .settings import DEFAULT, FaceSettings
from .values import FaceMeasurement


def read_alone(photo: Photo, **how: Any) -> FaceMeasurement:
    """Find the one joint of a picture and measure its face.

    Parameters
    ----------
    photo : Photo
        From `lapwright.measure.image.open_photo`; not modified.
    **how
        Scale, as `lapwright.measure.face.read_face` takes it.

    Raises
    ------
    NoJointFound
        If no joint is plainly marked.
    SeveralJoints
        If several may be meant; its ``candidates`` say which.
    LapwrightError
        As `read_face` raises.
    """
    only = choose(find_joints(photo.pixels, DEFAULT), DEFAULT)
    return read_face(photo, only.ends.tube_end, only.ends.cup_face, **how)


def choose(candidates: list[Candidate], settings: FaceSettings) -> Candidate:
    """Return the one candidate that is plain, or refuse.

    Parameters
    ----------
    candidates : list of Candidate
        The most plainly marked first.
    settings : FaceSettings
        Least confidence of a joint that is measured unasked, and of one that is named.
    """
    likely = [c for c in candidates if c.confidence >= settings.likely_joint]
    if len(likely) == 1 and likely[0].confidence >= settings.plain_joint:
        return likely[0]
    if not likely:
        raise NoJointFound(
            "no joint is plainly marked in the picture",
            got="no tube end and cup face between two copper walls",
            expected="one joint with its mouth and its tube end in view",
            do="Give the ends yourself: write the picture with --grid and read them off it.",
        )
    refusal = SeveralJoints(
        "more than one joint may be meant" if len(likely) > 1 else "the joint is not plain enough",
        got="; ".join(_told(c) for c in likely),
        expected="one joint, plainly marked",
        do="Give the ends of the one you mean with --tube-end and --cup-face.",
    )
    refusal.candidates = tuple(_as_dict(c) for c in likely)
    raise refusal


def _told(candidate: Candidate) -> str:
    (a, b), (c, d) = candidate.ends.tube_end, candidate.ends.cup_face
    return f"tube end {a:.0f},{b:.0f} cup face {c:.0f},{d:.0f} ({candidate.confidence:.2f})"


def _as_dict(candidate: Candidate) -> dict[str, object]:
    return {
        "tube_end_px": list(candidate.ends.tube_end),
        "cup_face_px": list(candidate.ends.cup_face),
        "confidence": candidate.confidence,
    }
