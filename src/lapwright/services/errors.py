"""Refusals of the use cases, by prefix.

CASE for case folders, ISSUE for records, VERIFY for checks, BATCH for many
photographs and the workers that read them, PAPER for records made elsewhere, their
comparison, instruments and credentials, FORCE for what is in force.

Longer than the house's size: a list of short classes, looked up by their codes.
"""

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
    """Filed readings or looks have left the case without a reason."""

    code = "ISSUE-006"


class NotARecord(LapwrightError):
    """The file to verify is not a record of this tool."""

    code = "VERIFY-001"


class VerifyTrustMissing(LapwrightError):
    """The certificate file to verify against is not there."""

    code = "VERIFY-002"


class MapsInsideCase(LapwrightError):
    """Joint maps were to be written into the case folder, which judging never writes to."""

    code = "CASE-028"


class ClockRefused(LapwrightError):
    """A position round the tube that is neither a clock position nor an angle."""

    code = "CASE-029"


class BatchEmpty(LapwrightError):
    """There is no photograph at the place given."""

    code = "BATCH-001"


class SidecarRefused(LapwrightError):
    """A sidecar file holds an unknown key, or something else than expected."""

    code = "BATCH-002"


class SidecarTwice(LapwrightError):
    """A photograph has two sidecars."""

    code = "BATCH-003"


class SidecarAlone(LapwrightError):
    """A sidecar names a photograph that is not there."""

    code = "BATCH-004"


class ResultsDamaged(LapwrightError):
    """``faces.jsonl`` holds lines that this tool did not write."""

    code = "BATCH-005"


class ResultsBusy(LapwrightError):
    """Another run is writing into the same folder."""

    code = "BATCH-006"


class BatchStopped(LapwrightError):
    """The run was stopped by hand before its end."""

    code = "BATCH-007"


class BatchIncomplete(LapwrightError):
    """Some photographs of a finished run could not be tried."""

    code = "BATCH-008"


class WorkerFailed(LapwrightError):
    """The program failed on one item in a way nobody foresaw."""

    code = "BATCH-009"


class WorkerTimedOut(LapwrightError):
    """A worker gave no answer in time."""

    code = "BATCH-010"


class WorkerLost(LapwrightError):
    """The worker ended while it was at one item, again and again."""

    code = "BATCH-011"


class SchedulerUnreached(LapwrightError):
    """The scheduler of a cluster does not answer, or was lost."""

    code = "BATCH-012"


class WorkersUnfit(LapwrightError):
    """The workers of a cluster are missing, or have another program than this machine."""

    code = "BATCH-013"


class ClusterPackagesMissing(LapwrightError):
    """The packages for a cluster are not installed."""

    code = "BATCH-014"


class PhotoChanged(LapwrightError):
    """A photograph changed while it was being read."""

    code = "BATCH-015"


class RecordNotWhole(LapwrightError):
    """A record that is not signed or was changed after signing is asked what it covers."""

    code = "VERIFY-003"


class PaperNumberRefused(LapwrightError):
    """An id, a mark or a record's number looks like (part of) a government number."""

    code = "PAPER-001"


class PaperScanRefused(LapwrightError):
    """A scan is no PDF, PNG or JPEG file, or several were given where one is wanted."""

    code = "PAPER-002"


class PaperMaskRefused(LapwrightError):
    """A region to mask lies outside its page, has no size, or names a page that is not there."""

    code = "PAPER-003"


class PaperNumberUnsaid(LapwrightError):
    """A scan has no region to mask and nobody says that it shows no government number."""

    code = "PAPER-004"


class PaperPdfRefused(LapwrightError):
    """A PDF scan is to be masked, or nobody says that it shows no government number."""

    code = "PAPER-005"


class PaperTwice(LapwrightError):
    """A paper record of that id, or with that scan, is in the ledger already."""

    code = "PAPER-006"


class PaperUnknown(LapwrightError):
    """No paper record of that id is in the ledger on that day."""

    code = "PAPER-007"


class PaperOwnCheck(LapwrightError):
    """The person who typed a record, or its brazer, was to check it."""

    code = "PAPER-008"


class PaperConfirmationRefused(LapwrightError):
    """A confirmation names another employer, or brings nothing of that employer."""

    code = "PAPER-009"


class PaperDatesRefused(LapwrightError):
    """Two dates of a paper record, a check or a doubt stand in the wrong order."""

    code = "PAPER-010"


class CompareFileRefused(LapwrightError):
    """A file to compare is none of the forms that can be compared."""

    code = "PAPER-011"


class CompareRowsRefused(LapwrightError):
    """Rows of a CSV of uses or joints do not fit."""

    code = "PAPER-012"


class CompareNoteRefused(LapwrightError):
    """A note of acceptance was written after the signature, or by the brazer."""

    code = "PAPER-013"


class InstrumentUnknown(LapwrightError):
    """An instrument that is not in the register."""

    code = "PAPER-014"


