"""Judge one joint of a coupon from its evidence: position, looks, cut, faces, tests.

Only joins what the other modules decide: each finding comes from the module
that owns the rule. Which rules are asked depends on the adopted editions; a
thing that was not recorded is asked for and never passed over.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from lapwright.core.evidence import Coupon, Evidence, Examination, Face, Joint, Specimen
from lapwright.core.outcomes import Finding, Subject, Verdict, combine
from lapwright.core.quantities import Quantity, length

from . import examination as look
from . import mechanical, preparation
from . import soundlength as sound
from .asking import Question
from .darklines import judge_dark_lines
from .faces import FaceResult, judge_face
from .independence import judge_own_examination, judge_pictures
from .methodcheck import without_own
from .plausible import judge_measured
from .positions import (
    FaceOfJoint,
    Stand,
    flow_position,
    judge_kept_apart,
    judge_opposite_cups,
    judge_planned,
    judge_tolerance,
)
from .rulebook import Adopted
from .specimens import HalfSection, judge_half_section
from .stretch import judge_stretches
from .walls import judge_face_walls


@dataclass(frozen=True)
class JointResult:
    """One joint: its flow position (empty while open), its faces, its verdict."""

    joint: str
    coupon: str
    position: str
    faces: tuple[FaceResult, ...]
    verdict: Verdict


def judge_joint(
    evidence: Evidence, coupon: Coupon, joint: Joint, *, adopted: Adopted
) -> JointResult:
    """Judge everything that is known of one joint.

    Parameters
    ----------
    evidence : Evidence
        The case.
    coupon : Coupon
        The joint's coupon.
    joint : Joint
        The joint.
    adopted : Adopted
        The adopted editions.
    """
    stand = Stand(joint.id, joint.axis_angle, joint.cup, joint.feed, joint.position)
    flow = flow_position(stand, adopted=adopted)
    findings = [flow.finding, judge_tolerance(stand, adopted=adopted)]
    if joint.position:
        findings.append(judge_planned(stand, adopted=adopted))
    findings += _bore(joint, adopted)
    findings += _visual(joint, coupon, adopted)
    stretches = [judge_stretches(evidence, joint, f, adopted=adopted) for f in joint.faces]
    faces = tuple(
        s.applied(_face(evidence, replace(f, readings=s.known), coupon.brazed_by, adopted=adopted))
        for f, s in zip(joint.faces, stretches, strict=True)
    )
    told = [f.finding for f in faces]
    findings += [f for s in stretches for f in s.findings if f not in told]
    findings += _cut(joint, adopted)
    checks = without_own(evidence.methods, brazers={evidence.brazer, coupon.brazed_by})
    for face, result, stretch in zip(joint.faces, faces, stretches, strict=True):
        findings += [*_prepared(face, adopted), result.finding]
        if adopted.has(sound.RULE):
            wall = joint.tube_wall or coupon.tube.wall
            known = replace(face, readings=stretch.known)
            depth = sound.sound_lengths(known, wall, checks=checks)
            findings.append(sound.judge_sound_length(depth, adopted=adopted))
        pictures = judge_pictures(evidence, face, adopted=adopted)
        findings += [pictures] if pictures is not None else []
    deeper = evidence.basis.option("cup_allowance") if evidence.basis else ""
    findings += judge_measured(
        coupon, joint, adopted=adopted, allowance=length(deeper) if deeper else None
    )
    findings += judge_own_examination(evidence, joint, coupon.brazed_by, adopted=adopted)
    for specimen in joint.specimens:
        findings += list(_mechanical(specimen, adopted))
    return JointResult(joint.id, coupon.id, flow.position, faces, combine(findings))


def judge_coupon_cups(coupon: Coupon, *, adopted: Adopted) -> Finding | None:
    """Judge whether the cups of an upright coupon can have opened as they are said to."""
    stands = [Stand(j.id, j.axis_angle, j.cup, j.feed, j.position) for j in coupon.joints]
    return judge_opposite_cups(coupon.id, stands, adopted=adopted)


def judge_coupon_faces(coupon: Coupon, *, adopted: Adopted) -> Finding:
    """Judge whether an upright coupon's readings are kept apart by joint."""
    stands = [Stand(j.id, j.axis_angle, j.cup, j.feed, j.position) for j in coupon.joints]
    faces = [FaceOfJoint(f.id, f.joint) for j in coupon.joints for f in j.faces]
    return judge_kept_apart(coupon.id, stands, faces, adopted=adopted)


