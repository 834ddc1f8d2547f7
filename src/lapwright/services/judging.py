"""Judge a case folder: open it, fold it, judge the evidence, list what it covers."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from lapwright.core.acts import Act
from lapwright.core.evidence import Evidence
from lapwright.core.fold import fold
from lapwright.rules.decision import Judgement, adopt, judge_evidence
from lapwright.rules.joblist import ListedSize, list_sizes
from lapwright.rules.rulebook import Adopted, Confirmation, Edition

from .casefolder import LoadedCase, open_case


@dataclass(frozen=True)
class Judged:
    """A judged case: the decision, and the sizes that the passed joints cover."""

    judgement: Judgement
    sizes: tuple[ListedSize, ...]


@dataclass(frozen=True)
class JudgedCase:
    """A judged case folder."""

    loaded: LoadedCase
    judged: Judged


def judge_acts(
    acts: Sequence[Act],
    *,
    as_of: date,
    known_by: date | None = None,
    editions: Sequence[Edition] | None = None,
) -> Judged:
    """Judge the acts of one case.

    Parameters
    ----------
    acts : sequence of Act
        The log, oldest first.
    as_of : date
        The civil day asked about.
    known_by : date, optional
        Only what was written by the end of this day counts.
    editions : sequence of Edition, optional
        Rule rows of a record; the shipped rule files otherwise.
    """
    evidence = fold(acts, as_of=as_of, known_by=known_by)
    return _judged(evidence, adopt(evidence, editions))


def _judged(evidence: Evidence, adopted: Adopted) -> Judged:
    judgement = judge_evidence(evidence, adopted=adopted)
    basis = evidence.basis
    sizes: tuple[ListedSize, ...] = ()
    if basis is not None and judgement.tests:
        sizes = list_sizes(judgement.tests, basis, evidence.procedure, adopted=adopted)
    return Judged(judgement, sizes)


def judge_as_confirmed(acts: Sequence[Act], *, as_of: date) -> Judged:
    """Judge the acts as if every rule had been confirmed.

    It says what an answer would lean on, for the booklet of a case; it is never an answer
    to give to anyone.

    Parameters
    ----------
    acts : sequence of Act
        The log, oldest first.
    as_of : date
        The civil day asked about.
    """
    evidence = fold(acts, as_of=as_of)
    editions = adopt(evidence).editions
    every = tuple(
        Confirmation(r.code, r.edition, r.id, r.figure, "supposed", as_of)
        for e in editions
        for dated in e.rules.values()
        for r in dated
    )
    return _judged(evidence, Adopted(editions, as_of, every))


def judge_case(
    folder: Path, *, as_of: date, secret: bytes = b"", progress: Callable[[str], None] | None = None
) -> JudgedCase:
    """Judge a case folder on a day; nothing is written.

    Parameters
    ----------
    folder : Path
        The case folder.
    as_of : date
        The civil day asked about.
    secret : bytes, optional
        Installation secret for name commitments; empty when nothing is issued.
    progress : callable, optional
        Told before each photograph is measured.

    Raises
    ------
    LapwrightError
        For a folder that cannot be read.
    """
    loaded = open_case(folder, as_of=as_of, secret=secret, progress=progress)
    return JudgedCase(loaded, judge_acts(loaded.acts, as_of=as_of))
