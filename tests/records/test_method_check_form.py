"""A method check of the first form, as an earlier version wrote it, loads and is judged as it was.

``method-check-1`` was written before slopes were reckoned, from readings with a steep slope: the
form of today would not be accepted. Its files are never edited.
"""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from lapwright.core.bodies import method_check_of
from lapwright.measure.errors import MethodCheckRefused
from lapwright.rules.methodcheck import unfit
from lapwright.services.casefiles import CaseFiles
from lapwright.services.methodchecks import (
    OLDER_FORMS_METHODS,
    SECOND_FORM,
    check_body,
    filed_check,
    result_word,
)
from lapwright.services.readerstudy import Asked, study_readers
from lapwright.services.readingsfile import parse_share, read_readings

KEPT = Path(__file__).parent / "method-check-1"
ENTRY = {"on": "2026-03-01", "by": "lead", "check": "check.json", "readings": "readings.csv"}


def test_it_files_the_very_body_that_was_written() -> None:
    body, files = filed_check(ENTRY, CaseFiles(KEPT), where="case.yaml: method_checks[0]")
    written = json.loads((KEPT / "check.json").read_text("utf-8"))
    assert body == written | {"by": "lead"}
    assert len(files) == 2


def test_it_is_judged_without_a_slope() -> None:
    body, _ = filed_check(ENTRY, CaseFiles(KEPT), where="w")
    check = method_check_of(body, date(2026, 3, 1))
    assert (check.slope_low, check.bias_at_limit) == (None, None)
    assert (unfit(check), result_word(body)) == ("", "within")


def test_the_same_readings_are_not_accepted_in_the_form_of_today() -> None:
    data = (KEPT / "readings.csv").read_bytes()
    limits = {"max_bias": parse_share("1 %"), "max_half_width": parse_share("2 %")}
    body = check_body(study_readers(read_readings(data, "readings.csv"), Asked(**limits)))
    assert body is not None
    assert (body["schema"], body["result"]) == ("lapwright-method-check/3", "biased-at-the-limit")
    check = method_check_of(body, date(2026, 3, 1))
    assert check.bias_at_limit is not None
    level = replace(check, slope_low=-check.bias_at_limit, slope_high=check.bias_at_limit)
    assert unfit(level) == "face.check_spread"  # level by then, but with too few faces over 20 %


def _second_form(folder: Path, method: str = "") -> dict[str, str]:
    """Write the readings' check as the second form held it; return its entry in a case."""
    data = (KEPT / "readings.csv").read_bytes()
    limits = {"max_bias": parse_share("2 %"), "max_half_width": parse_share("2 %")}
    study = study_readers(read_readings(data, "readings.csv"), Asked(**limits))
    body = check_body(study, form=SECOND_FORM)
    assert body is not None
    assert (body["result"], "over_limit" in body["figures"]) == ("within", False)
    (folder / "readings.csv").write_bytes(data)
    filed = json.dumps(body | ({"method": method} if method else {}))
    (folder / "check.json").write_text(filed, "utf-8")
    return ENTRY


def test_the_second_form_loads_and_is_judged_as_far_as_its_figures_allow(tmp_path: Path) -> None:
    body, _ = filed_check(_second_form(tmp_path), CaseFiles(tmp_path), where="w")
    check = method_check_of(body, date(2026, 3, 1))
    assert (check.over_limit, check.levels, check.covered_high) == (None, None, None)
    assert check.slope is not None
    assert unfit(check) == ""


def test_the_second_form_is_not_taken_for_a_later_method_version(tmp_path: Path) -> None:
    later = f"face-trace/{OLDER_FORMS_METHODS + 1}+0123456789ab"
    entry = _second_form(tmp_path, later)
    with pytest.raises(MethodCheckRefused, match="in a form older than its method version"):
        filed_check(entry, CaseFiles(tmp_path), where="w")


def test_the_first_form_is_not_taken_for_a_later_method_version(tmp_path: Path) -> None:
    shutil.copytree(KEPT, tmp_path / "kept")
    path = tmp_path / "kept" / "check.json"
    body = json.loads(path.read_text("utf-8"))
    body["method"] = f"face-trace/{OLDER_FORMS_METHODS + 1}+0123456789ab"
    path.write_text(json.dumps(body), "utf-8")
    with pytest.raises(MethodCheckRefused, match="in a form older than its method version"):
        filed_check(ENTRY, CaseFiles(tmp_path / "kept"), where="w")
