"""The demo: write the invented programme, judge it, issue what can be issued.

The booklet of the demo is confirmed by an invented lead: the shipped ticks
(`demodata/booklet.yaml`) cover every figure that the four decisions rest on,
and the record says so.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from lapwright.core.outcomes import Outcome, Verdict

from .atomic import make_folder
from .casefolder import open_case
from .casereport import SHAPES
from .democase import CASES, write_case
from .errors import CaseOpen, NothingQualified, PapersNotMet
from .issuing import Issued, issue_judged, judge_filed
from .jointmap import write_joint_maps
from .judging import JudgedCase
from .programme import KEYS, Programme
from .text import outcome_word, say, word

AS_OF = date(2026, 3, 20)
DATA = "data"
MAPS = "joint-maps"
MAPPED = "TLH-02"  # the brazer who fails on a face: the joint maps are for talking it over
Progress = Callable[[str], None]


@dataclass(frozen=True)
class DemoLine:
    """What became of one case: its verdict, the reason, and the record where there is one."""

    case: str
    name: str
    mark: str
    verdict: Verdict
    reason: str
    issued: Issued | None


@dataclass(frozen=True)
class Demo:
    """The demo's outcome: where it lies, and a line per case."""

    folder: Path
    lines: tuple[DemoLine, ...]
    booklet: Path
    trust: Path
    maps: Path

    def text(self) -> Iterator[str]:
        """Yield the summary for a terminal."""
        yield word("demo.head", folder=str(self.folder))
        yield ""
        for line in self.lines:
            told = outcome_word(line.verdict.outcome, line.verdict.why)
            shape = SHAPES[line.verdict.outcome]
            yield f"  {shape} {line.case}  {line.name:<15} {line.mark}  {told}"
            yield f"      {line.reason}"
            if line.issued is not None:
                yield f"      → {line.issued.path.relative_to(self.folder)}"
        yield ""
        yield word("demo.booklet", path=str(self.booklet.relative_to(self.folder)))
        yield word("demo.maps", path=str(self.maps.relative_to(self.folder)), case=MAPPED)
        yield word("demo.next")
        issued = next((x.issued for x in self.lines if x.issued is not None), None)
        first = self.folder / "cases" / self.lines[0].case
        yield f"  lapwright judge {first} --as-of {AS_OF}"
        yield f"  lapwright range {first} --as-of {AS_OF}"
        if issued is not None:
            yield f"  lapwright verify {issued.path} --trust {self.trust}"
        yield ""
        yield word("demo.invented")


def run_demo(folder: Path, programme: Programme, *, at: datetime, progress: Progress) -> Demo:
    """Write, judge and issue the demo.

    Parameters
    ----------
    folder : Path
        Folder to write everything to.
    programme : Programme
        Ledger, files and keys, in the folder `DATA` of it.
    at : datetime
        The present moment, UTC.
    progress : callable
        Told in words what is being done.
    """
    cases = folder / "cases"
    make_folder(cases)
    for case in CASES:
        progress(word("demo.drawing", case=case.id, name=case.name))
        write_case(case, cases)
    lines = tuple(_run(cases / c.id, folder, programme, at, progress) for c in CASES)
    booklet = folder / "booklet.pdf"
    from .rulesview import booklet_rows, programme_of, write_booklet

    first = cases / CASES[0].id
    rows = booklet_rows((), first, AS_OF)
    write_booklet(rows, booklet, at=at, programme=programme_of(first, AS_OF))
    return Demo(folder, lines, booklet, folder / DATA / KEYS / "trust.pem", folder / MAPS)


def _run(
    folder: Path, out: Path, programme: Programme, at: datetime, progress: Progress
) -> DemoLine:
    progress(word("demo.judging", case=folder.name))
    loaded = open_case(folder, as_of=AS_OF, secret=programme.keys.salt)
    case, held, _ = judge_filed(loaded, programme, as_of=AS_OF, at=at)
    issued = None
    with suppress(
        CaseOpen, PapersNotMet, NothingQualified
    ):  # the answer of this case; its line tells why
        issued = issue_judged(case, programme, held=held, out=out / "records", at=at)
    evidence = case.judged.judgement.evidence
    if folder.name == MAPPED:
        write_joint_maps(evidence, out / MAPS)
    return DemoLine(
        folder.name,
        case.loaded.names[evidence.brazer],
        evidence.mark,
        case.judged.judgement.verdict,
        _reason(case),
        issued,
    )


def _reason(case: JudgedCase) -> str:
    judgement = case.judged.judgement
    for outcome in (Outcome.NOT_MET, Outcome.UNDETERMINED):
        for finding in judgement.findings:
            if finding.outcome is outcome and finding.rule != "position.brazer_variable":
                return say(finding.message)
    return word("demo.passed", positions=", ".join(judgement.qualified))
