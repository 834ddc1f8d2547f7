"""Refusals of the ledger (prefix LEDG)."""

from __future__ import annotations

from lapwright.core.errors import LapwrightError


class TreeRefused(LapwrightError):
    """A leaf index or a tree size that does not exist."""

    code = "LEDG-001"


class KeysRefused(LapwrightError):
    """A key folder that cannot be used: a file missing, unreadable or of another kind."""

    code = "LEDG-002"


class PassphraseRefused(LapwrightError):
    """A passphrase that is missing, wrong or not needed."""

    code = "LEDG-003"


class TrustRefused(LapwrightError):
    """A trust file that does not hold one certificate and one token key."""

    code = "LEDG-004"


class StreamMoved(LapwrightError):
    """Somebody else has added to a stream since the writer looked."""

    code = "LEDG-005"


class FilesRefused(LapwrightError):
    """A file that cannot be kept beside the ledger."""

    code = "LEDG-006"


class FileGone(LapwrightError):
    """A file of the ledger that is missing or holds something else."""

    code = "LEDG-007"
