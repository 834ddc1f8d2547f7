"""Issue the signed record of a case, through the ledger.

File the case → judge what the ledger holds of it, with the programme's acts that
bear on it → keep the record's parts → ``RecordIssued`` with the next number of
the register → sign the tree head over all entries up to it → typeset → sign →
keep the PDF → ``RecordSigned``. An open case yields no record. Issuing the same
case again gives the same record, byte for byte; a case that has changed since
gets the next revision, and the earlier one stays. Where the program was stopped
between ``RecordIssued`` and ``RecordSigned``, the next issue completes that
record from the parts kept.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

from lapwright.core.acts import Act
from lapwright.core.fold import PROGRAMME
from lapwright.ledger.errors import StreamMoved
from lapwright.ledger.files import FileStore

from .atomic import make_folder, write_bytes
from .bearing import doubts_after
from .casefolder import LoadedCase, open_case
from .casestream import CaseStream, read_judged
from .errors import CaseHasLater, RecordIsWithdrawn
from .filing import Filed, file_case
from .history import replaces
from .issuable import must_be_decided
from .judging import JudgedCase, judge_acts
from .lastplace import last_subtrees
from .ledgerwriting import write
from .programme import Programme, removed_names
from .qualifiedtests import tests_of
from .recorddata import overlay_digests, overlays_of, record_bytes, record_data, rules_bytes
from .register import RecordState, Revision, record_act, record_state, record_stream, take_number
from .sealing import place_of, seal_record
from .text import word

_TRIES = 20  # how often somebody else may be quicker
_LATER_ONLY = ("overlays", "replaces", "names", "removed")


@dataclass(frozen=True)
class Issued:
    """An issued record: where it lies, its number and digests, new or given again.

    ``as_of`` is the day that the record prints, ``asked`` the day asked about now.
    ``certified`` is the day of the employer's certification, empty before it.
    """

    path: Path
    number: str
    revision: str
    register: str
    payload_sha256: str
    file_sha256: str
    again: str
    as_of: str
    asked: str
    certified: str = ""

    def as_dict(self) -> dict[str, str]:
        """Return the JSON document."""
        return {
            "path": str(self.path),
            "number": self.number,
            "revision": self.revision,
            "register": self.register,
            "payload_sha256": self.payload_sha256,
            "file_sha256": self.file_sha256,
            "issued": "again" if self.again == "yes" else "new",
            "as_of": self.as_of,
            "certified": self.certified,
        }

    def lines(self) -> Iterator[str]:
        """Yield the answer as lines for a terminal."""
        yield word(
            "issue.again" if self.again == "yes" else "issue.new",
            number=self.number,
            revision=self.revision,
            path=str(self.path),
        )
        if self.as_of != self.asked:
            yield word("issue.as_of", as_of=self.as_of, asked=self.asked)
        yield word("issue.register", register=self.register)
        yield word("issue.digest", sha=self.file_sha256)
        if self.certified:
            yield word("record.certified_on", on=self.certified)
        else:
            yield word("record.awaiting")


def issue_case(
    folder: Path,
    programme: Programme,
    *,
    as_of: date,
    out: Path,
    at: datetime,
    progress: Callable[[str], None] | None = None,
) -> Issued:
    """File a case folder and issue its record.

    Parameters
    ----------
    folder : Path
        The case folder.
    programme : Programme
        The ledger, its files, the keys.
    as_of : date
        The civil day asked about.
    out : Path
        Folder to write the record to.
    at : datetime
        The present moment, UTC.
    progress : callable, optional
        Told before each photograph is measured, and what was filed.

    Raises
    ------
    CaseOpen, PapersNotMet, NothingQualified
        If the case is open, its papers are not met, or nothing passed.
    CaseHasLater
        If the case holds something later than ``as_of``, or ``as_of`` lies in the future.
    EntriesGone, PersonOther
        If the folder does not go with what the ledger holds.
    RecordIsWithdrawn
        If the record was withdrawn and the case has not changed since.
    OutputRefused
        If a folder cannot be written.
    """
    _must_not_be_future(as_of, at)
    loaded = open_case(folder, as_of=as_of, secret=programme.keys.salt, progress=progress)
    _must_hold_nothing_later(loaded.id, loaded.acts, as_of)
    case, held, filed = judge_filed(loaded, programme, as_of=as_of, at=at)
    if progress is not None:
        progress(filed.line())
    return issue_judged(case, programme, held=held, out=out, at=at)


def judge_filed(
    loaded: LoadedCase, programme: Programme, *, as_of: date, at: datetime
) -> tuple[JudgedCase, CaseStream, Filed]:
    """File a loaded case and judge what the ledger then holds of it.

    Parameters
    ----------
    loaded : LoadedCase
        The case, loaded with the programme's salt as its secret.
    programme : Programme
        The ledger, its files, the keys.
    as_of : date
        The civil day asked about.
    at : datetime
        The present moment, UTC.

    Raises
    ------
    CaseHasLater
        If a doubt raised after ``as_of`` reaches a figure of the case.
    LapwrightError
        What filing it refuses; see `lapwright.services.filing.file_case`.
    """
    filed = file_case(
        loaded, log=programme.log, files=programme.files, secret=programme.keys.salt, at=at
    )
    held = read_judged(programme.log, loaded.id, as_of=as_of)
    later = tuple(doubts_after(held.bearing, held.standing, as_of=as_of))
    _must_hold_nothing_later(loaded.id, later, as_of)
    case = replace(loaded, log=held.as_log(programme.log))
    return JudgedCase(case, judge_acts(held.judged, as_of=as_of)), held, filed


def issue_judged(
    case: JudgedCase, programme: Programme, *, held: CaseStream, out: Path, at: datetime
) -> Issued:
    """Issue the record of a case judged from the ledger; see `issue_case`.

    Parameters
    ----------
    case : JudgedCase
        The case as `judge_filed` gives it.
    programme : Programme
        The ledger, its files, the keys.
    held : CaseStream
        The acts that were judged.
    out : Path
        Folder to write to.
    at : datetime
        The present moment, UTC.
    """
    must_be_decided(case)
    make_folder(out)
    number = f"{case.loaded.id}-{case.judged.judgement.evidence.mark}"
    revision, again = _issued(case, programme, number, held, at)
    pdf = programme.files.get(revision.files[-1])
    target = out / f"{revision.name}.pdf"
    write_bytes(target, pdf)
    kept = _kept(programme.files, revision)
    certified = revision.certified
    return Issued(
        target,
        number,
        revision.revision,
        revision.act.body["register"],
        revision.act.body["payload_sha256"],
        hashlib.sha256(pdf).hexdigest(),
        again,
        kept["decision"]["as_of"],
        case.judged.judgement.evidence.as_of.isoformat(),
        certified.happened_on.isoformat() if certified else "",
    )


def _must_not_be_future(as_of: date, at: datetime) -> None:
    # The civil day of the place may be ahead of UTC by up to 14 hours.
    latest = (at.astimezone(UTC) + timedelta(hours=14)).date()
    if as_of > latest:
        raise CaseHasLater(
            "the day asked about lies in the future",
            where="--as-of",
            got=as_of.isoformat(),
            expected=f"{latest.isoformat()} or earlier",
            do="Issue as of today, or as of the last entry of the case.",
        )


def _must_hold_nothing_later(case: str, acts: Sequence[Act], as_of: date) -> None:
    """Refuse a day before the last entry: a record would pass over what is known."""
    later = [a for a in acts if a.happened_on > as_of]
    if later:
        last = max(a.happened_on for a in later)
        raise CaseHasLater(
            "the case holds entries after the day asked about "
            f"({', '.join(sorted({a.type for a in later}))})",
            where=case,
            got=as_of.isoformat(),
            expected=f"{last.isoformat()} or later",
            do=f"Issue as of the last entry, {last.isoformat()}, or later.",
        )


def _issued(
    case: JudgedCase, programme: Programme, number: str, held: CaseStream, at: datetime
) -> tuple[Revision, str]:
    """Return the signed revision, and whether it was there before."""
    for _ in range(_TRIES - 1):
        try:
            return _try_to_issue(case, programme, number, held, at)
        except StreamMoved:
            continue  # somebody else took the number, or issued this very record
    return _try_to_issue(case, programme, number, held, at)


def _try_to_issue(
    case: JudgedCase, programme: Programme, number: str, held: CaseStream, at: datetime
) -> tuple[Revision, str]:
    state = complete(programme, number, at=at)
    latest = state.latest
    before: dict[str, Any] = {}
    if latest is not None:
        kept = _kept(programme.files, latest)
        same = _same(case, kept)
        if same == "yes" and latest.withdrawn is None:
            return latest, "yes"
        before = _before(case, latest, kept, held, same)
    _new_revision(case, programme, state, before, at)
    made = complete(programme, number, at=at).latest
    if made is None:  # the entry was appended above
        raise LookupError(number)
    return made, "no"


def _kept(files: FileStore, revision: Revision) -> dict[str, Any]:
    kept: dict[str, Any] = json.loads(files.get(revision.act.body["payload_sha256"]))
    return kept


def _same(case: JudgedCase, kept: Mapping[str, Any]) -> str:
    """Say whether the case is that of the record; a later day alone is no change."""
    data = record_data(case, number=kept["number"], revision=kept["revision"])
    data["decision"]["as_of"] = kept["decision"]["as_of"]
    return "yes" if _compared(data) == _compared(kept) else "no"


def _compared(data: Mapping[str, Any]) -> bytes:
    """Return what makes a record another one.

    Names follow from the acts' commitments, pictures from photographs that the acts name.
    What the programme filed since changes a record where it changes the decision, not alone.
    """
    kept = {k: v for k, v in data.items() if k not in _LATER_ONLY}
    own = [act for act in data["acts"] if act.get("stream") != PROGRAMME]
    return record_bytes({**kept, "acts": own})


def _before(
    case: JudgedCase, latest: Revision, kept: Mapping[str, Any], held: CaseStream, same: str
) -> dict[str, Any]:
    """Return what the next revision says of the latest one; refuse a withdrawn, unchanged one."""
    acts = record_data(case, number=latest.record, revision="0")["acts"]
    told = replaces(kept, acts, held.voids)
    told["payload_sha256"] = latest.act.body["payload_sha256"]
    if latest.withdrawn is None:
        return told
    why, written = latest.withdrawn, case.loaded.document["written"]
    if same == "yes" and not written.get("reason"):
        raise RecordIsWithdrawn(
            f"the record was withdrawn on {why.happened_on} and the case is unchanged",
            got=why.body["reason"],
            where=latest.name,
            expected="a case that has changed since, or 'written.reason'",
            do="Mend the case, or say under 'written.reason' why a new revision is due.",
        )
    told["withdrawn"] = {"on": why.happened_on.isoformat(), "reason": why.body["reason"]}
    if same == "yes":
        told["reasons"].append({"by": written["by"], "reason": written["reason"]})
    return told


def _new_revision(
    case: JudgedCase,
    programme: Programme,
    state: RecordState,
    before: Mapping[str, Any],
    at: datetime,
) -> None:
    """Keep the parts of the next revision and file ``RecordIssued``, which names them."""
    evidence = case.judged.judgement.evidence
    overlays = overlays_of(case)
    revision = str(int(state.latest.revision) + 1 if state.latest else 1)
    data = record_data(case, number=state.number, revision=revision)
    if before:
        data["replaces"] = before
    people = {p.id: p.commitment for p in evidence.people.values()}
    if removed := removed_names(programme.log, people):
        data["removed"] = removed
    data["overlays"] = overlay_digests(overlays)
    put = programme.files.put
    payload, rules = put(record_bytes(data)), put(rules_bytes(case.judged))
    body = {
        "payload_sha256": payload,
        "rules_sha256": rules,
        "person": evidence.brazer,
        "case": case.loaded.id,
        "as_of": evidence.as_of.isoformat(),
        "employer": evidence.employer,
        "tests": tests_of(case.judged.judgement),
    }
    pictures = [put(png) for _, png in sorted(overlays.items())]
    take_number(programme.log, state, body, files=dict.fromkeys([payload, rules, *pictures]), at=at)


def complete(programme: Programme, number: str, *, at: datetime) -> RecordState:
    """Sign what was issued and not yet signed, from the parts kept; return the state then.

    Parameters
    ----------
    programme : Programme
        The ledger, its files, the keys.
    number : str
        The record's number.
    at : datetime
        The present moment, UTC: when ``RecordSigned`` is written.
    """
    state = record_state(programme.log, number)
    latest = state.latest
    if latest is None or latest.signed is not None or latest.withdrawn is not None:
        return state
    files, body = programme.files, latest.act.body
    data = _kept(files, latest)
    overlays = {face: files.get(sha) for face, sha in data["overlays"].items()}
    behind = last_subtrees(programme, before=latest.issued.seq)
    placed = place_of(programme.log, latest.issued, programme.keys, behind=behind)
    programme.log.put_head(placed.head)
    rules = json.loads(files.get(body["rules_sha256"]))
    pdf = seal_record(data, rules, overlays, placed=placed, keys=programme.keys)
    digest = files.put(pdf)
    signed = record_act("RecordSigned", latest, {"file_sha256": digest}, by="programme", at=at)
    write(
        programme.log,
        [replace(signed, files=(digest,))],
        expect={record_stream(number): state.count},
    )
    return record_state(programme.log, number)
