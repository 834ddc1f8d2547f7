"""Refusals of the desk (prefix DESK)."""

from __future__ import annotations

from lapwright.core.errors import LapwrightError


class StoreFull(LapwrightError):
    """No room is left where the ledger is kept."""

    code = "DESK-001"


class StoreReadOnly(LapwrightError):
    """The ledger may be read but not written, or not even read."""

    code = "DESK-002"


class StoreBusy(LapwrightError):
    """Another program has kept the ledger locked for too long."""

    code = "DESK-003"


class StoreUnreachable(LapwrightError):
    """The database of the ledger cannot be opened or has gone away."""

    code = "DESK-004"


class StoreDamaged(LapwrightError):
    """The file is no database, is damaged, or lacks tables."""

    code = "DESK-005"


class ActsRefused(LapwrightError):
    """The guards of the database refused acts that do not continue the chain."""

    code = "DESK-006"


class GuardsRefused(LapwrightError):
    """Guards against change are missing or altered and cannot be put back."""

    code = "DESK-007"


class StoreTooNew(LapwrightError):
    """A ledger written by a later release."""

    code = "DESK-008"


class AddressRefused(LapwrightError):
    """The address of a database that is none, or whose driver is not installed."""

    code = "DESK-009"


class ChainBroken(LapwrightError):
    """Acts do not fit their chain: somebody has changed the ledger."""

    code = "DESK-010"


class TextRefused(LapwrightError):
    """The name of a stream, or a personal value, that a database cannot keep."""

    code = "DESK-011"


class RowRefused(LapwrightError):
    """A row of the database that holds other kinds of values than were written."""

    code = "DESK-012"


class AlarmStands(LapwrightError):
    """An earlier opening has found the ledger changed, and nobody has dealt with it."""

    code = "DESK-013"
