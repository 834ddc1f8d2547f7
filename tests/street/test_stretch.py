"""A reading counts when its stretch is the joint's overlap, and reads as fine as its instrument."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import cv2
import pytest
from uncertainties import ufloat

from lapwright.core.evidence import Reading
from lapwright.core.outcomes import Outcome, Why
from lapwright.core.quantities import length
from lapwright.rules.decision import Judgement, adopt
from lapwright.rules.stretch import judge_stretches
from lapwright.services.judging import judge_case

from .building import case_folder, edit

Doc = dict[str, Any]
LATE_VOID = {0: ((0.20, 0.24, "open"), (0.80, 0.97, "open"))}  # 21 %, most of it by the cup face


def _judge(folder: Path) -> Judgement:
    return judge_case(folder, as_of=date(2026, 3, 20)).judged.judgement


def _reading(document: Doc) -> Doc:
    reading: Doc = document["coupons"][0]["joints"][0]["faces"][0]["readings"][0]
    return reading


def _outcome(judgement: Judgement) -> tuple[Outcome, Why | None, str]:
    finding = judgement.joints[0].faces[0].finding
    return finding.outcome, finding.why, finding.message.id


def _trim(share: float, **more: str | None) -> Callable[[Doc], None]:
    """Move the cup face to this share of the way from the tube end."""

    def change(document: Doc) -> None:
        reading = _reading(document)
        ends = zip(reading["tube_end"], reading["cup_face"], strict=True)
        reading["cup_face"] = [f"{float(a) + share * (float(b) - float(a)):.0f}" for a, b in ends]
        for key, value in more.items():
            reading.pop(key, None) if value is None else reading.update({key: value})

    return change


def _loupe(**more: str | list[str]) -> Callable[[Doc], None]:
    return lambda d: _reading(d)["loupe"].update(more)


@pytest.fixture(scope="module")
def drawn(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return case_folder(tmp_path_factory.mktemp("drawn"), photos=(0,), voids=LATE_VOID)


@pytest.fixture
def photographed(drawn: Path, tmp_path: Path) -> Path:
    import shutil

    return Path(shutil.copytree(drawn, tmp_path / "case"))


def test_ends_inside_the_joint_without_a_scale_ask_for_the_scale(photographed: Path) -> None:
    edit(photographed, _trim(0.75, px_per_mm=None))
    judgement = _judge(photographed)
    assert _outcome(judgement) == (Outcome.UNDETERMINED, Why.NEEDS_DATA, "stretch.no_scale")
    assert "D" not in judgement.qualified


def _covered(folder: Path, side: str) -> None:
    """Cover the picture beyond one end of the joint, as a strip of tape would."""
    path = folder / "photos" / "h1-1.jpg"
    picture = cv2.imread(str(path))
    assert picture is not None
    if side == "tube":
        picture[:, :321] = picture[300, 900]
    else:
        picture[:, 1678:] = picture[300, 900]
    cv2.imwrite(str(path), picture)


@pytest.mark.parametrize("side", ["tube", "cup"])
def test_a_whole_overlap_without_a_scale_asks_for_it_too(photographed: Path, side: str) -> None:
    """One end that the program could not find for itself is enough to ask for the scale."""
    _covered(photographed, side)
    edit(photographed, _trim(1.0, px_per_mm=None))
    assert _outcome(_judge(photographed))[1:] == (Why.NEEDS_DATA, "stretch.no_scale")


@pytest.mark.parametrize("share", [0.7, 0.9, 0.97])
def test_ends_are_called_found_on_the_whole_overlap_only(photographed: Path, share: float) -> None:
    """Without a scale a face stays open, however its ends were found."""
    edit(photographed, _trim(share, px_per_mm=None))
    judgement = _judge(photographed)
    reading = judgement.evidence.joints[0].faces[0].readings[0]
    xy = [float(v) for v in reading.ends]
    whole = math.dist((320.9, 703.7), (1678.1, 615.3))  # as drawn, px
    apart = abs(math.dist(xy[:2], xy[2:]) / whole - 1)
    assert (reading.ends_by, apart < 0.01) in (("found", True), ("given", False))
    assert _outcome(judgement)[2] == "stretch.no_scale"
    assert "D" not in judgement.qualified


@pytest.mark.parametrize("spread", [None, "0.5", "60"])
def test_ends_inside_the_joint_are_held_by_the_scale(
    photographed: Path, spread: str | None
) -> None:
    """However uncertain the scale is said to be, a tenth of the overlap is never passed over."""
    edit(photographed, _trim(0.9, px_per_mm_u=spread))
    assert _outcome(_judge(photographed)) == (Outcome.UNDETERMINED, Why.HOLD, "stretch.apart")


def test_a_failing_loupe_reading_stands_beside_an_unknown_photograph(photographed: Path) -> None:
    edit(photographed, _trim(0.75, px_per_mm=None))
    failing = {
        "by": "teal",
        "on": "2026-03-12",
        "blind": "yes",
        "loupe": {
            "overlap": "9.1 mm",
            "unbrazed": ["3.0 mm"],
            "resolution": "0.1 mm",
            "instrument": "LOU-3",
        },
    }
    edit(
        photographed, lambda d: d["coupons"][0]["joints"][0]["faces"][0]["readings"].append(failing)
    )
    assert _outcome(_judge(photographed))[0] is Outcome.NOT_MET


def test_a_scale_that_gives_the_joints_overlap_is_enough(passed: Path) -> None:
    judgement = _judge(passed)
    assert _outcome(judgement) == (Outcome.MET, None, "face.met")
    shown = [dict(f.message.params) for f in judgement.findings if f.message.id == "stretch.whole"]
    assert len(shown) == 8
    # k = 2; loupe and calliper are read at two edges each, the tube end is off square by 0.1 mm
    edges = [ufloat(0, step / 2 / 3**0.5) for step in (0.1, 0.1, 0.0127, 0.0127)]
    expected = 2 * (sum(edges) + ufloat(0, 0.1)).s
    assert shown[-1]["allowed"] == f"{expected:.2f}"


def test_ends_that_the_program_found_need_a_scale_too(passed: Path) -> None:
    reading = _judge(passed).evidence.joints[0].faces[0].readings[0]
    assert reading.ends_by == "found"  # both ends of the demo's picture are plainly marked
    found = _changed(passed, overlap=None)
    assert (found.known, found.findings[0].message.id) == ((), "stretch.no_scale")
    given = _changed(passed, overlap=None, ends_by="given")
    assert (given.known, given.findings[0].message.id) == ((), "stretch.no_scale")


def test_ends_that_the_program_found_are_still_compared_where_a_scale_is_given(
    passed: Path,
) -> None:
    found = _changed(passed, overlap=length("8.2 mm"), ends_by="found")
    assert (found.known, found.findings[0].message.id) == ((), "stretch.apart")


def _changed(folder: Path, **change: Any) -> Any:
    evidence = _judge(folder).evidence
    joint = evidence.joints[0]
    reading: Reading = replace(joint.faces[0].readings[0], **change)
    face = replace(joint.faces[0], readings=(reading,))
    return judge_stretches(evidence, joint, face, adopted=adopt(evidence))


def _photo(folder: Path, overlap: str, u: str, scale_u: str | None, **more: Any) -> Any:
    """One photograph's reading of a joint of 20 mm with a calliper as in the demo."""
    evidence = _judge(folder).evidence
    joint = replace(evidence.joints[0], overlap=length("20.00 mm"))
    part = None if scale_u is None else Decimal(scale_u)
    reading = replace(
        joint.faces[0].readings[0],
        **{"overlap": length(overlap), "overlap_u": length(u), "scale_u": part, **more},
    )
    face = replace(joint.faces[0], readings=(reading,))
    return reading, judge_stretches(evidence, joint, face, adopted=adopt(evidence))


