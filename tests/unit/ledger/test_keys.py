"""Keys are made once, kept private, and told apart when something is wrong."""

from __future__ import annotations

import multiprocessing
import shutil
import stat
import subprocess
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

from lapwright.ledger import keys as module
from lapwright.ledger.errors import KeysRefused, PassphraseRefused, TrustRefused
from lapwright.ledger.keys import CERTIFICATE, SALT, SIGNING, TOKEN, TRUST, Keys, open_keys
from lapwright.ledger.trust import read_trust, trust_pem

MADE = datetime(2026, 3, 1, 8, 0, tzinfo=UTC)
LATER = MADE + timedelta(days=400)
FILES = {SIGNING, CERTIFICATE, TOKEN, SALT, TRUST}


def made(folder: Path, passphrase: bytes | None = None) -> Keys:
    return open_keys(folder / "keys", made_at=MADE, passphrase=passphrase)


def public(keys: Keys) -> tuple[bytes, bytes]:
    return (
        keys.signing_key.public_key().public_bytes(Encoding.DER, PublicFormat.SubjectPublicKeyInfo),
        keys.token_key.public_key().public_bytes_raw(),
    )


def _open_in_child(folder: str) -> str:
    return open_keys(Path(folder), made_at=MADE).key_id


def test_the_second_opening_gives_the_same_keys_and_changes_no_file(tmp_path: Path) -> None:
    first = made(tmp_path)
    before = {p.name: p.read_bytes() for p in (tmp_path / "keys").iterdir()}
    again = open_keys(tmp_path / "keys", made_at=LATER, holder="another")
    assert public(again) == public(first)
    assert (again.certificate, again.salt) == (first.certificate, first.salt)
    assert {p.name: p.read_bytes() for p in (tmp_path / "keys").iterdir()} == before
    assert set(before) == FILES
    assert list(tmp_path.iterdir()) == [tmp_path / "keys"]


def test_files_and_folder_are_readable_by_their_owner_only(tmp_path: Path) -> None:
    made(tmp_path)
    folder = tmp_path / "keys"
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    assert {stat.S_IMODE(p.stat().st_mode) for p in folder.iterdir()} == {0o600}


def test_the_certificate_lives_twenty_years_and_signs_documents_only(tmp_path: Path) -> None:
    certificate = made(tmp_path).certificate
    usage = certificate.extensions.get_extension_for_class(x509.KeyUsage).value
    assert certificate.not_valid_before_utc == MADE
    assert certificate.not_valid_after_utc == MADE.replace(year=2046)
    assert (usage.digital_signature, usage.content_commitment) == (True, True)
    assert not (usage.key_cert_sign)
    assert not (usage.crl_sign)
    assert not (usage.key_encipherment)


def test_a_certificate_from_a_leap_day_ends_on_the_first_of_march(tmp_path: Path) -> None:
    leap = open_keys(tmp_path / "k", made_at=datetime(2080, 2, 29, tzinfo=UTC))
    assert leap.certificate.not_valid_after_utc == datetime(2100, 3, 1, tzinfo=UTC)


def test_openssl_reads_the_certificate_and_its_own_signature(tmp_path: Path) -> None:
    """Outside witness: the openssl command."""
    made(tmp_path)
    path = str(tmp_path / "keys" / CERTIFICATE)
    told = subprocess.run(
        [
            "openssl",
            "verify",
            "-check_ss_sig",
            "-attime",
            str(int(LATER.timestamp())),
            "-CAfile",
            path,
            path,
        ],
        capture_output=True,
        text=True,
        check=False,
    )
    assert told.stdout.strip().endswith(": OK"), told.stdout + told.stderr
    text = subprocess.run(
        ["openssl", "x509", "-in", path, "-noout", "-text"],
        capture_output=True,
        text=True,
        check=True,
    ).stdout
    assert "Digital Signature, Non Repudiation" in text
    assert "CA:FALSE" in text


def test_a_passphrase_locks_both_private_keys(tmp_path: Path) -> None:
    keys = made(tmp_path, b"copper")
    for name in (SIGNING, TOKEN):
        assert b"BEGIN ENCRYPTED PRIVATE KEY" in (tmp_path / "keys" / name).read_bytes()
    assert public(made(tmp_path, b"copper")) == public(keys)


@pytest.mark.parametrize("wrong", [None, b"silver"])
def test_locked_keys_refuse_a_missing_or_wrong_passphrase(
    tmp_path: Path, wrong: bytes | None
) -> None:
    made(tmp_path, b"copper")
    with pytest.raises(PassphraseRefused, match="LEDG-003") as refusal:
        made(tmp_path, wrong)
    assert "silver" not in str(refusal.value)


def test_open_keys_refuse_a_passphrase(tmp_path: Path) -> None:
    made(tmp_path)
    with pytest.raises(PassphraseRefused, match="not locked"):
        made(tmp_path, b"copper")


