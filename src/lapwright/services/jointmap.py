"""Unrolled joint maps of a case: one drawing a joint, a picture for teaching, never a verdict."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from pathlib import Path

from lapwright.core.errors import LapwrightError
from lapwright.core.evidence import Coupon, Evidence, Joint
from lapwright.core.messages import Message
from lapwright.documents.jointlayout import widest_gap
from lapwright.documents.jointmap import JOINT_MAP_LABELS, JointMap, MapFace, joint_map_svg

from .atomic import make_folder, write_made
from .errors import MapsInsideCase
from .jointfaces import map_faces
from .jointpatterns import NO_CAUSE, patterns
from .text import catalogue, say, word


@dataclass(frozen=True)
class MapsWritten:
    """What was drawn: joint and file of each map, and the joints that have no face."""

    written: tuple[tuple[str, Path], ...]
    without_faces: tuple[str, ...]

    def lines(self) -> list[str]:
        """Return it as lines for a terminal."""
        told = [word("jointmap.written", joint=j, path=str(p)) for j, p in self.written]
        if self.without_faces:
            told.append(word("jointmap.no_faces", joints=", ".join(self.without_faces)))
        return told


def joint_chart(evidence: Evidence, coupon: Coupon, joint: Joint) -> JointMap:
    """Return what the map of one joint shows, in words and figures.

    Parameters
    ----------
    evidence : Evidence
        The case, for its id and the day asked about.
    coupon : Coupon
        The coupon of the joint.
    joint : Joint
        The joint with at least one face.

    Raises
    ------
    ClockRefused
        For a face's position that is none.
    """
    faces = map_faces(joint)
    title = word("jointmap.title", joint=joint.id, coupon=coupon.id)
    notices = (word("jointmap.notice.teaching"), word("jointmap.notice.between"))
    hints = tuple(map(_hint, patterns(faces)))
    return JointMap(
        joint=joint.id,
        title=title,
        subtitle=_subtitle(evidence, coupon, joint),
        faces=faces,
        notices=notices,
        hints=hints,
        notes=_notes(coupon, faces),
        description=" ".join((title + ".", *notices, *map(_in_words, faces), *hints)),
    )


def draw_joint_map(evidence: Evidence, joint_id: str) -> str:
    """Return the SVG of one joint of a case.

    Parameters
    ----------
    evidence : Evidence
        The case as of a day.
    joint_id : str
        Id of a joint that the evidence holds.

    Raises
    ------
    LapwrightError
        ``ClockRefused``, ``JointMapRefused`` or ``GlyphMissing``.
    """
    coupon, joint = next((c, j) for c in evidence.coupons for j in c.joints if j.id == joint_id)
    texts = catalogue()
    return joint_map_svg(
        joint_chart(evidence, coupon, joint), {name: texts[name] for name in JOINT_MAP_LABELS}
    )


def check_out(out: Path, case_folder: Path) -> None:
    """Refuse an output folder inside the case folder, before anything slow is done.

    Parameters
    ----------
    out : Path
        Folder for the maps.
    case_folder : Path
        The case folder, which judging never writes to.

    Raises
    ------
    MapsInsideCase
    """
    if out.resolve().is_relative_to(case_folder.resolve()):
        raise MapsInsideCase(
            "joint maps inside the case folder",
            got=str(out),
            expected="a folder outside it",
            do="Name another folder: judging never writes to the case.",
        )


def write_joint_maps(evidence: Evidence, out: Path) -> MapsWritten:
    """Write one SVG a joint; every drawing is made before the first file is written.

    Parameters
    ----------
    evidence : Evidence
        The case as of a day.
    out : Path
        Folder to write to; made if it is not there.

    Raises
    ------
    LapwrightError
        For values that cannot be drawn, or a folder that cannot be written.
    """
    drawn = [(j.id, draw_joint_map(evidence, j.id)) for j in evidence.joints if j.faces]
    names = file_names([joint for joint, _ in drawn])
    make_folder(out)
    for joint, svg in drawn:
        write_made(out / names[joint], (svg + "\n").encode(), suffix=".svg")
    return MapsWritten(
        tuple((joint, out / names[joint]) for joint, _ in drawn),
        tuple(j.id for j in evidence.joints if not j.faces),
    )


def file_names(joints: list[str]) -> dict[str, str]:
    """Return a file name for every joint: plain letters, none twice where case does not count.

    Parameters
    ----------
    joints : list of str
        Joint ids, each once.

    Examples
    --------
    >>> file_names(["H1", "h1", "../V 2"])
    {'H1': 'joint-H1.svg', 'h1': 'joint-h1-2.svg', '../V 2': 'joint-.._V_2.svg'}
    """
    names: dict[str, str] = {}
    taken: set[str] = set()
    for joint in joints:
        stem = "joint-" + re.sub(r"[^A-Za-z0-9._-]", "_", joint)[:80]
        name, count = stem, 1
        while name.casefold() in taken:
            count += 1
            name = f"{stem}-{count}"
        taken.add(name.casefold())
        names[joint] = f"{name}.svg"
    return names


def _hint(found: Message) -> str:
    """Return a pattern in words; a named cause is marked as common practice without a source."""
    mark = "" if found.id in NO_CAUSE else " " + word("jointmap.cause.mark")
    return say(found) + mark


def _subtitle(evidence: Evidence, coupon: Coupon, joint: Joint) -> str:
    parts = [
        word("jointmap.subtitle.case", case=evidence.case),
        word("jointmap.subtitle.brazed", on=coupon.brazed_on.isoformat()),
        word("jointmap.subtitle.as_of", on=evidence.as_of.isoformat()),
        word("jointmap.subtitle.tube", size=coupon.tube.size, standard=coupon.tube.standard),
    ]
    if joint.axis_angle is not None:
        parts.append(word("jointmap.subtitle.axis", angle=joint.axis_angle.text))
    if joint.cup:
        parts.append(word("jointmap.subtitle.cup", cup=joint.cup))
    if joint.feed:
        parts.append(word("jointmap.subtitle.feed", feed=joint.feed))
    return " · ".join(parts)


def _notes(coupon: Coupon, faces: tuple[MapFace, ...]) -> tuple[str, ...]:
    notes = [word("jointmap.note.depth")]
    angles = [f.angle_deg for f in faces if f.angle_deg is not None]
    if angles:
        notes.append(word("jointmap.note.clock"))
        notes += _round_the_tube(coupon, angles)
    left_out = [f.id for f in faces if f.way != "read"]
    if left_out:
        notes.append(word("jointmap.note.left_out", faces=", ".join(left_out)))
    notes.append(word("caution.governs"))
    return tuple(notes)


def _round_the_tube(coupon: Coupon, angles: list[float]) -> list[str]:
    """Say how long the joint is round the tube, and the widest part of it without a cut."""
    from lapwright.reference.tube import tube

    member = coupon.tube
    try:
        row = tube(member.standard, member.size, type_=member.kind or None)
    except LapwrightError:  # a tube that the tables do not know: the length is left out
        return []
    length = math.pi * float(row.od.base)
    return [
        word(
            "jointmap.note.round",
            length=f"{length:.1f}",
            od=row.od.text,
            gap=f"{length * widest_gap(angles) / 360:.1f}",
        )
    ]


def _in_words(face: MapFace) -> str:
    stretches = ", ".join(f"{s.state} {s.says}" for s in face.stretches)
    if not stretches:
        sound = word("jointmap.face.sound")
        stretches = sound if face.way == "read" else ""
    told = "; ".join(part for part in (*face.lines, stretches) if part)
    return f"{face.id}: {told}."
