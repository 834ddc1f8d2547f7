"""What an acceptance rests on: a comparison that fits, and a key that is the signer's own."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from io import BytesIO
from pathlib import Path

import pikepdf
import pytest

from lapwright.core.outcomes import Outcome, Why
from lapwright.documents.comparison import COMPARISON_FILE
from lapwright.services import certifying
from lapwright.services.certifying import Signed, Signing, accept_record
from lapwright.services.comparisonheld import Parties, must_fit
from lapwright.services.errors import ComparisonRefused, KeyOfAnother
from lapwright.services.hands import read_hand
from lapwright.services.people import NewPerson, enrol
from lapwright.services.programme import Programme
from lapwright.services.register import must_be_known
from lapwright.services.verifying import verify_file
from records.acceptances import LATER_EMPLOYER, comparison
from records.conftest import SIGNED_AT
from records.hands import certificate, write_pem

SCAN = b"\x89PNG\r\n\x1a\n the page signed in ink"
IN_INK = Signing("petra", SIGNED_AT.date(), SIGNED_AT, scan=SCAN)
Pairs = Callable[[str], Path]


def _accept(programme: Programme, data: bytes, signing: Signing = IN_INK, **more: Path) -> Signed:
    new = NewPerson("petra", "Petra Lindqvar", "responsible person", LATER_EMPLOYER)
    enrol(programme.log, new, secret=programme.keys.salt, by="petra", at=SIGNED_AT)
    return accept_record(
        "TST-01-QP7K",
        programme,
        signing,
        employer=LATER_EMPLOYER,
        comparison=data,
        out=more.get("out"),
    )


@pytest.mark.parametrize(
    ("given", "told"),
    [
        (b"not a comparison at all", "not a comparison of this tool"),
        (b"%PDF-1.7 junk", "not a comparison of this tool"),
        (b"{}", "not a comparison of this tool"),
        (b"[" * 100_000, "not a comparison of this tool"),
        (comparison(schema="lapwright-comparison/9"), "lapwright-comparison/9"),
        (comparison(record="TST-09"), "another record: got TST-09, expected TST-01 or TST-01-QP"),
        (comparison(person="omar"), "another person"),
        (comparison(former={"employer": "Fennel Bay Piping"}), "another former employer"),
        (comparison(present={"employer": "Fennel Bay Piping"}), "another new employer"),
        (comparison(present="Harrow Fold Mechanical"), "another new employer: got nothing"),
        (comparison(signed_on="2026-03-24"), "another day of the signature"),
        (comparison(acceptance={"outcome": "undetermined"}), "another outcome"),
        (comparison(acceptance={"outcome": "not met"}), "another outcome"),
    ],
)
def test_comparison_refused_unless_it_fits(
    given: bytes, told: str, certified: Path, programme: Programme
) -> None:
    before = programme.log.size()
    with pytest.raises(ComparisonRefused, match=r"\[ISSUE-030\]") as refused:
        _accept(programme, given)
    assert told in str(refused.value)
    assert programme.log.size() == before + 1  # Petra, enrolled by this test


@pytest.mark.parametrize("record", ["TST-01", "TST-01-QP7K", "TST-01-QP7K-r1"])
def test_a_comparison_of_this_record_is_kept(
    record: str, certified: Path, programme: Programme
) -> None:
    data = comparison(record=record)
    done = _accept(programme, data)
    assert programme.files.get(done.act.body["comparison_sha256"]) == data


def test_the_comparison_inside_a_page_is_the_one_that_counts(
    certified: Path, programme: Programme
) -> None:
    """Outside witness: pages made with pikepdf, which knows nothing of this tool."""
    _, revision = must_be_known(programme.log, "TST-01-QP7K")
    parties = Parties(revision, "Quillon Pipeworks", LATER_EMPLOYER, SIGNED_AT.date())
    must_fit(_page(comparison()), parties)
    with pytest.raises(ComparisonRefused, match="another outcome"):
        must_fit(_page(comparison(acceptance={"outcome": "not met"})), parties)
    with pytest.raises(ComparisonRefused, match="not a comparison"):
        must_fit(_page(comparison(), name="other.json"), parties)
    with pytest.raises(ComparisonRefused, match="another day"):
        must_fit(_page(comparison()), replace(parties, signed_on=date(2026, 4, 1)))


def _page(data: bytes, name: str = COMPARISON_FILE) -> bytes:
    out = BytesIO()
    with pikepdf.new() as pdf:
        pdf.add_blank_page()
        pdf.attachments[name] = pikepdf.AttachedFileSpec(pdf, data, mime_type="application/json")
        pdf.save(out)
    return out.getvalue()


def test_key_of_another_signs_nothing(
    certified: Path, programme: Programme, pairs: Pairs, tmp_path: Path
) -> None:
    """Hollis has certified with it; under another certificate it is the same key still."""
    hand = read_hand(pairs("Hollis Wren"), programme.keys)
    again = certificate(hand.key, "Petra Lindqvar")
    other = read_hand(write_pem(tmp_path / "again.pem", hand.key, again), programme.keys)
    for taken in (hand, other):
        signing = Signing("petra", SIGNED_AT.date(), SIGNED_AT, hand=taken)
        with pytest.raises(KeyOfAnother, match=r"the key of Hollis Wren.*\[ISSUE-031\]"):
            _accept(programme, comparison(), signing, out=tmp_path)
    assert list(tmp_path.glob("*accepted*")) == []


def _two_names(
    programme: Programme, pairs: Pairs, out: Path, monkeypatch: pytest.MonkeyPatch
) -> Path:
    """Return a record certified by Hollis and accepted by Petra with one key, as once possible."""
    monkeypatch.setattr(certifying, "must_be_own_key", lambda *_: None)
    hand = read_hand(pairs("Hollis Wren"), programme.keys)
    signing = Signing("petra", SIGNED_AT.date(), SIGNED_AT, hand=hand)
    done = _accept(programme, comparison(), signing, out=out)
    assert done.path is not None
    return done.path


def test_verify_names_a_key_that_signed_for_two(
    certified: Path,
    programme: Programme,
    pairs: Pairs,
    data: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    path = _two_names(programme, pairs, tmp_path, monkeypatch)
    trust = [data / "keys" / "trust.pem"]
    report = verify_file(path, trust, log=programme.log)
    (found,) = [f for f in report.findings if f.rule == "ledger.keys"]
    assert found.outcome is Outcome.NOT_MET
    said = " ".join(report.lines())
    assert "signed for Hollis Wren has signed for Petra Lindqvar too (TST-01-QP7K-r1)" in said
    alone = verify_file(path, trust)
    (held,) = [f for f in alone.findings if f.rule == "record.keys"]
    assert (held.outcome, held.why) == (Outcome.UNDETERMINED, Why.HOLD)
    assert "One key signed twice under two names" in " ".join(alone.lines())
