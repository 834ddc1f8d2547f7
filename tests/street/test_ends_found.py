"""A photograph without typed ends: found by the program, told so, and a proposal until accepted."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from lapwright.core.acts import Act
from lapwright.core.errors import LapwrightError
from lapwright.core.outcomes import Outcome, Why
from lapwright.rules.faces import FaceResult
from lapwright.services.issuing import issue_case
from lapwright.services.judging import judge_case
from lapwright.services.verifying import verify_file

from .building import case_folder, confirm_all, edit, programme_in
from .conftest import AT

Doc = dict[str, Any]
AS_OF = date(2026, 3, 20)


@pytest.fixture(scope="module")
def drawn(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Draw the one photograph once."""
    folder = case_folder(tmp_path_factory.mktemp("drawn"), photos=(0,))
    confirm_all(folder)
    return folder


@pytest.fixture
def folder(drawn: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(drawn, tmp_path / "case"))


def _reading(document: Doc) -> Doc:
    reading: Doc = document["coupons"][0]["joints"][0]["faces"][0]["readings"][0]
    return reading


def _without_ends(folder: Path, **more: str) -> None:
    """Take the typed ends away; acceptance stays as the template has it, ``more`` is added."""

    def change(document: Doc) -> None:
        reading = _reading(document)
        del reading["tube_end"], reading["cup_face"]
        reading.update(more)

    edit(folder, change)


def _judged(folder: Path) -> tuple[FaceResult, Act]:
    result = judge_case(folder, as_of=AS_OF)
    acts = [a for a in result.loaded.acts if a.type == "FaceRead"]
    return result.judged.judgement.joints[0].faces[0], acts[0]


def test_the_ends_are_found_and_told_and_the_reading_is_a_proposal(folder: Path) -> None:
    typed = _reading_of(folder)
    _without_ends(folder)
    face, act = _judged(folder)
    assert (face.finding.why, face.finding.message.id) == (Why.HOLD, "face.ends_alone")
    assert (act.body["ends"], act.body["ends_accepted_by"]) == ("found-alone", "")
    for key in ("tube_end", "cup_face"):
        assert [float(v) for v in act.body[key]] == pytest.approx(
            [float(v) for v in typed[key]], abs=8
        )
    assert float(act.body["share"]) == pytest.approx(0.04, abs=0.015)  # as the face was drawn


def _reading_of(folder: Path) -> Doc:
    import yaml

    document = yaml.load((folder / "case.yaml").read_text("utf-8"), Loader=yaml.BaseLoader)
    return _reading(document)


def test_the_brazer_accepts_no_ends_of_an_own_face(folder: Path) -> None:
    _without_ends(folder, ends_accepted_by="ines")
    judgement = judge_case(folder, as_of=AS_OF).judged.judgement
    held = [f.message.id for f in judgement.joints[0].verdict.findings]
    assert "examiner.own_work" in held


def test_who_accepts_the_ends_must_be_listed(folder: Path) -> None:
    _without_ends(folder, ends_accepted_by="nobody")
    with pytest.raises(LapwrightError) as refusal:
        _judged(folder)
    assert refusal.value.code == "CASE-004"


def _flat(path: Path) -> None:
    Image.new("RGB", (900, 600), (128, 128, 120)).save(path)


def _twice(path: Path) -> None:
    """Two joints in one picture, one above the other."""
    one = np.asarray(Image.open(path).convert("RGB"))
    Image.fromarray(np.vstack([one, one])).save(path)


@pytest.mark.parametrize(("spoil", "code"), [(_flat, "MEAS-021"), (_twice, "MEAS-022")])
def test_none_or_several_are_filed_with_their_code_and_fail_no_case(
    folder: Path, spoil: Callable[[Path], None], code: str
) -> None:
    _without_ends(folder, ends_accepted_by="brindle")
    spoil(folder / _reading_of(folder)["photo"])
    face, act = _judged(folder)
    assert (act.body["refused"], act.body["ends"]) == (code, "found-alone")
    assert code in act.body["refusal"]
    assert "share" not in act.body
    assert (face.finding.why, face.finding.message.id) == (Why.NEEDS_DATA, "face.ends_not_found")
    assert code in dict(face.finding.message.params)["code"]


def test_one_end_alone_is_a_slip_and_the_other_is_not_guessed(folder: Path) -> None:
    edit(folder, lambda d: _reading(d).pop("cup_face") and None)
    face, act = _judged(folder)
    assert act.body["refused"] == "ends not given"
    assert "cup_face) is missing" in act.body["refusal"]
    assert (face.finding.why, face.finding.message.id) == (Why.NEEDS_DATA, "face.no_ends")


def test_a_scale_that_is_none_refuses_the_case_as_before(folder: Path) -> None:
    _without_ends(folder, px_per_mm="0")
    with pytest.raises(LapwrightError) as refusal:
        _judged(folder)
    assert refusal.value.code == "MEAS-017"
    assert "readings[0]" in str(refusal.value)


def test_a_record_on_found_ends_is_issued_and_verifies(tmp_path: Path) -> None:
    folder, home = case_folder(tmp_path, photos=(0,)), tmp_path / "home"
    confirm_all(folder)
    _without_ends(folder, ends_accepted_by="brindle")
    first = issue_case(folder, programme_in(home), as_of=AS_OF, out=tmp_path / "out", at=AT)
    report = verify_file(first.path, [home / "keys" / "trust.pem"])
    assert report.outcome is Outcome.MET, [f.message for f in report.findings]
    face, act = _judged(folder)
    assert (face.finding.outcome, face.readers) == (Outcome.MET, ("brindle",))
    assert (act.body["ends"], act.body["ends_accepted_by"]) == ("found-alone", "brindle")