def test_an_empty_passphrase_is_refused_before_anything_is_made(tmp_path: Path) -> None:
    with pytest.raises(PassphraseRefused, match="empty"):
        made(tmp_path, b"")
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("name", sorted(FILES))
def test_a_missing_file_is_named_and_never_made_anew(tmp_path: Path, name: str) -> None:
    made(tmp_path)
    (tmp_path / "keys" / name).unlink()
    with pytest.raises(KeysRefused, match=name):
        made(tmp_path)
    assert not (tmp_path / "keys" / name).exists()


@pytest.mark.parametrize("name", sorted(FILES))
def test_a_damaged_file_is_refused(tmp_path: Path, name: str) -> None:
    made(tmp_path)
    (tmp_path / "keys" / name).write_bytes(b"no key")
    with pytest.raises((KeysRefused, TrustRefused)):
        made(tmp_path)


@pytest.mark.parametrize("name", [SIGNING, CERTIFICATE, TOKEN, TRUST])
def test_a_file_of_another_programme_is_refused(tmp_path: Path, name: str) -> None:
    made(tmp_path)
    open_keys(tmp_path / "other", made_at=MADE)
    shutil.copy(tmp_path / "other" / name, tmp_path / "keys" / name)
    with pytest.raises(KeysRefused, match="LEDG-002"):
        made(tmp_path)


@pytest.mark.parametrize(("source", "target"), [(TOKEN, SIGNING), (SIGNING, TOKEN)])
def test_a_key_of_the_wrong_kind_is_refused(tmp_path: Path, source: str, target: str) -> None:
    made(tmp_path)
    shutil.copy(tmp_path / "keys" / source, tmp_path / "keys" / target)
    with pytest.raises(KeysRefused, match="private key"):
        made(tmp_path)


def test_a_folder_with_other_files_is_left_as_it_is(tmp_path: Path) -> None:
    (tmp_path / "keys").mkdir()
    (tmp_path / "keys" / "letter.txt").write_text("mine")
    with pytest.raises(KeysRefused, match="empty or absent"):
        made(tmp_path)
    assert [p.name for p in (tmp_path / "keys").iterdir()] == ["letter.txt"]
    assert list(tmp_path.iterdir()) == [tmp_path / "keys"]


def test_a_time_without_offset_is_refused(tmp_path: Path) -> None:
    with pytest.raises(KeysRefused, match="offset"):
        open_keys(tmp_path / "keys", made_at=datetime(2026, 3, 1))


def test_first_runs_at_the_same_moment_end_with_one_set_of_keys(tmp_path: Path) -> None:
    with multiprocessing.get_context("spawn").Pool(3) as pool:
        names = pool.map(_open_in_child, [str(tmp_path / "keys")] * 6)
    assert len(set(names)) == 1


def test_the_trust_file_gives_back_certificate_and_token_key(tmp_path: Path) -> None:
    keys = made(tmp_path)
    data = (tmp_path / "keys" / TRUST).read_bytes()
    assert read_trust(data) == keys.trust
    assert data == trust_pem(keys.trust)
    assert b"PRIVATE" not in data
    assert keys.trust.key_id == keys.key_id
    assert read_trust(data.replace(b"\n", b"\r\n")) == keys.trust


@pytest.mark.parametrize(
    "spoil",
    [
        lambda pem: b"",
        lambda pem: pem + pem,
        lambda pem: pem[: pem.index(b"-----BEGIN PUBLIC")],
        lambda pem: pem.replace(b"MII", b"MIJ", 1),
    ],
)
def test_a_spoilt_trust_file_is_refused(tmp_path: Path, spoil) -> None:
    made(tmp_path)
    with pytest.raises(TrustRefused, match="LEDG-004"):
        read_trust(spoil((tmp_path / "keys" / TRUST).read_bytes()))


def test_a_private_key_is_no_trust_file(tmp_path: Path) -> None:
    made(tmp_path)
    with pytest.raises(TrustRefused, match="never a private key"):
        read_trust((tmp_path / "keys" / SIGNING).read_bytes())


def test_a_trust_file_with_another_kind_of_public_key_is_refused(tmp_path: Path) -> None:
    keys = made(tmp_path)
    pem = keys.signing_key.public_key().public_bytes(
        Encoding.PEM, PublicFormat.SubjectPublicKeyInfo
    )
    with pytest.raises(TrustRefused, match="LEDG-004"):
        read_trust(keys.certificate.public_bytes(Encoding.PEM) + pem)


def test_keys_made_meanwhile_by_another_process_are_taken(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    fresh, others = module._fresh, []

    def late(*given: object) -> dict[str, bytes]:
        monkeypatch.setattr(module, "_fresh", fresh)
        others.append(made(tmp_path))
        return fresh(*given)  # type: ignore[arg-type]

    monkeypatch.setattr(module, "_fresh", late)
    assert public(made(tmp_path)) == public(others[0])
    assert list(tmp_path.iterdir()) == [tmp_path / "keys"]
