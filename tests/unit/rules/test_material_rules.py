"""Materials, finished joints, procedure and the other base standard, each demand alone."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from lapwright.core.outcomes import Subject
from lapwright.core.quantities import Quantity, length
from lapwright.rules import (
    awsb22,
    materials,
    procedure,
    production,
)
from lapwright.rules.errors import RuleUnknown
from published.adopting import adopted
from unit.rules.examining import short

IX = adopted(["asme-bpvc-ix 2015", "programme 1"])
NFPA = adopted(["nfpa-99 2012", "programme 1"])
AWS = adopted(["aws-b2.2 2016"])
ONE = Subject("joint", "J1")

TUBE = materials.TubeUse(
    "L1",
    "ASTM B819",
    "L",
    "1",
    temper="hard-drawn",
    delivered=("cleaned", "capped", "marked"),
    pressure=Quantity.parse("55 psi", "pressure"),
)


@pytest.mark.parametrize(
    ("changed", "answer"),
    [
        ({"type": "M"}, ("not-met", "", "tube.type")),
        ({"temper": "annealed"}, ("not-met", "", "tube.temper")),
        ({"type": ""}, ("undetermined", "needs-data", "tube.blank")),
        ({"delivered": ()}, ("undetermined", "needs-data", "tube.blank")),
        ({"service": "vacuum"}, ("undetermined", "unread", "rules.no_text")),
        ({"service": "water"}, ("undetermined", "needs-data", "rules.word")),
    ],
)
def test_tube(changed: dict[str, Any], answer: tuple[str, str, str]) -> None:
    assert short(materials.judge_tube(replace(TUBE, **changed), adopted=NFPA)) == answer


def test_type_k_serves_any_pressure_and_a_missing_pressure_is_asked_for() -> None:
    high = Quantity.parse("300 psi", "pressure")
    judge = materials.judge_tube_type
    assert short(judge(replace(TUBE, type="K", size="4", pressure=high), adopted=NFPA))[0] == "met"
    assert short(judge(replace(TUBE, pressure=None), adopted=NFPA))[1] == "needs-data"
    exact = replace(TUBE, size="4", pressure=Quantity.parse("185 psi", "pressure"))
    assert short(judge(exact, adopted=NFPA))[0] == "met"


@pytest.mark.parametrize(
    ("use", "answer"),
    [
        (materials.FittingUse("F", standard="ASME B16.22"), ("met", "", "fitting.listed")),
        (materials.FittingUse("F", standard="EN 1254-1"), ("not-met", "", "fitting.unlisted")),
        (materials.FittingUse("F"), ("undetermined", "needs-data", "rules.missing")),
    ],
)
def test_fittings(use: materials.FittingUse, answer: tuple[str, str, str]) -> None:
    assert short(materials.judge_fitting(use, adopted=NFPA)) == answer


@pytest.mark.parametrize(
    ("made", "joined", "answer"),
    [
        ("no", "brazed", ("not-met", "", "tee.made")),
        ("yes", "soldered", ("not-met", "", "tee.made")),
        ("yes", "", ("undetermined", "needs-data", "rules.missing")),
        ("", "brazed", ("undetermined", "needs-data", "rules.missing")),
    ],
)
def test_a_drilled_tee_for_vacuum(made: str, joined: str, answer: tuple[str, str, str]) -> None:
    assert (
        short(materials.judge_tee("J", service="vacuum", made=made, joined=joined, adopted=NFPA))
        == answer
    )


@pytest.mark.parametrize(
    ("metals", "filler", "flux", "answer"),
    [
        (("copper", "copper"), "BAg-7", "none", ("not-met", "", "filler.family")),
        (("copper", "bronze"), "BAg-7", "none", ("met", "", "filler.dissimilar")),
        (("copper", "bronze"), "RBCuZn-A", "white", ("not-met", "", "filler.family")),
        (("copper", "steel"), "BAg-7", "white", ("undetermined", "needs-data", "rules.word")),
        (("copper", "copper"), "", "none", ("undetermined", "needs-data", "rules.missing")),
        (("copper", "copper"), "BCuP-5", "", ("undetermined", "needs-data", "rules.missing")),
    ],
)
def test_filler_and_flux(
    metals: tuple[str, str], filler: str, flux: str, answer: tuple[str, str, str]
) -> None:
    use = materials.FillerUse("J", metals, filler, flux)
    assert short(materials.judge_filler(use, adopted=NFPA)) == answer


def test_penetration_and_melting() -> None:
    walls = [length("0.9 mm")]
    judge = materials.judge_penetration
    assert short(judge(ONE, length("2.7 mm"), walls, adopted=NFPA))[0] == "met"
    assert short(judge(ONE, None, walls, adopted=NFPA))[1] == "needs-data"
    assert short(materials.judge_melting("X", None, adopted=NFPA))[1] == "needs-data"
    with pytest.raises(RuleUnknown):
        materials.least_sound_overlap(walls, adopted=AWS)


@pytest.mark.parametrize(
    ("condition", "repairs", "action", "why"),
    [
        ("", 0, "", "needs-data"),
        ("1", None, "", "needs-data"),
        ("8", 0, "", "hold"),
        ("1", 0, "repair", ""),
        ("5", 0, "cut-out", ""),
        ("6", 1, "cut-out", ""),
    ],
)
def test_repair_or_cut_out(condition: str, repairs: int | None, action: str, why: str) -> None:
    found = production.may_repair(production.RefusedJoint("J", condition, repairs), adopted=NFPA)
    assert (found.action, short(found.finding)[1]) == (action, why)


def test_nobody_says_whether_to_repair_without_a_rule() -> None:
    found = production.may_repair(production.RefusedJoint("J", "1", 0), adopted=IX)
    assert (found.action, short(found.finding)[1]) == ("", "unread")


@pytest.mark.parametrize(
    ("operating", "test"), [("55 psi", "150 psi"), ("180 psi", "270 psi"), ("100 psi", "150 psi")]
)
def test_the_test_pressure_is_the_greater_of_two(operating: str, test: str) -> None:
    pressure = Quantity.parse(operating, "pressure")
    assert production.pressure_of_test(pressure, adopted=NFPA) == Quantity.parse(test, "pressure")


def test_the_overlap_window_needs_a_known_increase() -> None:
    with pytest.raises(RuleUnknown, match=r"aws-b2\.2 2016"):
        procedure.overlap_window([length("10 mm")], length("10 mm"), adopted=AWS)


def test_walls_under_a_standard_whose_ranges_were_not_read() -> None:
    wall = length("1 mm")
    found = procedure.judge_unequal_walls(ONE, (wall, wall), (wall, wall), adopted=AWS)
    assert short(found)[1] == "unread"


def test_flux_and_topics() -> None:
    same = procedure.judge_flux("P", qualified="none", used="none", adopted=IX)
    assert short(same) == ("met", "", "flux.same")
    full = dict.fromkeys(NFPA.first("record.topics").value, "stated")
    record = Subject("record", "R")
    paper = procedure.judge_topics("record.topics", record, full, adopted=NFPA)
    assert short(paper) == ("met", "", "topics.complete")
    stands = procedure.stands_for_medical_work
    assert short(stands("R", same, paper, adopted=NFPA)) == ("met", "", "medical.serves")
    failed = procedure.judge_flux("P", qualified="none", used="white", adopted=IX)
    assert stands("R", failed, paper, adopted=NFPA) is failed


@pytest.mark.parametrize(
    ("route", "medical", "allows", "answer"),
    [
        ("specimens", "yes", "", ("met", "", "route.specimens")),
        ("visual", "no", "no", ("not-met", "", "route.visual_refused")),
        ("visual", "no", "", ("undetermined", "needs-data", "rules.missing")),
        ("", "no", "", ("undetermined", "needs-data", "rules.missing")),
    ],
)
def test_aws_routes(route: str, medical: str, allows: str, answer: tuple[str, str, str]) -> None:
    assert (
        short(awsb22.judge_route("R", route, medical=medical, contract_allows=allows, adopted=AWS))
        == answer
    )


@pytest.mark.parametrize(
    ("present", "in_use", "answer"),
    [
        ("yes", "no", ("not-met", "", "retention.in_use")),
        ("no", "no", ("met", "", "retention.over")),
        ("", "no", ("undetermined", "needs-data", "rules.missing")),
    ],
)
def test_aws_records_are_kept_while_in_use(
    present: str, in_use: str, answer: tuple[str, str, str]
) -> None:
    assert (
        short(awsb22.judge_disposal("R", brazer_present=present, joints_in_use=in_use, adopted=AWS))
        == answer
    )


def test_aws_fields_and_undercut() -> None:
    assert short(awsb22.judge_metal_field("R", "107", adopted=AWS))[0] == "met"
    assert short(awsb22.judge_metal_field("R", "", adopted=AWS))[1] == "needs-data"
    assert short(awsb22.judge_undercut("J", None, adopted=AWS))[1] == "needs-data"
    assert short(awsb22.judge_undercut("J", length("0 mm"), adopted=AWS))[0] == "met"
    found = awsb22.judge_range("position.covers", ONE, "C", adopted=IX)
    assert short(found) == ("undetermined", "needs-data", "range.elsewhere")


def test_without_a_second_wording_the_code_answers_alone() -> None:
    edition = NFPA.editions[0]
    kept = {i: dated for i, dated in edition.rules.items() if not i.endswith("_variant")}
    alone = replace(NFPA, editions=(replace(edition, rules=kept),))
    large = replace(TUBE, size="3", pressure=Quantity.parse("200 psi", "pressure"))
    brass = materials.FillerUse("J", ("copper", "brass"), "BCuP-5", "white flux")
    assert short(materials.judge_tube_type(large, adopted=alone))[0] == "met"
    assert short(materials.judge_filler(brass, adopted=alone))[0] == "not-met"


def test_a_tee_needs_the_service_of_its_line() -> None:
    found = materials.judge_tee("J", service="", made="yes", joined="brazed", adopted=NFPA)
    assert short(found) == ("undetermined", "needs-data", "rules.missing")