def _stage(joint: Joint, stage: str) -> Examination | None:
    found = [e for e in joint.examinations if e.stage == stage]
    return found[-1] if found else None


def _bore(joint: Joint, adopted: Adopted) -> list[Finding]:
    before, opened = _stage(joint, "before-sawing"), _stage(joint, "opened")
    in_time = before is not None and (joint.section is None or before.on <= joint.section.on)
    polished = min((f.prepared_on for f in joint.faces), default=None)
    seen = look.BoreLook(
        joint=joint.id,
        ends=before.items.get("oxide", "") if before else "",
        ends_stage=("before-sawing" if in_time else "after-sawing") if before else "",
        halves=opened.items.get("oxide", "") if opened else "",
        halves_stage=_halves_stage(opened, polished),
    )
    found = [look.judge_bore_order(seen, adopted=adopted)]
    if adopted.has("bore.no_oxide"):
        found.append(look.judge_oxide(seen, adopted=adopted))
    looks = [e for e in (before, opened) if e is not None]
    seen_inside = [e for e in looks if e.items.get("excess-inside") != "no"]
    asked: Sequence[Examination | None] = seen_inside or looks[-1:] or (None,)
    found += [_excess(joint, "inside", inside, adopted) for inside in asked]
    return found


def _halves_stage(opened: Examination | None, polished: object) -> str:
    if opened is None:
        return ""
    late = polished is not None and opened.on > polished  # type: ignore[operator]
    return "after-polishing" if late else "before-polishing"


def _excess(joint: Joint, where: str, seen: Examination | None, adopted: Adopted) -> Finding:
    items = seen.items if seen else {}
    key = f"excess-{where}"
    size = items.get(f"{key}-size", "")
    return look.judge_excess_filler(
        look.ExcessFiller(
            joint.id,
            where,
            items.get(key, ""),
            Quantity.parse(size, "length") if size else None,
            items.get(f"{key}-decision", ""),
            items.get(f"{key}-reason", ""),
            seen.photo if seen else "",
        ),
        adopted=adopted,
    )


def _visual(joint: Joint, coupon: Coupon, adopted: Adopted) -> Iterator[Finding]:
    seen = _stage(joint, "visual")
    items = seen.items if seen else {}
    yield look.judge_visual(
        look.VisualLook(joint.id, items, seen.remark if seen else ""), adopted=adopted
    )
    if seen is not None and joint.section is not None and adopted.has("visual.before_sawing"):
        yield from look.judge_visual_order(joint.id, seen.on, joint.section.on, adopted=adopted)
    if adopted.has("visual.filler") or adopted.has("production.conditions"):
        yield look.judge_unmelted_filler(
            joint.id, items.get("unmelted-filler", ""), adopted=adopted
        )
    depth = items.get("erosion-depth", "")
    yield look.judge_erosion(
        look.Erosion(
            joint.id, items.get("erosion", ""), Quantity.parse(depth, "length") if depth else None
        ),
        adopted=adopted,
    )
    if adopted.has("cleaning.cut"):
        yield look.judge_tube_end(joint.id, items.get("rolled-end", ""), adopted=adopted)
    if adopted.has("visual.corner_rounding"):
        yield look.judge_corner_rounding(
            look.CornerRounding(
                joint.id, items.get("corner-rounding", ""), items.get("corner-metal", "copper")
            ),
            adopted=adopted,
        )
    yield _excess(joint, "outside", seen, adopted)