@pytest.mark.parametrize("scale_u", ["0.01000", "0.02600"])
@pytest.mark.parametrize(
    ("overlap", "told"), [("19.04 mm", "stretch.apart"), ("19.60 mm", "stretch.short")]
)
def test_a_loose_scale_opens_the_stretch_no_farther_than_one_percent(
    passed: Path, scale_u: str, overlap: str, told: str
) -> None:
    """An end moved in by 4.8 % of 20 mm is held, however uncertain the scale is said to be."""
    length_mm = float(overlap.split()[0])
    u = math.hypot(float(scale_u) * length_mm, 0.06)
    found = _photo(passed, overlap, f"{u:.4f} mm", scale_u)[1]
    assert [f.message.id for f in found.findings] == [told]
    allowed = float(dict(found.findings[0].message.params)["allowed"])
    edges = [ufloat(0, 0.0127 / 2 / 3**0.5) for _ in range(2)]
    parts = sum(edges) + ufloat(0, 0.1) + ufloat(0, 0.06) + ufloat(0, 0.01 * length_mm)
    assert allowed == pytest.approx(2 * parts.s, abs=0.006)


def test_a_filed_spread_without_its_parts_counts_to_one_percent(passed: Path) -> None:
    found = _photo(passed, "19.04 mm", "0.5011 mm", None)[1]
    assert (found.known, found.findings[0].message.id) == ((), "stretch.apart")