class DoubtUnknown(LapwrightError):
    """A doubt that is not in the ledger, or is cleared already."""

    code = "PAPER-015"


class TextEmpty(LapwrightError):
    """A reason, a name or another text that has to be stated is empty."""

    code = "PAPER-016"


class PaperConfirmationScan(LapwrightError):
    """A confirmation brings nothing but the scan of a paper that is in the ledger."""

    code = "PAPER-020"


class PaperConfirmationOwn(LapwrightError):
    """A confirmation was to be filed by the brazer, or by somebody enrolled as a brazer only."""

    code = "PAPER-021"


class PersonOther(LapwrightError):
    """A person's id stands for another name in the ledger."""

    code = "ISSUE-010"


class RecordUnknown(LapwrightError):
    """The ledger holds no record of this number or revision."""

    code = "ISSUE-011"


class RecordIsWithdrawn(LapwrightError):
    """The record was withdrawn, so it is neither issued again nor signed."""

    code = "ISSUE-012"


class RecordNotLatest(LapwrightError):
    """The file is not the latest one of its record that the ledger knows."""

    code = "ISSUE-013"


class HandRefused(LapwrightError):
    """A key file with which no one can sign a record: no pair, locked, or of another kind."""

    code = "ISSUE-014"


class KeyOfProgramme(LapwrightError):
    """The programme's own key was given to certify or accept its own record."""

    code = "ISSUE-015"


class ScanRefused(LapwrightError):
    """A scan or a comparison that cannot be filed: missing, empty, too large, another kind."""

    code = "ISSUE-016"


class SignerRefused(LapwrightError):
    """A person who may not sign for this record."""

    code = "ISSUE-017"


class CertifiedAlready(LapwrightError):
    """The record was certified already, or this employer has accepted it."""

    code = "ISSUE-018"


class NotCertified(LapwrightError):
    """A record that its employer has not certified is to be accepted by a later one."""

    code = "ISSUE-019"


class DayRefused(LapwrightError):
    """A day of signing or withdrawing before the record's issue, or in the future."""

    code = "ISSUE-020"


class ReasonMissing(LapwrightError):
    """A withdrawal or the removal of a name without a reason."""

    code = "ISSUE-021"


class PersonUnknown(LapwrightError):
    """The ledger holds nobody of this id."""

    code = "ISSUE-022"


class DataMissing(LapwrightError):
    """A ledger is asked about, and the folder holds none."""

    code = "ISSUE-023"


class MarkTaken(LapwrightError):
    """A brazer mark that belongs to another person of the programme."""

    code = "ISSUE-040"


class FiledNotWritten(LapwrightError):
    """The signature was filed, and its PDF could not be written to the folder asked for."""

    code = "ISSUE-041"


class FolderStale(LapwrightError):
    """A case folder that would take back what was corrected since, without saying why."""

    code = "ISSUE-042"


class ComparisonRefused(LapwrightError):
    """A file that is no comparison of this tool, or one of another record, employer or day."""

    code = "ISSUE-030"


class KeyOfAnother(LapwrightError):
    """A key or certificate that has signed for another person."""

    code = "ISSUE-031"


class ReasonHoldsName(LapwrightError):
    """A reason that would keep a person's name in an entry for good."""

    code = "ISSUE-032"


class PaperOther(LapwrightError):
    """A paper was to be corrected by the YAML of another paper."""

    code = "PAPER-030"


class JointFileRefused(LapwrightError):
    """A list of joints that is missing, too large, or neither CSV nor a workbook."""

    code = "JOINT-001"


class MappingRefused(LapwrightError):
    """The file of columns does not fit the list: no such column, a field given twice."""

    code = "JOINT-002"


class MappingNotConfirmed(LapwrightError):
    """Nobody has confirmed which column means what, and in which units."""

    code = "JOINT-003"


class JointsEmpty(LapwrightError):
    """No row of the list could be read as a joint."""

    code = "JOINT-004"


class JointLinesRefused(LapwrightError):
    """A file of read joints that this tool did not write, or that was changed."""

    code = "JOINT-005"


class CoverNobody(LapwrightError):
    """The ledger or the cases hold nobody with a qualification on the day asked about."""

    code = "COVER-001"


class CoverDaysRefused(LapwrightError):
    """The later day asked about does not lie after the day of the cover."""

    code = "COVER-002"


class CoverEmployers(LapwrightError):
    """The sources serve several employers, and it is not said for which the cover is asked."""

    code = "COVER-003"


class UseRefused(LapwrightError):
    """A use that cannot be attested: in the future, or by the brazer."""

    code = "FORCE-001"


class BrazerUnknown(LapwrightError):
    """The ledger, or the cases named, speak of nobody of this id."""

    code = "FORCE-002"


class BasisUnclear(LapwrightError):
    """It is not clear under which basis a record from paper is judged."""

    code = "FORCE-003"


class SpanRefused(LapwrightError):
    """A span of days that is none, such as ``60d``."""

    code = "FORCE-004"
