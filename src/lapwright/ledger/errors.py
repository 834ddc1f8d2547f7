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


class ExportUnsound(LapwrightError):
    """An export that does not hold, so that nothing is taken from it."""

    code = "LEDG-030"


class LedgerNotEmpty(LapwrightError):
    """A ledger that holds entries already, where an empty one is needed."""

    code = "LEDG-031"


class NothingToCheck(LapwrightError):
    """A file or folder of a kind that cannot be checked."""

    code = "LEDG-032"


class ProofRefused(LapwrightError):
    """A file that is no proof of a ledger, or one of another format."""

    code = "LEDG-033"


class EntryUnknown(LapwrightError):
    """An entry, or an earlier size, that the ledger does not hold."""

    code = "LEDG-034"


class LedgerDamaged(LapwrightError):
    """A ledger whose entries are not as they were chained, so that nothing is made from it."""

    code = "LEDG-035"


class HeadBeyond(LapwrightError):
    """A signed tree head of more entries than the ledger holds."""

    code = "LEDG-060"


class HeadOther(LapwrightError):
    """Entries whose root is not that of the signed tree head over them."""

    code = "LEDG-061"


class HeadForged(LapwrightError):
    """A kept tree head that does not carry the signature of its key."""

    code = "LEDG-062"


class SideOther(LapwrightError):
    """A personal value that does not open the commitment it is kept under."""

    code = "LEDG-063"


class HeadsUnread(LapwrightError):
    """The file of signed heads beside the database cannot be read."""

    code = "LEDG-064"


class BodyRefused(LapwrightError):
    """What is given as the body of a correction is none, or would change a name."""

    code = "LEDG-050"


class BodyKeyUnknown(LapwrightError):
    """A key that names no text in the body of the entry that is to be corrected."""

    code = "LEDG-051"


class NothingCorrected(LapwrightError):
    """A correction that says what the entry says already."""

    code = "LEDG-052"
