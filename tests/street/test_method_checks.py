"""A filed method check lets the program's readings count unaided, and only then."""

from __future__ import annotations

import hashlib
import json
import shutil
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from lapwright.core.acts import Act
from lapwright.core.errors import EvidenceRefused, LapwrightError
from lapwright.core.fold import fold
from lapwright.core.outcomes import Outcome, Why
from lapwright.measure.errors import FaceRepeatedRefused, MethodCheckRefused, MixedSharesRefused
from lapwright.measure.settings import DEFAULT
from lapwright.rules.faces import FaceResult
from lapwright.services.issuing import issue_case
from lapwright.services.judging import judge_case
from lapwright.services.methodchecks import check_body
from lapwright.services.readerstudy import Asked, Checked, study_readers
from lapwright.services.readingsfile import parse_share, read_readings
from lapwright.services.verifying import verify_file

from .building import case_folder, confirm_all, edit, programme_in
from .conftest import AT
from .studying import COLUMNS, METHOD, sloped, table, written

Rows = list[dict[str, str]]

Doc = dict[str, Any]
AS_OF = date(2026, 3, 20)
Change = Callable[[Doc], None]


def _nothing(document: Doc) -> None:
    """Change nothing."""


@pytest.fixture(scope="module")
def drawn(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Draw the one photograph once."""
    return case_folder(tmp_path_factory.mktemp("drawn"), photos=(0,))


@pytest.fixture
def parent(drawn: Path, tmp_path: Path) -> Path:
    """A folder with an untouched copy of the case."""
    shutil.copytree(drawn, tmp_path / "case")
    return tmp_path


def _case(
    parent: Path,
    rows: Rows | None = None,
    *,
    faces: int = 32,
    method: str = "",
    on: str = "2026-03-01",
    shift: float = 0.0,
    stated: tuple[str, str] = ("1 %", "2 %"),
) -> Path:
    """Write a case whose first face rests on the program alone, with a method check."""
    folder = parent / "case"
    data = written(rows or table(faces, shift=shift)).replace(
        METHOD.encode(), (method or DEFAULT.method()).encode()
    )
    named = zip(("max_bias", "max_half_width"), stated, strict=True)
    limits = {k: parse_share(v) for k, v in named}
    body = check_body(study_readers(read_readings(data, "readings.csv"), Asked(**limits)))
    (folder / "method").mkdir()
    (folder / "method" / "readings.csv").write_bytes(data)
    (folder / "method" / "check.json").write_text(json.dumps(body), "utf-8")

    def change(document: Doc) -> None:
        del document["coupons"][0]["joints"][0]["faces"][0]["readings"][0]["accepted_by"]
        document["method_checks"] = [
            {
                "on": on,
                "by": "lead",
                "check": "method/check.json",
                "readings": "method/readings.csv",
            }
        ]

    edit(folder, change)
    confirm_all(folder)
    return folder


def _face(folder: Path) -> FaceResult:
    return judge_case(folder, as_of=AS_OF).judged.judgement.joints[0].faces[0]


def test_a_reading_under_a_matching_check_counts_unaided(parent: Path) -> None:
    assert _face(_case(parent)).finding.outcome is Outcome.MET


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ({"faces": 29}, "face.check_few"),
        ({"method": "face-trace/0"}, "face.check_other_method"),
        ({"on": "2026-03-13"}, "face.check_later"),
        ({"shift": 0.02}, "face.check_outside"),
    ],
)
def test_a_check_that_does_not_fit_leaves_a_proposal(parent: Path, given: Doc, told: str) -> None:
    finding = _face(_case(parent, **given)).finding
    assert (finding.why, finding.message.id) == (Why.HOLD, told)


def _loose() -> tuple[Rows, tuple[str, str]]:
    """Limits as wide as can be written."""
    return table(32), ("90 %", "90 %")


def _falsely_met() -> tuple[Rows, tuple[str, str]]:
    """One face at 21 % by loupe and 19.9 % by the program, all else as before."""
    rows = table(32)
    for r in rows:
        if r["face"] == "F1":
            r["share"] = "0.2100" if r["way"] == "loupe" else "0.1990"
            r.update(low="0.17", high="0.23") if r["way"] == "program" else None
    return rows, ("1 %", "2 %")


def _far() -> tuple[Rows, tuple[str, str]]:
    """Every face plainly good: each share a quarter of what it was."""
    rows = table(32)
    for r in rows:
        r.update(share=f"{float(r['share']) / 4:.4f}", low="", high="")
    return rows, ("1 %", "2 %")


def _one_sided() -> tuple[Rows, tuple[str, str]]:
    """Near the limit, but no face over it by loupe: none could be falsely met."""
    rows = table(32)
    for r in rows:
        r.update(share=f"{0.55 * float(r['share']):.4f}", low="", high="")
    return rows, ("1 %", "2 %")


def _too_sure() -> tuple[Rows, tuple[str, str]]:
    """Intervals of 0.2 points, while the readings differ by half a point and more."""
    rows = table(32)
    for r in [r for r in rows if r["way"] == "program"]:
        share = float(r["share"])
        r.update(low=f"{share - 0.001:.4f}", high=f"{share + 0.001:.4f}")
    return rows, ("1 %", "2 %")


def _no_intervals() -> tuple[Rows, tuple[str, str]]:
    """The program's intervals left out of the file."""
    return [{**r, "low": "", "high": ""} for r in table(32)], ("1 %", "2 %")


def _refusing() -> tuple[Rows, tuple[str, str]]:
    """The program refused 17 of 50 faces."""
    rows = table(50)
    for r in [r for r in rows if r["way"] == "program"][:17]:
        r.update(share="", low="", high="", refused="MEAS-016")
    return rows, ("1 %", "2 %")


def _sloped() -> tuple[Rows, tuple[str, str]]:
    """Within both limits on the whole, but biased by more than the cap at 20 %."""
    return sloped(32), ("1 %", "2 %")


def _read_by_the_brazer() -> tuple[Rows, tuple[str, str]]:
    """The brazer of the case read every face by loupe."""
    return table(32, readers=("Ines", "teal")), ("1 %", "2 %")


@pytest.mark.parametrize(
    ("made", "told"),
    [
        (_loose, "face.check_loose"),
        (_falsely_met, "face.check_false_met"),
        (_far, "face.check_far"),
        (_one_sided, "face.check_spread"),
        (_too_sure, "face.check_uncovered"),
        (_no_intervals, "face.check_uncovered"),
        (_refusing, "face.check_refusing"),
        (_sloped, "face.check_sloped"),
        (_read_by_the_brazer, "face.check_own"),
    ],
)
def test_a_check_that_shows_too_little_leaves_a_proposal(
    parent: Path, made: Callable[[], tuple[Rows, tuple[str, str]]], told: str
) -> None:
    rows, stated = made()
    finding = _face(_case(parent, rows, stated=stated)).finding
    assert (finding.why, finding.message.id) == (Why.HOLD, told)


def _picture(row: dict[str, str]) -> str:
    return hashlib.sha256(row["face"].encode()).hexdigest()


def _copied(rows: Rows) -> Rows:
    """The rows of the first face once more, under another id and on another day."""
    first = [r for r in rows if r["face"] == "F1"]
    return rows + [r | {"face": "F99", "date": "2026-02-28"} for r in first]


def _repeats(rows: Rows) -> Any:
    data = written(rows, [*COLUMNS, "image_sha256"])
    return study_readers(read_readings(data, "r.csv"), Asked()).check


def test_face_repeated_refused() -> None:
    rows = table(32)
    refusal = _repeats(_copied(rows))
    assert isinstance(refusal, FaceRepeatedRefused)
    assert "F1 and F99" in str(refusal)
    assert str(refusal).endswith("[MEAS-095]")
    for r in rows:
        r["image_sha256"] = _picture(r)
    assert isinstance(_repeats(rows), Checked)
    rows[5]["image_sha256"] = _picture(rows[0])
    assert "two faces of one picture: got F1 and F2" in str(_repeats(rows))


def test_faces_of_the_same_figures_are_told_apart_by_their_pictures() -> None:
    rows = _copied(table(32))
    for r in rows:
        r["image_sha256"] = _picture(r)
    assert isinstance(_repeats(rows), Checked)


def test_mixed_shares_refused() -> None:
    rows = table(8)
    rows[3]["share"] = "0.5 %"
    with pytest.raises(MixedSharesRefused) as refusal:
        read_readings(written(rows), "r.csv")
    assert "(share): got a percentage in row 5, a fraction in row 2" in str(refusal.value)
    assert str(refusal.value).endswith("[MEAS-096]")
    rows[3]["share"] = "0.005"
    for r in rows:
        if r.get("low"):
            r.update(low=f"{100 * float(r['low']):.3f} %", high=f"{100 * float(r['high']):.3f} %")
    assert read_readings(written(rows), "r.csv").rows  # each column is of one way throughout


def test_a_check_signed_by_the_brazer_leaves_a_proposal(parent: Path) -> None:
    folder = _case(parent)
    edit(folder, lambda d: d["method_checks"][0].update(by="ines"))
    assert _face(folder).finding.message.id == "face.check_own"


def test_a_check_with_undated_readings_is_refused(parent: Path) -> None:
    rows = table(32)
    rows[3]["date"] = ""
    with pytest.raises(MethodCheckRefused, match="have no date"):
        _face(_case(parent, rows))


def test_without_a_check_the_reading_is_a_proposal(parent: Path) -> None:
    folder = _case(parent)
    edit(folder, lambda d: d.pop("method_checks"))
    assert _face(folder).finding.message.id == "face.not_accepted"


def test_a_record_under_a_check_is_issued_and_verifies(parent: Path) -> None:
    folder, home = _case(parent), parent / "home"
    issued = issue_case(folder, programme_in(home), as_of=AS_OF, out=parent / "out", at=AT)
    report = verify_file(issued.path, [home / "keys" / "trust.pem"])
    assert report.outcome is Outcome.MET, [f.message for f in report.findings]
    checks = [a for a in judge_case(folder, as_of=AS_OF).loaded.acts if a.type == "MethodChecked"]
    assert [(a.version, a.body["by"], len(a.files)) for a in checks] == [(2, "lead", 2)]


def _edit_check(folder: Path, change: Change) -> None:
    path = folder / "method" / "check.json"
    body = json.loads(path.read_text("utf-8"))
    change(body)
    path.write_text(json.dumps(body), "utf-8")


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda b: b["figures"].update(bias="0.000000001"), "the figure 'bias'"),
        (lambda b: b["limits"].update(max_bias="0.05"), ""),
        (lambda b: b["figures"].update(near_limit="30"), "the figure 'near_limit'"),
        (lambda b: b["figures"].update(bias_at_limit="0.000000000"), "the figure 'bias_at_limit'"),
        (lambda b: b["figures"].pop("slope_low"), "the figure 'slope_low'"),
        (lambda b: b.update(schema="lapwright-method-check/2"), "in a form older than"),
        (lambda b: b["figures"].update(over_limit="14"), "the figure 'over_limit'"),
        (lambda b: b["figures"].update(covered_high="0.900000000"), "the figure 'covered_high'"),
        (lambda b: b.update(loupe_readers=["teal"]), "'loupe_readers' is not what"),
        (lambda b: b.update(faces="60"), "'faces' is not what the readings give"),
        (lambda b: b.update(result="outside"), "'result' is not what the readings give"),
        (lambda b: b.update(readings_sha256="0" * 64), "not those that the check names"),
        (lambda b: b.update(method="other/1"), "one method version"),
    ],
)
def test_a_check_says_no_more_than_its_readings(parent: Path, change: Change, said: str) -> None:
    folder = _case(parent)
    _edit_check(folder, change)
    if not said:  # a shop may state other limits: they stand in the act for all to see
        assert _face(folder).finding.outcome is Outcome.MET
        return
    with pytest.raises(MethodCheckRefused) as refusal:
        _face(folder)
    assert said in str(refusal.value)
    assert "case.yaml: method_checks[0]" in str(refusal.value)