def _cut(joint: Joint, adopted: Adopted) -> Iterator[Finding]:
    if not joint.faces:
        return
    cut = joint.section
    first_look = min((e.on for e in joint.examinations), default=None)
    yield preparation.judge_cut_plane(
        preparation.CutPlane(
            joint.id,
            cut.plane if cut else "",
            cut.fixed_on if cut else None,
            cut.fixed_before_looking if cut else "",
            first_look,
        ),
        adopted=adopted,
    )
    if not all(face.half for face in joint.faces):  # which faces lie on one half is not known
        rule, subject = "specimens.half_section_faces", Subject("joint", joint.id)
        yield Question(rule, subject, adopted).missing("faces.half")
        return
    halves: dict[str, list[str]] = {}
    for face in joint.faces:
        halves.setdefault(face.half, []).append(face.id)
    for half, ids in halves.items():
        yield judge_half_section(HalfSection(joint.id, half, tuple(ids)), adopted=adopted)


def _prepared(face: Face, adopted: Adopted) -> Iterator[Finding]:
    photo = any(r.way == "photo" for r in face.readings)
    loupe = any(r.way == "loupe" for r in face.readings)
    way = "loupe" if loupe and not photo else "photograph"
    yield preparation.judge_finish(
        preparation.Finish(face.id, face.grit, way, face.over_ground), adopted=adopted
    )
    yield preparation.judge_magnification(face.id, face.magnification, adopted=adopted)
    yield preparation.judge_crack(
        preparation.Crack(face.id, face.crack, face.crack_length), adopted=adopted
    )
    yield from judge_face_walls(face, adopted=adopted)
    yield from judge_dark_lines(face, adopted=adopted)


def _face(evidence: Evidence, face: Face, brazed_by: str, *, adopted: Adopted) -> FaceResult:
    basis = evidence.basis
    s_r = basis.option("s_reproducibility") if basis else ""
    return judge_face(
        face.id,
        face.readings,
        adopted=adopted,
        decision_rule=basis.decision_rule if basis else "second-reading",
        s_reproducibility=Decimal(s_r.rstrip(" %")) / 100 if s_r else None,
        method_checks=without_own(evidence.methods, brazers={evidence.brazer, brazed_by}),
    )


def _mechanical(specimen: Specimen, adopted: Adopted) -> Iterator[Finding]:
    figures = specimen.figures
    if specimen.kind == "peel":
        yield from mechanical.judge_peel(
            mechanical.Peel(
                specimen.id,
                figures.get("parted", ""),
                _share(figures.get("area", "")),
                _share(figures.get("line", "")),
                figures.get("through_path", ""),
                figures.get("filler_at_edges", ""),
            ),
            adopted=adopted,
        ).findings
    elif specimen.kind == "tension":
        pull = mechanical.Tension(
            specimen.id,
            _q(figures, "strength", "pressure"),
            _q(figures, "minimum", "pressure"),
            figures.get("temper", ""),
            figures.get("broke_in", ""),
            figures.get("form", ""),
            _q(figures, "tube_od", "length"),
        )
        yield mechanical.judge_tension(pull, adopted=adopted)
        yield mechanical.judge_tension_form(pull, adopted=adopted)
    else:
        yield mechanical.judge_bend(
            mechanical.Bend(
                specimen.id,
                figures.get("joint_type", ""),
                figures.get("joint_within_bend", ""),
                _q(figures, "longest_opening", "length"),
                _q(figures, "corner_crack", "length"),
                figures.get("corner_from_flaw", ""),
            ),
            adopted=adopted,
        )


def _share(text: str) -> Decimal | None:
    if not text:
        return None
    exact = Quantity.parse(text, "share").base
    return Decimal(exact.numerator) / Decimal(exact.denominator)


def _q(figures: object, key: str, kind: str) -> Quantity | None:
    text = figures.get(key, "")  # type: ignore[attr-defined]
    return Quantity.parse(text, kind) if text else None
