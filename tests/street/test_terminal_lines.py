"""What the terminal says: one outcome a line, people by their names, no false sentence."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

from lapwright.core.outcomes import Outcome
from lapwright.services.casereport import case_lines
from lapwright.services.judging import judge_case
from lapwright.services.text import say

from .building import case_folder, confirm_all, edit

Doc = dict[str, Any]
AS_OF = date(2026, 3, 20)


def test_opposite_answers_never_share_a_line_while_unconfirmed(tmp_path: Path) -> None:
    folder = case_folder(tmp_path)

    def closed(document: Doc) -> None:
        document["basis"].pop("booklet")
        document["coupons"][1]["purge"]["flowmeter"] = "no"

    edit(folder, closed)
    lines = list(case_lines(judge_case(folder, as_of=AS_OF)))
    good = lines.index("  △ Coupon H: Regulator and flowmeter set the flow. (and 1 more alike)")
    bad = lines.index("  △ Coupon VA: No flowmeter set the flow; a regulator alone is not enough.")
    assert "(once confirmed: Met)" in lines[good + 1]
    assert "(once confirmed: Not met)" in lines[bad + 1]


def test_people_are_told_by_name(tmp_path: Path) -> None:
    folder = case_folder(tmp_path)
    edit(folder, lambda d: d["coupons"][1]["brazed"].update(supervisor="teal"))
    confirm_all(folder)
    text = "\n".join(case_lines(judge_case(folder, as_of=AS_OF)))
    assert "Teal Farrow" in text
    assert " teal" not in text


def test_guarded_acceptance_never_calls_a_share_under_the_limit_over_it(tmp_path: Path) -> None:
    folder = case_folder(tmp_path)

    def near(document: Doc) -> None:
        document["basis"]["decision_rule"] = "guarded"
        face = document["coupons"][0]["joints"][0]["faces"][0]
        first = face["readings"][0]
        first["loupe"]["unbrazed"] = ["1.78 mm"]
        second = first | {"by": "brindle", "loupe": dict(first["loupe"])}
        second["loupe"]["unbrazed"] = ["1.76 mm"]
        face["readings"] = [first, second]

    edit(folder, near)
    confirm_all(folder)
    face = judge_case(folder, as_of=AS_OF).judged.judgement.joints[0].faces[0]
    assert face.finding.outcome is Outcome.NOT_MET
    assert face.share is not None
    assert face.share < Decimal("0.2")
    assert "upper end of its 95 % interval" in say(face.finding.message)
    assert "%), over the limit" not in say(face.finding.message)