@pytest.mark.parametrize(
    ("overlap", "missing"), [("19.60 mm", "0.02"), ("19.80 mm", "0"), ("20.40 mm", "0")]
)
def test_what_a_reading_is_missing_may_be_unbrazed(
    passed: Path, overlap: str, missing: str
) -> None:
    """Over 1 % of the overlap, all of it goes on the upper end; a longer reading hides nothing."""
    reading, found = _photo(passed, overlap, "0.2082 mm", "0.01000")
    (known,) = found.known
    assert known.high == reading.high + Decimal(missing)
    assert (known.share, known.low, known.u) == (reading.share, reading.low, reading.u)


def test_a_missing_stretch_near_the_limit_asks_for_a_second_reading(tmp_path: Path) -> None:
    """1.62 of 9.0 mm are 19.1 % at most; with the joint's other 0.14 mm unbrazed, 20.7 %."""
    folder = case_folder(tmp_path)
    step = {"unbrazed": ["1.62 mm"], "resolution": "0.1 mm"}
    edit(folder, _loupe(overlap="9.0 mm", **step))
    edit(folder, lambda d: d["basis"]["options"].update(s_reproducibility="0.1 %"))
    short = _judge(folder).joints[0].faces[0]
    edit(folder, _loupe(overlap="9.1 mm", **step))
    whole = _judge(folder).joints[0].faces[0]
    assert (short.due, whole.due) == ("second", "")
    assert short.conformance < whole.conformance


@pytest.mark.parametrize(
    ("overlap", "met"), [("9.3 mm", True), ("9.4 mm", False), ("8.9 mm", False), ("10.5 mm", False)]
)
def test_a_loupe_overlap_is_that_of_the_joint(tmp_path: Path, overlap: str, met: bool) -> None:
    """2.0 mm in 9.144 mm are 21.9 %; typed as in 10.5 mm they would be 19.0 %."""
    folder = case_folder(tmp_path)
    edit(folder, _loupe(overlap=overlap))
    judgement = _judge(folder)
    expected = "face.met" if met else "stretch.apart"
    assert _outcome(judgement)[2] == expected
    assert ("D" in judgement.qualified) is met


def test_a_typed_resolution_is_never_finer_than_the_instruments(tmp_path: Path) -> None:
    results = []
    for number, step in enumerate(("0.1 mm", "0.001 mm")):
        folder = case_folder(tmp_path / str(number))
        edit(folder, _loupe(unbrazed=["1.8 mm"], resolution=step))
        judgement = _judge(folder)
        results.append(judgement.joints[0].faces[0])
        said = [f for f in judgement.findings if f.message.id == "stretch.coarser"]
        assert len(said) == number
    assert results[0] == results[1]
    assert results[1].due == "second"


def test_a_coarser_typed_resolution_counts(tmp_path: Path) -> None:
    folder = case_folder(tmp_path)
    edit(folder, _loupe(resolution="0.2 mm"))
    wide, plain = (
        j.joints[0].faces[0].u for j in (_judge(folder), _judge(case_folder(tmp_path / "x")))
    )
    assert wide is not None
    assert plain is not None
    assert wide > plain


@pytest.mark.parametrize("filed", [None, "fine"])
def test_a_loupe_filed_without_a_resolution_is_asked_for_it(
    tmp_path: Path, filed: str | None
) -> None:
    folder = case_folder(tmp_path)

    def change(document: Doc) -> None:
        loupe = document["instruments"]["LOU-3"]
        loupe.pop("resolution") if filed is None else loupe.update(resolution=filed)

    edit(folder, change)
    assert _outcome(_judge(folder))[:2] == (Outcome.UNDETERMINED, Why.NEEDS_DATA)


def test_a_filed_reading_finer_than_its_instrument_is_held(tmp_path: Path) -> None:
    """An act from elsewhere than a case folder, whose figures nobody widened."""
    found = _changed(case_folder(tmp_path), resolution=length("0.01 mm"))
    assert (found.known, found.findings[0].message.id) == ((), "stretch.too_fine")
