"""Where a removed name survives is told; a reason kept for good holds neither name nor number."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from lapwright.services.certifying import Signing, accept_record, certify_record
from lapwright.services.doubts import clear_doubt, raise_doubt
from lapwright.services.errors import ReasonHoldsName
from lapwright.services.hands import read_hand
from lapwright.services.issuing import Issued
from lapwright.services.people import NewPerson, enrol, forget
from lapwright.services.programme import Programme
from lapwright.services.programmeacts import Writing
from lapwright.services.register import must_be_known
from lapwright.services.withdrawing import withdraw_record
from records.acceptances import LATER_EMPLOYER, comparison
from records.conftest import SIGNED_AT

LATE = datetime(2026, 4, 20, 8, 0, tzinfo=UTC)
SCAN = b"%PDF-1.7 the page signed in ink"


@pytest.fixture
def accepted(
    certified: Path, programme: Programme, pairs: Callable[[str], Path], tmp_path: Path
) -> bytes:
    """The record certified by Hollis and accepted by Petra, each with an own key."""
    new = NewPerson("petra", "Petra Lindqvar", "responsible person", LATER_EMPLOYER)
    enrol(programme.log, new, secret=programme.keys.salt, by="petra", at=SIGNED_AT)
    hand = read_hand(pairs("Petra Lindqvar"), programme.keys)
    done = accept_record(
        "TST-01-QP7K",
        programme,
        Signing("petra", SIGNED_AT.date(), SIGNED_AT, hand=hand),
        employer=LATER_EMPLOYER,
        comparison=comparison(),
        out=tmp_path,
    )
    assert done.path is not None
    return done.path.read_bytes()


def test_a_name_in_a_later_signature_is_told(accepted: bytes, programme: Programme) -> None:
    """Outside witness: the bytes of the file hold her name, in the certificate."""
    assert b"Petra Lindqvar" in accepted
    done = forget(programme, "petra", reason="asked for it", by="lead", at=LATE)
    assert done.shown == ("TST-01-QP7K-r1",)
    (found,) = done.files
    sha = hashlib.sha256(accepted).hexdigest()
    assert (found.sha256, found.where, found.how) == (sha, "TST-01-QP7K-r1", "signature")
    said = " ".join(done.lines())
    assert f"files/{sha[:2]}/{sha}  TST-01-QP7K-r1: a signature and its certificate" in said
    again = forget(programme, "petra", reason="asked again", by="lead", at=LATE)
    assert again.files == done.files


def test_every_file_that_prints_the_brazers_name_is_told(
    accepted: bytes, programme: Programme
) -> None:
    """Outside witness: the record's own list of its files, from issue to acceptance."""
    _, revision = must_be_known(programme.log, "TST-01-QP7K")
    done = forget(programme, "ines", reason="asked for it", by="lead", at=LATE)
    told = {f.sha256: f.how for f in done.files}
    assert len(revision.files) == 3
    assert {told[sha] for sha in revision.files} == {"page"}
    assert told[revision.act.body["payload_sha256"]] == "data"


def test_a_scan_of_a_page_with_the_name_is_told(programme: Programme, issued: Issued) -> None:
    signing = Signing("hollis", SIGNED_AT.date(), SIGNED_AT, scan=SCAN)
    certify_record(issued.number, programme, signing, out=None)
    sha = hashlib.sha256(SCAN).hexdigest()
    for person in ("hollis", "ines"):
        done = forget(programme, person, reason="asked for it", by="lead", at=LATE)
        assert {f.sha256: f.how for f in done.files}[sha] == "scan"


def test_somebody_in_no_file_survives_nowhere(accepted: bytes, programme: Programme) -> None:
    new = NewPerson("orla", "Orla Quist", "clerk", LATER_EMPLOYER)
    enrol(programme.log, new, secret=programme.keys.salt, by="petra", at=SIGNED_AT)
    done = forget(programme, "orla", reason="asked for it", by="lead", at=LATE)
    assert (done.shown, done.files) == ((), ())


@pytest.mark.parametrize(
    "reason", ["Ines Marlowe asked", "ines MARLOWE, asked", "asked by Ms Marlowe", "Marlowe's"]
)
def test_reason_holds_name_is_refused(reason: str, programme: Programme, issued: Issued) -> None:
    size = programme.log.size()
    with pytest.raises(ReasonHoldsName, match=r"\[ISSUE-032\]") as refused:
        forget(programme, "ines", reason=reason, by="lead", at=LATE)
    assert "arlowe" not in str(refused.value)
    with pytest.raises(ReasonHoldsName):
        withdraw_record(issued.number, programme, by="lead", reason=reason, at=LATE)
    assert programme.log.size() == size
    assert "Ines Marlowe" in [s.value for s in programme.log.side_records().values()]


def test_nobodys_whole_name_stands_in_a_reason(programme: Programme, issued: Issued) -> None:
    with pytest.raises(ReasonHoldsName):
        withdraw_record(issued.number, programme, by="lead", reason="so said Hollis Wren", at=LATE)
    writing, found = Writing("lead", LATE), date(2026, 4, 2)
    with pytest.raises(ReasonHoldsName):
        raise_doubt(
            "CAL-2",
            programme.log,
            since=date(2026, 1, 5),
            found_on=found,
            reason="Hollis Wren saw it",
            writing=writing,
        )


def test_numbers_in_reasons_are_masked_before_they_are_kept(
    programme: Programme, issued: Issued
) -> None:
    number = "asked on card 000 - 12 - 3456"
    withdraw_record(issued.number, programme, by="lead", reason=number, at=LATE)
    forget(programme, "ines", reason=number, by="lead", at=LATE)
    writing = Writing("lead", LATE)
    doubt = raise_doubt(
        "CAL-2",
        programme.log,
        since=date(2026, 1, 5),
        found_on=date(2026, 4, 2),
        reason=number,
        writing=writing,
    )
    clear_doubt(doubt.id, programme.log, on=date(2026, 4, 3), reason=number, writing=writing)
    kinds = ("RecordWithdrawn", "NameRemoved", "DoubtRaised", "DoubtCleared")
    acts = [e.act for e in programme.log.entries()]
    reasons = {a.type: a.body["reason"] for a in acts if a.type in kinds}
    assert reasons == dict.fromkeys(kinds, "asked on card ••• - •• - ••••")
