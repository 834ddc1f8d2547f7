"""Refusals of the use cases: CASE for case folders, ISSUE for records, VERIFY for checks."""

from __future__ import annotations

from lapwright.core.errors import LapwrightError


class CaseNotFound(LapwrightError):
    """There is no readable case folder or file at the place given."""

    code = "CASE-001"


class CaseKeyRefused(LapwrightError):
    """A key of ``case.yaml`` is missing, unknown or holds something else than expected."""

    code = "CASE-002"


class CaseDatesRefused(LapwrightError):
    """Two dates of a case stand in the wrong order."""

    code = "CASE-003"


class CaseNameUnknown(LapwrightError):
    """A key names a person or an instrument that the case does not list."""

    code = "CASE-004"


class CaseFileRefused(LapwrightError):
    """A file named by the case is missing, too large, or outside the folder."""

    code = "CASE-005"


class CaseIdTwice(LapwrightError):
    """Two coupons, joints or faces of a case carry one id."""

    code = "CASE-006"


class CaseContradiction(LapwrightError):
    """Two keys of a case contradict each other."""

    code = "CASE-007"


class TickRefused(LapwrightError):
    """A tick of the booklet does not repeat the figure of the rule it confirms."""

    code = "CASE-008"


class OutputRefused(LapwrightError):
    """The folder or file to write cannot be written."""

    code = "ISSUE-001"


class CaseOpen(LapwrightError):
    """The case is still open, so no record can be issued."""

    code = "ISSUE-002"


class NothingQualified(LapwrightError):
    """No flow position passed, so there is nothing to issue a record for."""

    code = "ISSUE-003"


class CaseHasLater(LapwrightError):
    """The day asked about lies before an entry of the case, or after the day of issue."""

    code = "ISSUE-004"


class PapersNotMet(LapwrightError):
    """The procedure or another paper of the case is not met, so no record can be issued."""

    code = "ISSUE-005"


class EntriesGone(LapwrightError):
    """Readings or looks of an issued record have left the case without a reason."""

    code = "ISSUE-006"


class NotARecord(LapwrightError):
    """The file to verify is not a record of this tool."""

    code = "VERIFY-001"


class VerifyTrustMissing(LapwrightError):
    """The certificate file to verify against is not there."""

    code = "VERIFY-002"


class RecordNotWhole(LapwrightError):
    """A record that is not signed or was changed after signing is asked what it covers."""

    code = "VERIFY-003"
