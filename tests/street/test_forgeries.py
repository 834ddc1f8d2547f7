"""Records forged with the issuer's own keys are told apart, each in words.

The witness of each forgery is the untouched record of the same case, for which
every check holds: one part is edited, typeset and signed again.
"""

from __future__ import annotations

import copy
import hashlib
import json
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest

from lapwright.core.acts import canonical_json
from lapwright.core.outcomes import Outcome, Why
from lapwright.documents.container import inspect_record
from lapwright.ledger.keys import Keys, open_keys
from lapwright.ledger.log import MemoryLog
from lapwright.ledger.trust import read_trust
from lapwright.services import sealing
from lapwright.services.issuing import Issued
from lapwright.services.judging import judge_acts
from lapwright.services.recorddata import acts_of, record_bytes, results
from lapwright.services.recordfile import RecordParts, own_editions, parts_of
from lapwright.services.register import RecordState, take_number
from lapwright.services.sealing import Placed, place_of
from lapwright.services.text import say
from lapwright.services.verifying import VerifyReport, _checks, _notes, verify_file

AT = datetime(2026, 3, 21, 9, 30, tzinfo=UTC)


@dataclass
class Forgery:
    """The editable parts of a record."""

    data: dict[str, Any]
    rules: dict[str, Any]
    overlays: dict[str, bytes]
    made_by: dict[str, str] = field(default_factory=dict)

    def judge_again(self) -> None:
        """Put the decision into the data that the edited acts and rule rows give."""
        editions = own_editions(self)  # type: ignore[arg-type]
        day = date.fromisoformat(self.data["decision"]["as_of"])
        judged = judge_acts(acts_of(self.data), as_of=day, editions=editions)
        self.data |= json.loads(canonical_json(results(judged)))


def placed(data: dict[str, Any], keys: Keys) -> Placed:
    """File the issue of any data in a ledger of its own."""
    log = MemoryLog()
    body = {
        "payload_sha256": hashlib.sha256(record_bytes(data)).hexdigest(),
        "person": "ines",
        "case": "TST-01",
    }
    state = RecordState(data["number"], (), 0)
    return place_of(log, take_number(log, state, body, files=(), at=AT), keys)


Forge = Callable[[Callable[[Forgery], object]], VerifyReport]


