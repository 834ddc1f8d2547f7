"""Every part of a case folder reaches the rule that asks for it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from lapwright.core.outcomes import Finding, Outcome, Why
from lapwright.services.judging import judge_case

from .building import case_folder, confirm_all, edit

Doc = dict[str, Any]
AS_OF = date(2026, 3, 20)


def _find(folder: Path, rule: str) -> list[Finding]:
    judgement = judge_case(folder, as_of=AS_OF).judged.judgement
    return [f for f in judgement.findings if f.rule == rule]


def _coupon(document: Doc) -> Doc:
    coupon: Doc = document["coupons"][0]
    return coupon


def _joint(document: Doc) -> Doc:
    joint: Doc = _coupon(document)["joints"][0]
    return joint


def _items(document: Doc) -> Doc:
    items: Doc = _joint(document)["visual"]["items"]
    return items


def _tests(*tests: Doc) -> Callable[[Doc], None]:
    return lambda d: _joint(d).update(tests=list(tests))


PEEL = {
    "id": "P1",
    "kind": "peel",
    "on": "2026-03-11",
    "figures": {
        "parted": "yes",
        "area": "20 %",
        "line": "10 %",
        "through_path": "no",
        "filler_at_edges": "yes",
    },
}
TENSION = {
    "id": "T1",
    "kind": "tension",
    "on": "2026-03-11",
    "figures": {
        "strength": "29.5 ksi",
        "minimum": "30.0 ksi",
        "temper": "annealed",
        "broke_in": "braze",
        "form": "full-section",
        "tube_od": "1.625 in",
    },
}
BEND = {
    "id": "B1",
    "kind": "bend",
    "on": "2026-03-11",
    "figures": {"joint_type": "socket", "joint_within_bend": "yes", "longest_opening": "3.0 mm"},
}

PARTS: dict[str, tuple[Callable[[Doc], Any], str, Outcome]] = {
    "a supervisor who is the brazer": (
        lambda d: _coupon(d)["brazed"].update(supervisor="ines"),
        "responsibility.supervision",
        Outcome.NOT_MET,
    ),
    "a supervisor of another firm": (
        lambda d: _coupon(d)["brazed"].update(supervisor="teal"),
        "responsibility.supervision",
        Outcome.NOT_MET,
    ),
    "a coupon brazed by another person": (
        lambda d: _coupon(d)["brazed"].update(by="osgood"),
        "proof.of_skill",
        Outcome.NOT_MET,
    ),
    "flux on copper to copper": (
        lambda d: _coupon(d)["brazed"].update(flux="yes"),
        "filler.family_copper",
        Outcome.NOT_MET,
    ),
    "steel wool": (
        lambda d: _coupon(d)["cleaning"].update({"with": ["steel-wool"]}),
        "cleaning.abrasives",
        Outcome.NOT_MET,
    ),
    "nine hours after cleaning": (
        lambda d: _coupon(d)["cleaning"].update(at="2026-03-03T23:00-06:00"),
        "cleaning.max_hours",
        Outcome.NOT_MET,
    ),
    "marked after the braze": (
        lambda d: _coupon(d)["marking"].update(at="2026-03-04T09:00-06:00"),
        "marking.before_brazing",
        Outcome.UNDETERMINED,
    ),
    "marking seen by the brazer alone": (
        lambda d: _coupon(d)["marking"].update(seen_by="ines"),
        "marking.before_brazing",
        Outcome.UNDETERMINED,
    ),
    "no word on the marking": (
        lambda d: _coupon(d).pop("marking"),
        "marking.before_brazing",
        Outcome.UNDETERMINED,
    ),
    "an instrument out of date": (
        lambda d: d["instruments"]["CAL-2"].update(calibrated_until="2026-03-01"),
        "instrument.in_date",
        Outcome.UNDETERMINED,
    ),
    "an instrument without a date": (
        lambda d: d["instruments"]["CAL-2"].pop("calibrated_until"),
        "instrument.in_date",
        Outcome.UNDETERMINED,
    ),
    "an analyser out of date": (
        lambda d: d["instruments"]["OXA-1"].update(calibrated_until="2026-03-01"),
        "purge.max_oxygen",
        Outcome.UNDETERMINED,
    ),
    "a dimple inside a cut face": (
        lambda d: _coupon(d)["fitting"].update(modified="dimpled", dimple_clear="no"),
        "cups.modified",
        Outcome.UNDETERMINED,
    ),
    "a shortened cup": (
        lambda d: _coupon(d)["fitting"].update(modified="shortened"),
        "cups.modified",
        Outcome.MET,
    ),
    "erosion": (lambda d: _items(d).update(erosion="yes"), "erosion.any", Outcome.NOT_MET),
    "a measured depth of erosion": (
        lambda d: _items(d).update({"erosion-depth": "0.1 mm"}),
        "erosion.any",
        Outcome.NOT_MET,
    ),
    "a gap in the ring": (
        lambda d: _items(d).update({"filler-continuity": "not-acceptable"}),
        "visual.items",
        Outcome.NOT_MET,
    ),
    "a run of filler nobody decided on": (
        lambda d: _items(d).update({"excess-outside": "yes"}),
        "excess.filler",
        Outcome.UNDETERMINED,
    ),
    "a crack": (
        lambda d: _joint(d)["faces"][0].update(crack="yes"),
        "section.crack",
        Outcome.UNDETERMINED,
    ),
    "a plane chosen by looks": (
        lambda d: _joint(d)["cut"].update(fixed_before_looking="no"),
        "cut.plane_fixed_first",
        Outcome.UNDETERMINED,
    ),
    "one face of a half only": (
        lambda d: _joint(d)["faces"].pop(),
        "specimens.half_section_faces",
        Outcome.NOT_MET,
    ),
    "a loupe too weak": (
        lambda d: _joint(d)["faces"][0].update(magnification="3"),
        "section.min_magnification",
        Outcome.NOT_MET,
    ),
    "an axis at fifty degrees": (
        lambda d: _joint(d).update(axis_angle="50 deg"),
        "position.letters",
        Outcome.UNDETERMINED,
    ),
    "a sheet that says another position": (
        lambda d: _joint(d).update(position="C"),
        "position.letters",
        Outcome.NOT_MET,
    ),
    "no axis angle at all": (
        lambda d: _joint(d).pop("axis_angle"),
        "position.letters",
        Outcome.UNDETERMINED,
    ),
    "an overlap under the procedure's": (
        lambda d: _joint(d).update(overlap="0.20 in"),
        "overlap.procedure_floor",
        Outcome.NOT_MET,
    ),
    "no clearance on the record": (
        lambda d: _joint(d).pop("clearance"),
        "record.topics",
        Outcome.UNDETERMINED,
    ),
    "a procedure without records": (
        lambda d: d["procedure"].update(pqr=[]),
        "procedure.qualified_first",
        Outcome.UNDETERMINED,
    ),
    "a procedure silent on the purge": (
        lambda d: d["procedure"]["topics"].pop("purge-gas"),
        "bps.topics",
        Outcome.NOT_MET,
    ),
    "an overlap typed a hundred times too long": (
        lambda d: _joint(d).update(overlap="36 in"),
        "measured.plausible",
        Outcome.UNDETERMINED,
    ),
    "an overlap longer than the measured cup": (
        lambda d: _coupon(d)["fitting"].update(cup_depth="0.34 in"),
        "measured.plausible",
        Outcome.UNDETERMINED,
    ),
    "a cup typed half as deep again as its standard": (
        lambda d: _coupon(d)["fitting"].update(cup_depth="0.51 in"),
        "measured.plausible",
        Outcome.UNDETERMINED,
    ),
    "a cup typed shallower than its standard": (
        lambda d: _coupon(d)["fitting"].update(cup_depth="0.27 in"),
        "measured.plausible",
        Outcome.UNDETERMINED,
    ),
    "a cup depth without its instrument": (
        lambda d: (
            _coupon(d)["fitting"].update(cup_depth="0.37 in"),
            _coupon(d)["fitting"].pop("instrument", None),
            _coupon(d)["fitting"].pop("wall", None),
        ),
        "instrument.in_date",
        Outcome.UNDETERMINED,
    ),
    "a wall typed a hundred times too thick": (
        lambda d: _coupon(d)["tube"].update(wall="6.0 in"),
        "measured.plausible",
        Outcome.UNDETERMINED,
    ),
    "a fitting wall of another part": (
        lambda d: _coupon(d)["fitting"].update(wall="0.2 in"),
        "measured.plausible",
        Outcome.UNDETERMINED,
    ),
    "a face that is longer than its joint": (
        lambda d: _joint(d)["faces"][0]["readings"][0]["loupe"].update(overlap="19.1 mm"),
        "measured.plausible",
        Outcome.UNDETERMINED,
    ),
    "measured values as they should be": (
        lambda d: _coupon(d)["fitting"].update(cup_depth="0.37 in"),
        "measured.plausible",
        Outcome.MET,
    ),
    "a peel within its limits": (_tests(PEEL), "peel.max_area_share", Outcome.MET),
    "a tension break in the braze": (_tests(TENSION), "tension.min_strength", Outcome.NOT_MET),
    "a bend asked of a socket": (_tests(BEND), "bend.joint_types", Outcome.NOT_MET),
}


@pytest.mark.parametrize("what", sorted(PARTS))
def test_a_part_reaches_its_rule(tmp_path: Path, what: str) -> None:
    change, rule, outcome = PARTS[what]
    folder = case_folder(tmp_path)
    edit(folder, change)
    confirm_all(folder)
    outcomes = {f.outcome for f in _find(folder, rule)}
    assert outcome in outcomes, [f.message for f in _find(folder, rule)]


def test_an_oxygen_reading_after_the_start_is_held(tmp_path: Path) -> None:
    folder = case_folder(tmp_path)
    edit(folder, lambda d: _coupon(d)["purge"].update(oxygen_at="2026-03-04T08:31-06:00"))
    assert any(f.why is Why.HOLD for f in _find(folder, "purge.max_oxygen"))


def test_awsb22_beside_section_ix_shows_both_answers_on_a_crack(tmp_path: Path) -> None:
    folder = case_folder(tmp_path)
    edit(
        folder,
        lambda d: d["basis"].update(
            editions=["asme-bpvc-ix 2023", "aws-b2.2 2016", "nfpa-99 2018"]
        ),
    )
    edit(folder, lambda d: _joint(d)["faces"][0].update(crack="yes"))
    conflicts = [f for f in _find(folder, "section.crack") if f.why is Why.CONFLICT]
    assert conflicts
    assert conflicts[0].act_on is Outcome.NOT_MET


def test_a_base_standard_the_code_does_not_know_is_not_adopted_silently(tmp_path: Path) -> None:
    folder = case_folder(tmp_path)
    edit(folder, lambda d: d["basis"].update(editions=["nfpa-99 2018"]))
    judgement = judge_case(folder, as_of=AS_OF).judged.judgement
    assert judgement.verdict.outcome is Outcome.UNDETERMINED