@pytest.mark.parametrize(
    ("change", "code"),
    [
        (lambda b: b.update(note="x"), "CASE-002"),
        (lambda b: b["figures"].update(bias="NaN"), "CASE-002"),
        (lambda b: b.pop("limits"), "CASE-002"),
    ],
)
def test_a_check_fits_its_schema(parent: Path, change: Change, code: str) -> None:
    folder = _case(parent)
    _edit_check(folder, change)
    with pytest.raises(LapwrightError) as refusal:
        _face(folder)
    assert refusal.value.code == code


def test_a_check_that_is_no_json_is_refused(parent: Path) -> None:
    folder = _case(parent)
    (folder / "method" / "check.json").write_text("no", "utf-8")
    with pytest.raises(MethodCheckRefused, match="no JSON"):
        _face(folder)


def test_a_check_is_not_dated_before_its_readings(parent: Path) -> None:
    with pytest.raises(MethodCheckRefused, match="a reading later than its method check"):
        _face(_case(parent, on="2026-02-10"))


@pytest.mark.parametrize(
    ("key", "value", "code"),
    [
        ("by", "nobody", "CASE-004"),
        ("on", "2030-01-01", "CASE-003"),
        ("check", "method/none.json", "CASE-005"),
        ("check", "../out.json", "CASE-002"),
        ("note", "x", "CASE-002"),
    ],
)
def test_an_entry_of_a_case_is_checked(parent: Path, key: str, value: str, code: str) -> None:
    folder = _case(parent)
    edit(folder, lambda d: d["method_checks"][0].update({key: value}))
    with pytest.raises(LapwrightError) as refusal:
        _face(folder)
    assert refusal.value.code == code


def _act(body: Doc, version: int) -> Act:
    return Act("MethodChecked", body, date(2026, 3, 1), "lead", AT, version=version)


def test_an_act_of_the_first_version_holds_no_figures_and_supports_nothing() -> None:
    act = _act({"method": "m", "faces": "60", "limits": {}}, 1)
    (check,) = fold([act], as_of=AS_OF).methods
    assert (check.method, check.bias, check.by) == ("m", None, "")


@pytest.mark.parametrize("bias", ["NaN", "Infinity", "much"])
def test_figures_that_are_no_numbers_are_refused(bias: str) -> None:
    body = {"method": "m", "faces": "60", "limits": {}, "figures": {"bias": bias}}
    with pytest.raises(EvidenceRefused, match="no numbers"):
        fold([_act(body, 1)], as_of=AS_OF)
    with pytest.raises(EvidenceRefused, match="no numbers"):
        fold([_act({"method": "m"}, 1)], as_of=AS_OF)