@pytest.fixture
def forge(issued: Issued, home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Forge:
    """Edit the issued record, sign it with the issuer's own keys, verify it."""
    keys = open_keys(home / "keys", made_at=AT)

    def made(edit: Callable[[Forgery], object]) -> VerifyReport:
        seen = inspect_record(issued.path.read_bytes(), trusted=[], moment=None)
        parts = parts_of(seen, "record")
        forged = Forgery(
            copy.deepcopy(dict(parts.data)), copy.deepcopy(dict(parts.rules)), dict(parts.overlays)
        )
        edit(forged)
        target = tmp_path / "forged.pdf"
        with monkeypatch.context() as patched:
            if forged.made_by:
                patched.setattr(sealing, "made_by", lambda: forged.made_by)
            pdf = sealing.seal_record(
                forged.data,
                forged.rules,
                forged.overlays,
                placed=placed(forged.data, keys),
                keys=keys,
            )
        target.write_bytes(pdf)
        return verify_file(target, [home / "keys" / "trust.pem"])

    return made


def not_met(report: VerifyReport) -> set[str]:
    return {f.rule for f in report.findings if f.outcome is Outcome.NOT_MET}


def still_open(report: VerifyReport) -> set[str]:
    return {f.rule for f in report.findings if f.outcome is Outcome.UNDETERMINED}


def told(report: VerifyReport, rule: str) -> str:
    return say(next(f for f in report.findings if f.rule == rule).message)


def without(forged: Forgery, *rules: str) -> None:
    forged.rules["rows"] = [r for r in forged.rules["rows"] if r["id"] not in rules]


def test_signed_again_without_an_edit_every_check_holds_and_what_is_unseen_is_told(
    forge: Forge,
) -> None:
    report = forge(lambda forged: None)
    assert report.outcome is Outcome.MET, [say(f.message) for f in report.findings]
    assert list(report.lines())[-1] == "Every check holds."
    assert any("A later revision or a withdrawal cannot be seen" in n for n in report.notes)


def test_a_deleted_row_that_changes_nothing_is_named(forge: Forge) -> None:
    def edit(forged: Forgery) -> None:
        without(forged, "bore.no_oxide")
        forged.judge_again()

    report = forge(edit)
    assert (not_met(report), still_open(report)) == (set(), {"record.rules"})
    assert "bore.no_oxide (missing)" in told(report, "record.rules")
    assert "Under the shipped rules the decision is" in told(report, "record.rules")
    assert next(f.why for f in report.findings if f.rule == "record.rules") is Why.HOLD


def test_a_deleted_row_that_turns_the_decision_tells_the_shipped_one(forge: Forge) -> None:
    def edit(forged: Forgery) -> None:
        for act in forged.data["acts"]:
            if act["type"] == "BoreExamined":
                act["body"]["items"]["oxide"] = "oxide"
        without(forged, "bore.no_oxide")
        forged.judge_again()
        assert forged.data["decision"]["outcome"] == "met"

    report = forge(edit)
    assert (not_met(report), still_open(report)) == (set(), {"record.rules"})
    assert "bore.no_oxide (missing)" in told(report, "record.rules")
    assert "Under the shipped rules the decision is Not met" in told(report, "record.rules")
    assert "this is not what the record says: decision" in told(report, "record.rules")


def test_a_changed_row_is_named_with_its_changed_field(forge: Forge) -> None:
    def edit(forged: Forgery) -> None:
        for row in forged.rules["rows"]:
            if row["id"] == "section.max_unbrazed_share":
                row["value"] = "0.5"
        forged.judge_again()

    report = forge(edit)
    assert still_open(report) >= {"record.rules"}
    assert "section.max_unbrazed_share (value)" in told(report, "record.rules")
    assert "every check holds" not in "\n".join(report.lines()).lower()


def test_of_many_deleted_rows_five_are_named_and_the_rest_counted(forge: Forge) -> None:
    def edit(forged: Forgery) -> None:
        without(forged, "bore.no_oxide")
        forged.rules["rows"] = [
            {**r, "notes": "other"} if i < 7 else r for i, r in enumerate(forged.rules["rows"])
        ]
        forged.judge_again()

    text = told(forge(edit), "record.rules")
    assert text.count(" (") == 5
    assert " more. Under the shipped rules" in text


def test_a_dropped_edition_fails(forge: Forge) -> None:
    def edit(forged: Forgery) -> None:
        gone = next(e for e in forged.rules["editions"] if e.startswith("nfpa-99"))
        forged.rules["editions"].remove(gone)
        forged.judge_again()

    report = forge(edit)
    assert "record.rules" in not_met(report)
    assert "other editions than the case adopted" in told(report, "record.rules")
    assert report.exit_status == 1


def test_an_edition_that_is_not_shipped_here_is_open(forge: Forge) -> None:
    def edit(forged: Forgery) -> None:
        text = json.dumps([forged.data["acts"], forged.rules])
        text = text.replace("nfpa-99 2018", "nfpa-99 2095").replace(
            '"edition": "2018"', '"edition": "2095"'
        )
        forged.data["acts"], forged.rules = json.loads(text.replace("99/2018/", "99/2095/"))
        forged.judge_again()

    report = forge(edit)
    assert (not_met(report), still_open(report)) == (set(), {"record.rules"})
    assert "nfpa-99 2095 is not shipped with this version" in told(report, "record.rules")


def test_a_swapped_picture_fails_and_its_face_is_named(forge: Forge) -> None:
    def edit(forged: Forgery) -> None:
        face = next(iter(forged.overlays))
        forged.overlays[face] = _other_picture(forged.overlays[face])

    report = forge(edit)
    assert not_met(report) == {"record.overlays"}
    assert told(report, "record.overlays").endswith(": H1-1.")


def test_a_picture_taken_out_or_added_fails(forge: Forge) -> None:
    def add(forged: Forgery) -> None:
        forged.overlays["other"] = next(iter(forged.overlays.values()))

    assert not_met(forge(lambda forged: forged.overlays.clear())) == {"record.overlays"}
    report = forge(add)
    assert not_met(report) == {"record.overlays"}
    assert told(report, "record.overlays").endswith(": other.")


def _other_picture(png: bytes) -> bytes:
    import io

    from PIL import Image, ImageOps

    out = io.BytesIO()
    ImageOps.mirror(Image.open(io.BytesIO(png)).convert("RGB")).save(out, "PNG")
    return out.getvalue()


def test_pictures_that_no_digest_binds_are_open(forge: Forge) -> None:
    report = forge(lambda forged: forged.data.pop("overlays"))
    assert (not_met(report), still_open(report)) == (set(), {"record.overlays"})


def test_an_edited_decision_fails_and_says_where(forge: Forge) -> None:
    def edit(forged: Forgery) -> None:
        forged.data["decision"]["faces"][0]["unbrazed_share"] = "0.00000"

    report = forge(edit)
    assert not_met(report) == {"record.decision"}
    assert told(report, "record.decision").endswith(": faces.")


def test_an_edited_range_fails_and_says_where(forge: Forge) -> None:
    def edit(forged: Forgery) -> None:
        row = next(r for r in forged.data["range"]["sizes"] if r["outcome"] != "met")
        row |= {"outcome": "met", "why": ""}

    report = forge(edit)
    assert not_met(report) == {"record.decision"}
    assert told(report, "record.decision").endswith(": sizes.")


def other_words(forged: Forgery) -> None:
    for row in forged.data["decision"]["findings"]:
        row |= {"says": "Said in other words.", "cites": []}
    for row in forged.data["range"]["sizes"]:
        row |= {"word": "other", "reason": "other", "note": "other"}


def test_other_wording_of_another_version_is_no_failure(forge: Forge) -> None:
    def edit(forged: Forgery) -> None:
        other_words(forged)
        forged.made_by = sealing.made_by() | {"texts": "0" * 16}

    report = forge(edit)
    assert (not_met(report), still_open(report)) == (set(), {"record.print"})
    assert told(report, "record.print").startswith("Print not re-checked")
    assert "a person must look at the open checks" in list(report.lines())[-1]
    assert report.exit_status == 0


def test_other_wording_under_the_name_of_this_version_fails(forge: Forge) -> None:
    report = forge(other_words)
    assert not_met(report) == {"record.print"}
    assert "the sentences in the data are not those" in told(report, "record.print")


def test_an_older_record_that_cannot_be_typeset_here_is_no_failure(
    forge: Forge, monkeypatch: pytest.MonkeyPatch
) -> None:
    def edit(forged: Forgery) -> None:
        forged.made_by = {"lapwright": "0.0.1", "print": "typst 0.1, 0000"}

    def unknown(*_: object) -> bytes:
        raise KeyError("a sentence of an older version")

    real = sealing.typeset
    calls = iter([real])
    monkeypatch.setattr(sealing, "typeset", lambda *a: next(calls, unknown)(*a))
    report = forge(edit)
    assert (not_met(report), still_open(report)) == (set(), {"record.print"})


def test_removed_names_are_counted(forge: Forge) -> None:
    def edit(forged: Forgery) -> None:
        forged.data["names"].pop("ines")

    report = forge(edit)
    assert not_met(report) == set()
    assert any(n.startswith("1 name was removed from this record: ines") for n in report.notes)


@pytest.mark.parametrize(
    "edit",
    [
        lambda forged: forged.data.update(overlays=["H1-1"]),
        lambda forged: forged.data.update(range={"variables": [], "sizes": ["2"]}),
        lambda forged: forged.data["range"]["sizes"][0].pop("positions"),
        lambda forged: forged.data["decision"]["findings"].clear(),
        lambda forged: forged.rules.update(rows=[]),
        lambda forged: forged.rules["rows"][0].pop("since"),
        lambda forged: forged.rules.update(editions=[]),
    ],
    ids=["overlays", "sizes", "positions", "findings", "no-rows", "no-day", "no-editions"],
)
def test_parts_of_another_form_fail_in_words(
    edit: Callable[[Forgery], object], issued: Issued, home: Path
) -> None:
    parts = parts_of(inspect_record(issued.path.read_bytes(), trusted=[], moment=None), "record")
    forged = Forgery(copy.deepcopy(dict(parts.data)), copy.deepcopy(dict(parts.rules)), {})
    edit(forged)
    changed = RecordParts(forged.data, forged.rules, parts.issue, parts.overlays)
    trust = read_trust((home / "keys" / "trust.pem").read_bytes())
    found = list(_checks(changed, issued.path.read_bytes(), trust))
    assert Outcome.NOT_MET in {f.outcome for f in found}
    assert all(say(f.message) for f in found)
    assert list(_notes(changed)) == []  # no name was removed
