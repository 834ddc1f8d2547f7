"""The certificates that a checker trusts: a programme's trust file, and those of later signers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from lapwright.ledger.trust import Trust, holds_token_key, read_certificate, read_trust

from .errors import VerifyTrustMissing

if TYPE_CHECKING:
    from cryptography.x509 import Certificate


@dataclass(frozen=True)
class Trusted:
    """Trust files of programmes, at least one, and certificates of others who sign."""

    programmes: tuple[Trust, ...]
    others: tuple[Certificate, ...]

    @property
    def certificates(self) -> list[Certificate]:
        """Every certificate that is trusted."""
        return [*(t.certificate for t in self.programmes), *self.others]

    def programme_of(self, certificate: Certificate | None) -> Trust:
        """Return the programme that a certificate belongs to, or the first one given."""
        found = (t for t in self.programmes if t.certificate == certificate)
        return next(found, self.programmes[0])


def read_trusted(paths: Sequence[Path]) -> Trusted:
    """Read trust files: a programme's ``trust.pem``, and certificates of later signers.

    Raises
    ------
    VerifyTrustMissing
        If a file cannot be read, or none is that of a programme.
    TrustRefused
        If a file holds something else.
    """
    found = [(path, _read(path)) for path in paths]
    programmes = tuple(read_trust(data) for _, data in found if holds_token_key(data) == "yes")
    others = tuple(read_certificate(data) for _, data in found if holds_token_key(data) == "no")
    if not programmes:
        raise VerifyTrustMissing(
            "no trust file of a programme",
            got=", ".join(str(path) for path in paths) or "none",
            expected="the issuer's trust.pem among the files given",
            do="Give the issuer's trust.pem as --trust, and other certificates besides it.",
        )
    return Trusted(programmes, others)


def _read(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as fault:
        raise VerifyTrustMissing(
            "no certificate to check against",
            got=f"{path}",
            expected="the issuer's trust.pem",
            do=f"Ask the issuer for trust.pem and give it as --trust ({fault.strerror}).",
        ) from fault
