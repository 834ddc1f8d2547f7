"""``lapwright face --batch``: read many photographs, and go on where a run was stopped.

A photograph is known by its bytes, the method and what is asked of it: what was
answered under these three is not measured again. A photograph that cannot be
read gets its line with a code, and the run goes on.
"""

from __future__ import annotations

import contextlib
import hashlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from lapwright.core.errors import LapwrightError

from .atomic import make_folder, write_bytes
from .batchfile import NAME, Line, Results, canonical, open_results
from .batchfind import OVERLAYS, Found, clean, find_photos, name_from
from .batchpage import draw_page
from .batchwork import method, read_one
from .casefiles import MAX_BYTES
from .errors import (
    BatchIncomplete,
    BatchStopped,
    CaseFileRefused,
    PhotoChanged,
    WorkerFailed,
    WorkerLost,
    WorkersUnfit,
    WorkerTimedOut,
)
from .faceview import refused
from .sidecars import Ask, Sidecars
from .workers import map_over

PAGE = "faces.html"
# not an answer about the photograph: tried again by the next run
PASSING = (PhotoChanged, WorkerFailed, WorkerLost, WorkersUnfit, WorkerTimedOut)


@dataclass(frozen=True)
class Step:
    """One settled photograph, for whoever shows how far the run is."""

    done: int
    total: int
    line: Line


Told = Callable[[Step], None]


@dataclass(frozen=True)
class Way:
    """How a batch is worked: local processes, or the address of a scheduler; times in s."""

    workers: int
    scheduler: str = ""
    timeout_s: float = 300.0


@dataclass(frozen=True)
class BatchResult:
    """What a run left behind: its lines in order, where they are, how many were kept."""

    lines: tuple[Line, ...]
    faces: Path
    page: Path
    kept: int
    elsewhere: int

    def count(self, outcome: str) -> int:
        """Return the number of lines with an outcome."""
        return sum(line["outcome"] == outcome for line in self.lines)

    @property
    def for_readers(self) -> int:
        """Number of readings that a person must look at."""
        return sum(bool(line["needs_reader"]) for line in self.lines)

    def incomplete(self) -> BatchIncomplete | None:
        """Return the refusal of a run that could not try every photograph."""
        left = [line for line in self.lines if line["outcome"] == "unfinished"]
        if not left:
            return None
        codes = ", ".join(sorted({line["code"] for line in left}))
        return BatchIncomplete(
            "photographs that could not be tried",
            got=f"{len(left)} of {len(self.lines)} ({codes}), first {left[0]['photo']}",
            expected="a reading or a refusal for each",
            where=str(self.faces),
            do="Run the same command again: only these are tried.",
        )

    def as_dict(self) -> dict[str, Any]:
        """Return the JSON document of the run."""
        return {
            "outcome": "batch",
            "photos": len(self.lines),
            "measured": self.count("measured"),
            "refused": self.count("refused"),
            "unfinished": self.count("unfinished"),
            "needs_reader": self.for_readers,
            "kept": self.kept,
            "faces": str(self.faces),
            "page": str(self.page),
        }


def run_batch(what: str, out: Path, *, way: Way, told: Told) -> BatchResult:
    """Read the photographs of a folder or pattern into ``faces.jsonl`` and a page.

    Parameters
    ----------
    what : str
        A folder, or a pattern.
    out : Path
        Folder of the results; made if missing.
    way : Way
        Who does the work.
    told : callable
        Told of every settled photograph.

    Raises
    ------
    BatchEmpty, ResultsBusy, ResultsDamaged, OutputRefused
        Before anything is measured.
    BatchStopped
        When interrupted; what was measured stays.
    SchedulerUnreached, WorkersUnfit, ClusterPackagesMissing
        Of a cluster.
    """
    found = find_photos(what, out)
    make_folder(out)
    with open_results(out) as results:
        run = _Run(found, out, results, told)
        answers = map_over(
            read_one,
            run.jobs(send_bytes=way.scheduler != ""),
            workers=way.workers,
            scheduler=way.scheduler,
            timeout_s=way.timeout_s,
        )
        try:
            with contextlib.closing(answers):
                for place, answer in answers:
                    run.answered(place, answer)
            return run.finish()
        except KeyboardInterrupt:
            raise _stopped(out, run) from None


def _stopped(out: Path, run: _Run) -> BatchStopped:
    return BatchStopped(
        "stopped by hand",
        got=f"{len(run.settled)} of {run.total} photographs settled and kept",
        expected="the end of the run",
        where=str(out / NAME),
        do="Run the same command again: it goes on where it stopped.",
    )


@dataclass(frozen=True)
class _Shot:
    """One photograph to settle: its name in the results, what is asked, its hash and key."""

    name: str
    ask: Ask
    sha256: str = ""
    key: str = ""


