"""The case folder: ``case.yaml`` and its files, turned into acts in an in-memory log.

Flow: read strictly → check against the schema → check names, ids, dates and
files → measure the photographs → emit acts → `MemoryLog`. The desk files the
same acts; both are judged by the same services. Nothing is written.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

from lapwright.core.acts import Act, check_mark, check_piece_mark, commitment
from lapwright.core.errors import LapwrightError
from lapwright.core.fold import case_stream
from lapwright.core.times import parse_date
from lapwright.ledger.log import MemoryLog
from lapwright.reference.strictyaml import read_yaml

from . import casechecks, schema
from .casefiles import CaseFiles
from .emit import emit_acts, recorded_at
from .errors import CaseNotFound, TickRefused
from .salts import salt_of

Progress = Callable[[str], None]
DEMO_EMPLOYER = "Quillon Pipeworks"
DEMO_COPY = "invented copy of the demo"


@dataclass(frozen=True)
class LoadedCase:
    """A case folder as acts, with the files and names that stand beside them."""

    id: str
    document: Mapping[str, Any]
    log: MemoryLog
    files: CaseFiles
    names: Mapping[str, str] = field(default_factory=dict)

    @property
    def acts(self) -> tuple[Act, ...]:
        """The acts of the case, oldest first."""
        return tuple(e.act for e in self.log.entries())


def open_case(
    folder: Path,
    *,
    as_of: date | None = None,
    secret: bytes = b"",
    progress: Progress | None = None,
) -> LoadedCase:
    """Read a case folder and return it as acts.

    Parameters
    ----------
    folder : Path
        Folder that holds ``case.yaml``.
    as_of : date, optional
        The civil day that will be asked about; checked before anything slow.
    secret : bytes, optional
        Installation secret from which the salts of name commitments derive;
        empty when nothing is published (`judge`).
    progress : callable, optional
        Told in words before each photograph is measured.

    Raises
    ------
    LapwrightError
        With one coded line for anything that does not fit (CASE-001 to
        CASE-008, REF and MEAS codes).
    """
    path = folder / "case.yaml"
    if not path.is_file():
        raise CaseNotFound(
            "no case.yaml here",
            got=str(folder),
            expected="a case folder",
            do="Name the folder that holds case.yaml.",
        )
    where = str(path.name)
    document = schema.check(read_yaml(path), "case", where=where)
    check_mark(document["brazer"]["mark"], where=f"{where}: brazer.mark")
    for number, coupon in enumerate(document["coupons"]):
        check_piece_mark(coupon["mark"], where=f"{where}: coupons[{number}].mark")
    casechecks.check_case(document, where=where)
    if as_of is not None:
        casechecks.check_asked(document, as_of)
    files = CaseFiles(folder)
    log = MemoryLog()
    names = _enrol(document, log, secret or path.read_bytes())
    ticks = list(ticks_of(document, folder))  # before the slow part: a bad tick is told at once
    acts = list(emit_acts(document, files, names, progress or (lambda _: None)))
    log.append([acts[0], *ticks, *acts[1:]])
    shown = {p: str(row["name"]) for p, row in document["people"].items()}
    return LoadedCase(document["case"], document, log, files, shown)


def _enrol(document: Mapping[str, Any], log: MemoryLog, secret: bytes) -> dict[str, str]:
    """Return person -> commitment of the name, and keep names beside the log."""
    commitments = {}
    for person, row in document["people"].items():
        salt = salt_of(secret, person)
        digest = commitment(row["name"], salt)
        log.put_side(digest, row["name"], salt)
        commitments[person] = digest
    return commitments


def ticks_of(document: Mapping[str, Any], folder: Path) -> Iterator[Act]:
    """Yield one ``RuleConfirmed`` per tick of the booklet file that the basis names."""
    from lapwright.rules.rulebook import load_edition

    name = document["basis"].get("booklet")
    if not name:
        return
    book = schema.check(read_yaml(folder / name), "booklet", where=name)
    casechecks.check_person(document, book["confirmed_by"], f"{name}: confirmed_by")
    on = parse_date(book["confirmed_on"], where=f"{name}: confirmed_on")
    if document["employer"] != DEMO_EMPLOYER and any(t["copy"] == DEMO_COPY for t in book["ticks"]):
        raise TickRefused(
            "the invented ticks of the demo confirm nothing outside it",
            got=DEMO_COPY,
            where=f"{name}: ticks",
            expected="the copy that a person of this programme compared",
            do="Delete it, print your own with 'lapwright rules booklet --case' and compare.",
        )
    for number, tick in enumerate(book["ticks"]):
        code, edition, rule_id = tick["rule"].split("/")
        rule = load_edition(code, edition).rule(rule_id, on=on)
        if rule is None or rule.figure != tick["figure"]:
            raise TickRefused(
                "a tick that does not repeat the rule's figure",
                got=tick["figure"],
                where=f"{name}: ticks[{number}]",
                expected=rule.figure if rule else f"a rule of {code} {edition}",
                do="Print the booklet of this version again and compare.",
            )
        if rule.value is None:
            raise TickRefused(
                "a tick of a rule whose text nobody has read",
                got=tick["rule"],
                where=f"{name}: ticks[{number}]",
                expected="a rule with a figure",
                do="Delete the tick: there is no figure to compare.",
            )
        yield _written(
            document,
            "RuleConfirmed",
            {
                "rule": tick["rule"],
                "figure": tick["figure"],
                "copy": tick["copy"],
                "by": book["confirmed_by"],
            },
            on,
        )


def _written(document: Mapping[str, Any], type_: str, body: Mapping[str, Any], on: Any) -> Act:
    return Act(
        type_,
        body,
        on,
        document["written"]["by"],
        recorded_at(document),
        stream=case_stream(document["case"]),
    )


__all__ = ["LapwrightError", "LoadedCase", "open_case"]
