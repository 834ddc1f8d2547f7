"""Proofs of a ledger, bare tokens, and what verify says of a thing that it does not know."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from lapwright.core.acts import canonical_json
from lapwright.core.outcomes import Outcome
from lapwright.documents.errors import TokenRefused
from lapwright.documents.token import claims_of, make_token
from lapwright.ledger.errors import (
    EntryUnknown,
    LedgerDamaged,
    NothingToCheck,
    ProofRefused,
)
from lapwright.ledger.heads import sign_head
from lapwright.ledger.tree import TreeHead, tree_head
from lapwright.ledger.trust import trust_pem
from lapwright.services.errors import VerifyTrustMissing
from lapwright.services.ledgerexport import export_ledger
from lapwright.services.ledgerproofs import Asked, Proof, prove
from lapwright.services.verifyledger import verify_any
from records.ledgers import AT, Ledger, large_ledger, small_ledger, some_keys


@pytest.fixture
def ledger(tmp_path: Path) -> Ledger:
    return small_ledger(tmp_path / "data")


@pytest.fixture
def trust(tmp_path: Path) -> Path:
    path = tmp_path / "trust.pem"
    path.write_bytes(trust_pem(some_keys().trust))
    return path


def _prove(ledger: Ledger, **asked: Any) -> Proof:
    return prove(ledger.log, asked=Asked(**asked), keys=some_keys(), at=AT)


def _file(tmp_path: Path, proof: Proof) -> Path:
    path = tmp_path / "proof.json"
    path.write_bytes(proof.to_bytes())
    return path


def _rfc_path(leaves: list[bytes], index: int) -> list[bytes]:
    """PATH of RFC 9162, 2.1.3.1, written down as it stands there."""
    if len(leaves) == 1:
        return []
    k = 1
    while k * 2 < len(leaves):
        k *= 2
    if index < k:
        return [*_rfc_path(leaves[:k], index), _rfc_root(leaves[k:])]
    return [*_rfc_path(leaves[k:], index - k), _rfc_root(leaves[:k])]


def _rfc_root(leaves: list[bytes]) -> bytes:
    if len(leaves) == 1:
        return hashlib.sha256(b"\x00" + leaves[0]).digest()
    k = 1
    while k * 2 < len(leaves):
        k *= 2
    return hashlib.sha256(b"\x01" + _rfc_root(leaves[:k]) + _rfc_root(leaves[k:])).digest()


@pytest.mark.parametrize("size", [1, 2, 3, 7, 8, 13])
def test_a_proof_has_the_path_of_rfc_9162_and_holds(tmp_path: Path, trust: Path, size: int) -> None:
    ledger = large_ledger(tmp_path / "data", size)
    leaves = [entry.raw for entry in ledger.log.entries()]
    for number in range(size):
        proof = _prove(ledger, entry=number)
        assert proof.head.root == _rfc_root(leaves).hex()
        path = [bytes.fromhex(step) for step in proof.document["inclusion"]["path"]]
        assert path == _rfc_path(leaves, number)
        assert verify_any(_file(tmp_path, proof), [trust]).outcome is Outcome.MET


@pytest.mark.parametrize("earlier", range(1, 7))
def test_growth_from_every_earlier_size_is_proved(
    ledger: Ledger, tmp_path: Path, trust: Path, earlier: int
) -> None:
    proof = _prove(ledger, from_size=earlier)
    leaves = [entry.raw for entry in ledger.log.entries()]
    assert proof.document["consistency"]["root"] == _rfc_root(leaves[:earlier]).hex()
    assert verify_any(_file(tmp_path, proof), [trust]).outcome is Outcome.MET


def test_an_entry_is_found_by_the_digest_of_its_act(ledger: Ledger) -> None:
    entry = list(ledger.log.entries())[4]
    proof = _prove(ledger, act=hashlib.sha256(entry.raw).hexdigest())
    assert proof.document["inclusion"]["entry"] == "4"
    assert canonical_json(proof.document["inclusion"]["act"]) == entry.raw


def test_a_head_alone_is_signed_kept_and_checked(
    ledger: Ledger, tmp_path: Path, trust: Path
) -> None:
    proof = _prove(ledger)
    assert proof.head in ledger.log.heads()
    assert set(proof.document) == {"format", "head"}
    assert verify_any(_file(tmp_path, proof), [trust]).outcome is Outcome.MET


def _changes() -> dict[str, Callable[[dict[str, Any]], None]]:
    def flip(text: str) -> str:
        return ("1" if text[0] == "0" else "0") + text[1:]

    def act(document: dict[str, Any]) -> None:
        document["inclusion"]["act"]["body"]["reader"] = "somebody"

    def number(document: dict[str, Any]) -> None:
        document["inclusion"]["entry"] = "2"

    def path(document: dict[str, Any]) -> None:
        document["inclusion"]["path"][0] = flip(document["inclusion"]["path"][0])

    def shorter(document: dict[str, Any]) -> None:
        document["inclusion"]["path"].pop()

    def earlier_root(document: dict[str, Any]) -> None:
        document["consistency"]["root"] = flip(document["consistency"]["root"])

    def earlier_size(document: dict[str, Any]) -> None:
        document["consistency"]["size"] = "4"

    def root(document: dict[str, Any]) -> None:
        document["head"]["root"] = flip(document["head"]["root"])

    def signature(document: dict[str, Any]) -> None:
        document["head"]["signature"] = flip(document["head"]["signature"])

    def moment(document: dict[str, Any]) -> None:
        document["head"]["at"] = "2025-01-01T00:00:00Z"

    made = (act, number, path, shorter, earlier_root, earlier_size, root, signature, moment)
    return {change.__name__: change for change in made}


@pytest.mark.parametrize("name", sorted(_changes()))
def test_a_changed_proof_does_not_hold(
    ledger: Ledger, tmp_path: Path, trust: Path, name: str
) -> None:
    path = _file(tmp_path, _prove(ledger, entry=1, from_size=3))
    assert verify_any(path, [trust]).outcome is Outcome.MET
    document = json.loads(path.read_bytes())
    _changes()[name](document)
    path.write_bytes(canonical_json(document))
    report = verify_any(path, [trust])
    assert report.outcome is Outcome.NOT_MET
    assert report.exit_status == 1


def test_a_proof_under_another_key_does_not_hold(
    ledger: Ledger, tmp_path: Path, trust: Path
) -> None:
    leaves = [entry.raw for entry in ledger.log.entries()]
    other = sign_head(tree_head(leaves), Ed25519PrivateKey.generate(), at=AT)
    document = {**_prove(ledger, entry=1).document, "head": other.as_dict()}
    report = verify_any(_file(tmp_path, Proof(other, document)), [trust])
    assert report.outcome is Outcome.NOT_MET
    assert some_keys().key_id in "\n".join(report.lines())


def test_entry_unknown_is_refused_with_what_there_is(ledger: Ledger) -> None:
    for asked in ({"entry": 6}, {"act": "ab" * 32}, {"from_size": 7}):
        with pytest.raises(EntryUnknown, match="LEDG-034"):
            _prove(ledger, **asked)
    assert len(ledger.log.heads()) == 1


def test_a_damaged_ledger_proves_nothing(ledger: Ledger) -> None:
    entries = ledger.log._entries  # type: ignore[attr-defined]
    entries[2], entries[3] = entries[3], entries[2]
    with pytest.raises(LedgerDamaged, match="entry 2"):
        _prove(ledger, entry=0)


@pytest.mark.parametrize(
    "text",
    [
        b"{}",
        b'{"format":"lapwright-proof/2"}',
        b'{"format":"lapwright-proof/1"}',
        b'{"format":"lapwright-proof/1","head":[]}',
        b'{"format":"lapwright-proof/1","head":{"size":"x"}}',
        b"{" * 50,
        b'{"a":' * 20_000,
    ],
)
def test_proof_refused_for_what_is_none(tmp_path: Path, trust: Path, text: bytes) -> None:
    (tmp_path / "p.json").write_bytes(text)
    with pytest.raises(ProofRefused, match="LEDG-033"):
        verify_any(tmp_path / "p.json", [trust])


@pytest.mark.parametrize("part", ["entry", "act", "path"])
def test_a_proof_with_a_part_of_another_kind_is_refused(
    ledger: Ledger, tmp_path: Path, trust: Path, part: str
) -> None:
    document = json.loads(_prove(ledger, entry=1).to_bytes())
    for value in ("x", ["zz"], {}, None):
        document["inclusion"][part] = value
        (tmp_path / "p.json").write_bytes(json.dumps(document).encode())
        try:
            assert verify_any(tmp_path / "p.json", [trust]).outcome is Outcome.NOT_MET
        except ProofRefused:
            continue


def test_nothing_to_check_is_said_of_a_folder_of_another_kind(tmp_path: Path, trust: Path) -> None:
    with pytest.raises(NothingToCheck, match="LEDG-032"):
        verify_any(tmp_path, [trust])


def test_an_export_is_checked_like_its_own_script(
    ledger: Ledger, tmp_path: Path, trust: Path
) -> None:
    export_ledger(tmp_path / "out", ledger, keys=some_keys(), at=AT)
    report = verify_any(tmp_path / "out", [trust])
    assert report.outcome is Outcome.MET
    assert report.as_dict()["kind"] == "export"
    assert verify_any(tmp_path / "out", []).outcome is Outcome.UNDETERMINED
    (tmp_path / "out" / "acts.jsonl").write_bytes(b"")
    report = verify_any(tmp_path / "out", [trust])
    assert report.outcome is Outcome.NOT_MET
    assert any("acts.jsonl: ends early: entry 0 is missing" in line for line in report.lines())


def _token() -> str:
    keys = some_keys()
    claims = claims_of("TLH-01", "2", payload_sha256="ab" * 32, key_id=keys.key_id)
    return make_token(claims, keys.token_key)


@pytest.mark.parametrize("before", ["", "https://invented.example/check#"])
def test_a_token_is_checked_as_text_and_as_a_file(tmp_path: Path, trust: Path, before: str) -> None:
    (tmp_path / "token.txt").write_text(f"{before}{_token()}\n")
    for path in (tmp_path / "token.txt", Path(before + _token())):
        report = verify_any(path, [trust])
        assert report.outcome is Outcome.MET
        told = "\n".join(report.lines())
        assert all(part in told for part in ("TLH-01", "revision 2", "ab" * 32))


def test_a_changed_token_is_refused(trust: Path) -> None:
    """Each character of the signature by itself, the last with its unused bits among them."""
    head, claims, signature = _token().split(".")
    for place, held in enumerate(signature):
        other = "B" if held == "A" else "A"
        changed = signature[:place] + other + signature[place + 1 :]
        with pytest.raises(TokenRefused):
            verify_any(Path(f"{head}.{claims}.{changed}"), [trust])


def test_a_token_without_a_trust_file_is_not_checked(tmp_path: Path) -> None:
    with pytest.raises(VerifyTrustMissing):
        verify_any(Path(_token()), [tmp_path / "nowhere.pem"])


def test_a_proof_of_an_empty_tree_proves_no_entry(tmp_path: Path, trust: Path) -> None:
    head = sign_head(TreeHead(0, hashlib.sha256().digest()), some_keys().token_key, at=AT)
    found = {"entry": "0", "act": {"type": "X"}, "path": []}
    document = {"format": "lapwright-proof/1", "head": head.as_dict(), "inclusion": found}
    report = verify_any(_file(tmp_path, Proof(head, document)), [trust])
    assert report.outcome is Outcome.NOT_MET