@dataclass
class _Run:
    found: Found
    out: Path
    results: Results
    told: Told
    settled: dict[str, Line] = field(default_factory=dict)
    handed: list[list[_Shot]] = field(default_factory=list)
    kept: int = 0

    def __post_init__(self) -> None:
        self.sidecars = Sidecars()
        self.photos = {name_from(photo, self.out): photo for photo in self.found.photos}
        self.alone = {
            name_from(photo, self.out): refusal
            for folder in self.found.folders
            for photo, refusal in self.sidecars.alone(folder)
        }
        self.total = len(self.photos.keys() | self.alone.keys())
        self.method = method()
        self.by_key = {line["key"]: line for line in self.results.lines.values() if line["key"]}

    # -------------------------------------------------------------- handing out
    def jobs(self, *, send_bytes: bool) -> Iterator[dict[str, Any]]:
        """Yield what has to be measured; settle what need not be."""
        for name, refusal in self.alone.items():
            self._settle(_Shot(name, Ask()), _line_of(refusal))
        waiting: dict[str, list[_Shot]] = {}
        for name, photo in self.photos.items():
            shot, data = self._look(name, photo)
            if data is None or self._known(shot):
                continue
            if waiting.get(shot.key):  # the same picture under another name, not yet back
                waiting[shot.key].append(shot)
                continue
            waiting[shot.key] = [shot]
            self.handed.append(waiting[shot.key])
            yield {
                "path": str(photo.resolve()),
                "data": data if send_bytes else None,
                "sha256": shot.sha256,
                "ask": shot.ask.as_dict(),
            }

    def _look(self, name: str, photo: Path) -> tuple[_Shot, bytes | None]:
        shot = _Shot(name, Ask())
        try:
            shot = _Shot(name, self.sidecars.ask_for(photo))
            data = _bytes(photo)
        except LapwrightError as refusal:
            self._settle(shot, _line_of(refusal))
            return shot, None
        sha256 = hashlib.sha256(data).hexdigest()
        return _Shot(name, shot.ask, sha256, self._key(sha256, shot.ask)), data

    def _key(self, sha256: str, ask: Ask) -> str:
        parts = {"ask": ask.as_dict(), "image_sha256": sha256, "method": self.method}
        return hashlib.sha256(canonical(parts)).hexdigest()

    def _known(self, shot: _Shot) -> bool:
        line = self.by_key.get(shot.key)
        if line is not None:
            self.kept += 1
            self._settle(shot, line)
        return line is not None

    # -------------------------------------------------------------- taking in
    def answered(self, place: int, answer: object) -> None:
        """Settle a photograph, and those that are the same picture."""
        shots = self.handed[place]
        if isinstance(answer, LapwrightError):
            document = _line_of(answer) | {"image_sha256": shots[0].sha256}
        else:
            assert isinstance(answer, dict)
            document = answer["face"]
            make_folder(self.out / OVERLAYS)
            write_bytes(self.out / _overlay(shots[0].key), answer["overlay"])
        for shot in shots:
            self._settle(shot, document)
        shots.clear()

    def _settle(self, shot: _Shot, document: Line) -> None:
        final = shot.key and document["outcome"] != "unfinished"
        drawn = document["outcome"] == "measured"
        line = document | {
            "photo": shot.name,
            "id": shot.ask.id,
            "asked": shot.ask.as_dict(),
            "key": shot.key if final else "",
            "overlay": _overlay(shot.key) if drawn else "",
            "same_as": "",
        }
        if self.results.lines.get(shot.name, {}) | {"same_as": ""} != line:
            self.results.add(line)
        if final:
            self.by_key.setdefault(shot.key, line)
        self.settled[shot.name] = line
        self.told(Step(len(self.settled), self.total, line))

    # -------------------------------------------------------------- closing
    def finish(self) -> BatchResult:
        """Write the file in its order and the page, and say what is there."""
        lines = _with_doubles([self.settled[name] for name in sorted(self.settled)])
        self.results.finish(lines)
        result = BatchResult(
            lines=tuple(lines),
            faces=self.out / NAME,
            page=self.out / PAGE,
            kept=self.kept,
            elsewhere=len(self.results.lines) - len(lines),
        )
        drawn = {p for line in lines if (p := line["overlay"]) and (self.out / p).is_file()}
        page = draw_page(result.lines, drawn=drawn, elsewhere=result.elsewhere, method=self.method)
        write_bytes(result.page, page.encode())
        return result


def _with_doubles(lines: list[Line]) -> list[Line]:
    """Name, at each line, the first photograph that is the same picture asked the same."""
    first: dict[str, str] = {}
    return [
        line | {"same_as": first[line["key"]]}
        if line["key"] and first.setdefault(line["key"], line["photo"]) != line["photo"]
        else line
        for line in lines
    ]


def _line_of(refusal: LapwrightError) -> Line:
    return refused(refusal) | {
        "outcome": "unfinished" if isinstance(refusal, PASSING) else "refused",
        "message": clean(str(refusal)),
        "warnings": [],
    }


def _overlay(key: str) -> str:
    return f"{OVERLAYS}/{key[:20]}.jpg"


def _bytes(photo: Path) -> bytes:
    try:
        size = photo.stat().st_size
        data = photo.read_bytes() if size <= MAX_BYTES else None
    except OSError as fault:
        raise CaseFileRefused(
            "a photograph that cannot be read",
            got=str(fault.strerror),
            expected="a readable file",
            where=clean(str(photo)),
            do="Check its permissions.",
        ) from fault
    if data is None:
        raise CaseFileRefused(
            "a file too large to read",
            got=f"{size} bytes",
            expected=f"at most {MAX_BYTES} bytes",
            where=clean(str(photo)),
            do="Save the photograph as JPEG.",
        )
    return data
