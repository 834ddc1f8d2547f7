"""Exports of released formats load for ever; ``scripts/golden_export.py`` made them, once."""

from __future__ import annotations

from pathlib import Path

from lapwright.ledger.checker import check, public_key
from lapwright.services.ledgerimport import import_ledger
from records.ledgers import Ledger

HERE = Path(__file__).parent
FIRST, FIRST_TRUST = HERE / "ledger-export-1.zip", HERE / "ledger-export-1-trust.pem"


def test_the_first_format_is_still_found_whole() -> None:
    found = check(FIRST, keys=[public_key(FIRST_TRUST.read_bytes())])
    assert found.outcome == "met", list(found.lines())
    assert (found.acts, found.root) == (
        6,
        "8e2ddae8262c2d3ef7405f10f33fccc98b0ce84e75b447ba6cb3c7eb48320113",
    )


def test_the_first_format_is_still_taken_in(tmp_path: Path) -> None:
    ledger = Ledger(tmp_path / "data")
    taken = import_ledger(FIRST, lambda: ledger).taken
    assert (taken.evidence, taken.names, taken.heads) == (1, 1, 2)
    acts = [entry.act for entry in ledger.log.entries()]
    assert [act.type for act in acts] == [
        "PersonEnrolled",
        "FaceRead",
        "CouponBrazed",
        "MethodChecked",
        "TrainingGiven",
        "ActVoided",
    ]
    assert (acts[3].version, acts[3].body["later"]) == (1, {"x": ["y"]})
    assert (acts[1].stream, acts[2].stream) == ("", "case/TLH-01")
    assert acts[2].happened_at is not None
    assert acts[4].body["what"] == "“quoted” \\ 練習\n"
    assert acts[5].body["voids"] == acts[4].sha256
    assert ledger.log.side(acts[0].body["name_commitment"]) == "Ínes Marlowe-Ørsted"
    assert ledger.files.get(acts[1].files[0]) == b"an invented photograph"
    assert [entry.version for entry in ledger.log.entries(stream="case/TLH-01")] == [0, 1, 2]
