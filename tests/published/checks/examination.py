"""Checks of positions, specimens, examinations, mechanical tests and retests."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from decimal import Decimal
from typing import Any

from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Subject, combine, settled
from lapwright.core.quantities import Quantity
from lapwright.core.times import parse_date
from lapwright.measure.besides.sound import sound_from_mouth
from lapwright.measure.values import Segment
from lapwright.rules import (
    examination,
    mechanical,
    positions,
    preparation,
    retest,
    soundlength,
    specimens,
)
from lapwright.rules.rulebook import Adopted
from lapwright.rules.walls import judge_face_walls
from unit.rules.raised import face_with

from .faces import faces as judged_faces
from .faces import share as judged_share

Given = Mapping[str, Any]
_KINDS = {
    "axis_angle": "angle",
    "place": "angle",
    "tube_od": "length",
    "depth": "length",
    "size": "length",
    "length": "length",
    "strength": "pressure",
    "minimum": "pressure",
    "longest_opening": "length",
    "corner_crack": "length",
}
_DATES = {"fixed_on", "first_look_on", "failed_on", "retested_on", "training_on"}
_BESIDE = {"percents", "limit", "sockets_choice", "pieces_choice", "first"}  # read by the check
_SHARES = {"area_share", "line_share"}
_OUTCOMES = {o.value: o for o in Outcome}


def _typed(key: str, value: Any) -> Any:
    if key in _KINDS:
        return Quantity.parse(value, _KINDS[key])
    if key in _DATES:
        return parse_date(value)
    if key in _SHARES:
        return Decimal(value) / 100
    return tuple(value) if isinstance(value, list) else value


def _made(cls: Any, given: Given, **more: Any) -> Any:
    """Make an input dataclass from the keys of a case; fields without default become None."""
    known = {f.name for f in fields(cls)}
    stray = sorted(set(given) - known - _BESIDE)
    if stray:
        raise ValueError(f"{cls.__name__} has no {stray}")
    named = {f.name: None for f in fields(cls) if f.name in _KINDS or f.name in _DATES}
    named |= {k: _typed(k, v) for k, v in given.items() if k in known and k not in more}
    return cls(**{**named, **more})


def position(adopted: Adopted, given: Given) -> Any:
    found = positions.flow_position(_made(positions.Stand, given, joint="J"), adopted=adopted)
    return {"finding": found.finding, "position": found.position}


def tilt(adopted: Adopted, given: Given) -> Finding:
    return positions.judge_tolerance(_made(positions.Stand, given, joint="J"), adopted=adopted)


def planned(adopted: Adopted, given: Given) -> Finding:
    return positions.judge_planned(_made(positions.Stand, given, joint="J"), adopted=adopted)


def covers(adopted: Adopted, given: Given) -> Any:
    """Asked positions against tested ones; every asked one is shown by its letter."""
    product, on = given.get("product", "tube"), given.get("asked_on", "tube")
    tested = [positions.Tested(p, product) for p in given["tested"]]
    found = {
        letter: positions.judge_position(
            positions.Tested(letter, on), tested, subject=Subject("joint", "J"), adopted=adopted
        )
        for letter in given["asked"]
    }
    listed = positions.positions_covered(given["tested"], adopted=adopted, product=product)
    return {**found, "covered": listed, "finding": combine(found.values())}


def special(adopted: Adopted, given: Given) -> Finding:
    angles = (Quantity.parse(given[k], "angle") for k in ("qualified", "production"))
    return positions.judge_special(*angles, subject=Subject("joint", "J"), adopted=adopted)


def kept_apart(adopted: Adopted, given: Given) -> Finding:
    stands = [_made(positions.Stand, row) for row in given["joints"]]
    faces = [positions.FaceOfJoint(**row) for row in given["faces"]]
    return positions.judge_kept_apart("V", stands, faces, adopted=adopted)


def metal(adopted: Adopted, given: Given) -> Finding:
    return specimens.judge_coupon_metal(
        _made(specimens.CouponMetal, given, coupon="K"), adopted=adopted
    )


def taken(adopted: Adopted, given: Given) -> Finding:
    pieces = tuple(_made(specimens.Taken, row) for row in given["specimens"])
    one = _made(specimens.SpecimenSet, given, specimens=pieces)
    return specimens.judge_specimens(
        one, adopted=adopted, sockets_choice=given.get("sockets_choice", "")
    )


def half(adopted: Adopted, given: Given) -> Any:
    """Both faces of a half: counted, then each judged alone."""
    one = specimens.HalfSection("J", "front", tuple(given["percents"]))
    shares = judged_faces(adopted, given)
    whole = specimens.judge_half_section(one, adopted=adopted)
    return {
        "finding": combine([whole, *shares.findings]),
        "results": str(len(shares.findings)),
        "each": [f.outcome for f in shares.findings],
    }


def oxide(adopted: Adopted, given: Given) -> Finding:
    return examination.judge_oxide(_made(examination.BoreLook, given, joint="J"), adopted=adopted)


def oxide_beside_faces(adopted: Adopted, given: Given) -> Any:
    return combine([oxide(adopted, given), *judged_faces(adopted, given).findings])


def bore_order(adopted: Adopted, given: Given) -> Finding:
    return examination.judge_bore_order(
        _made(examination.BoreLook, given, joint="J"), adopted=adopted
    )


def visual(adopted: Adopted, given: Given) -> Finding:
    return examination.judge_visual(
        _made(examination.VisualLook, given, joint="J"), adopted=adopted
    )


def erosion(adopted: Adopted, given: Given) -> Finding:
    return examination.judge_erosion(_made(examination.Erosion, given, joint="J"), adopted=adopted)


def walls(adopted: Adopted, given: Given) -> Finding:
    raised = {k: v for k, v in given.items() if k != "erosion"}
    face = face_with("F", raised=(raised,), erosion=given.get("erosion", ""))
    return next(judge_face_walls(face, adopted=adopted))


def corner(adopted: Adopted, given: Given) -> Finding:
    return examination.judge_corner_rounding(
        _made(examination.CornerRounding, given, joint="J"), adopted=adopted
    )


def excess(adopted: Adopted, given: Given) -> Finding:
    limit = Quantity.parse(given["limit"], "length") if "limit" in given else None
    return examination.judge_excess_filler(
        _made(examination.ExcessFiller, given, joint="J"), adopted=adopted, limit=limit
    )


def crack(adopted: Adopted, given: Given) -> Finding:
    return preparation.judge_crack(_made(preparation.Crack, given, face="F"), adopted=adopted)


def sound_length(adopted: Adopted, given: Given) -> Any:
    length = Quantity.parse(given["length"], "length")
    wall = Quantity.parse(given["wall"], "length")
    return soundlength.judge_sound_length(
        soundlength.SoundLength("F", length, length, wall), adopted=adopted
    )


def both_ideas(adopted: Adopted, given: Given) -> Any:
    """One void at the mouth: the sum of voids and the depth of sound filler, from its segments."""
    overlap, void = (Quantity.parse(given[k], "length") for k in ("overlap", "void_at_mouth"))
    share = float(void.base / overlap.base)
    segments = (Segment(0, 1 - share, "brazed", 0.0), Segment(1 - share, 1, "unbrazed", 1.0))
    depth = overlap.times(Decimal(sound_from_mouth(segments).from_mouth[0]))
    wall = Quantity.parse(given["wall"], "length")
    deep = soundlength.judge_sound_length(
        soundlength.SoundLength("F", depth, depth, wall), adopted=adopted
    )
    summed = judged_share(adopted, {"overlap": given["overlap"], "voids": [given["void_at_mouth"]]})
    return {
        "share": summed["share"],
        "by_sum": summed["finding"].before_confirmation.value,
        "depth": depth.text,
        "by_depth": deep.before_confirmation.value,
    }


def cut_plane(adopted: Adopted, given: Given) -> Finding:
    return preparation.judge_cut_plane(
        _made(preparation.CutPlane, given, joint="J"), adopted=adopted
    )


def finish(adopted: Adopted, given: Given) -> Finding:
    return preparation.judge_finish(_made(preparation.Finish, given, face="F"), adopted=adopted)


def peel(adopted: Adopted, given: Given) -> Any:
    return mechanical.judge_peel(_made(mechanical.Peel, given, specimen="S"), adopted=adopted)


def tension(adopted: Adopted, given: Given) -> Finding:
    return mechanical.judge_tension(_made(mechanical.Tension, given, specimen="S"), adopted=adopted)


def bend(adopted: Adopted, given: Given) -> Finding:
    return mechanical.judge_bend(_made(mechanical.Bend, given, specimen="S"), adopted=adopted)


def form(adopted: Adopted, given: Given) -> Any:
    return mechanical.judge_test_form(
        _made(mechanical.ChosenTest, given), subject=Subject("coupon", "K"), adopted=adopted
    )


def workmanship(adopted: Adopted, given: Given) -> Any:
    """The shape asked, with the faces where the case gives them."""
    shape = mechanical.judge_workmanship(
        _made(mechanical.Workmanship, given, coupon="K"), adopted=adopted
    )
    faces = judged_faces(adopted, given).findings if "percents" in given else ()
    return combine([shape, *faces])


def immediate(adopted: Adopted, given: Given) -> Any:
    """An immediate retest; pieces by outcome, or by the percents of their faces."""
    pieces = tuple(retest.Piece(row["id"], _piece_outcome(adopted, row)) for row in given["brazed"])
    offered = tuple(given.get("offered", [p.id for p in pieces]))
    one = _made(retest.Immediate, given, brazed=pieces, offered=offered)
    found = retest.judge_immediate(
        one, adopted=adopted, pieces_choice=given.get("pieces_choice", "")
    )
    answer: dict[str, Any] = {"finding": found}
    for letter, first in given.get("first", {}).items():
        own = (found,) if letter == given["position"] else ()
        answer[letter] = retest.stand_after(letter, _first(letter, first), own)
    return answer


def after_training(adopted: Adopted, given: Given) -> Finding:
    outcome = _OUTCOMES[given["outcome"]] if given.get("outcome") else None
    one = _made(retest.AfterTraining, given, outcome=outcome)
    return retest.judge_after_training(one, adopted=adopted)


def pieces(adopted: Adopted, given: Given) -> Any:
    found = retest.pieces_needed(
        int(given["brazers"]),
        int(given["positions"]),
        adopted=adopted,
        tube_od=Quantity.parse(given["tube_od"], "length"),
    )
    return {f.name: getattr(found, f.name) for f in fields(found)}


def _piece_outcome(adopted: Adopted, row: Given) -> Outcome:
    if "outcome" in row:
        return _OUTCOMES[row["outcome"]]
    return judged_faces(adopted, {"percents": [row["percent"]]}).outcome


def _first(letter: str, word: str) -> Finding:
    """The finding of a first test as the case states it."""
    message = (
        Message("retest.trained_met", position=letter)
        if word == "met"
        else Message("retest.trained_not_met", position=letter)
    )
    return settled("retest.immediate_count", Subject("position", letter), _OUTCOMES[word], message)


CHECKS = {
    "positions.of": position,
    "positions.tilt": tilt,
    "positions.planned": planned,
    "positions.covers": covers,
    "positions.special": special,
    "positions.kept_apart": kept_apart,
    "specimens.metal": metal,
    "specimens.taken": taken,
    "specimens.half": half,
    "examination.oxide": oxide,
    "examination.oxide_beside_faces": oxide_beside_faces,
    "examination.bore_order": bore_order,
    "examination.visual": visual,
    "examination.erosion": erosion,
    "examination.walls": walls,
    "examination.corner": corner,
    "examination.excess": excess,
    "preparation.crack": crack,
    "soundlength.judge": sound_length,
    "soundlength.both": both_ideas,
    "preparation.cut_plane": cut_plane,
    "preparation.finish": finish,
    "mechanical.peel": peel,
    "mechanical.tension": tension,
    "mechanical.bend": bend,
    "mechanical.form": form,
    "mechanical.workmanship": workmanship,
    "retest.immediate": immediate,
    "retest.after_training": after_training,
    "retest.pieces": pieces,
}
