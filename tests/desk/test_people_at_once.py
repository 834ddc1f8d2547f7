"""One id for two people, filed at the same moment by two programs: one of them is refused."""

from __future__ import annotations

import threading
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest

from lapwright.desk.boot import Store
from lapwright.services import filing
from lapwright.services.casefolder import LoadedCase, open_case
from lapwright.services.errors import PersonOther
from lapwright.services.filing import file_case
from lapwright.services.people import NewPerson, enrol
from street.building import case_folder, edit

AT = datetime(2026, 3, 21, 9, tzinfo=UTC)
SECRET = b"invented secret, 24 byte"


def _cases(folder: Path) -> tuple[LoadedCase, LoadedCase]:
    """Return two cases that give one id to two people."""
    one, other = case_folder(folder, number="TST-01"), case_folder(folder, number="TST-02")
    edit(other, lambda d: d["people"]["ines"].update(name="Ines Other"))
    return open_case(one, secret=SECRET), open_case(other, secret=SECRET)


def test_of_two_cases_filed_at_once_one_is_refused(
    opener: Callable[[], Store], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Both have seen an empty ledger, and kept their files, before either writes."""
    gate, real, told = threading.Barrier(2, timeout=60), filing._keep_files, []

    def keep_files(*given: object) -> None:
        real(*given)  # type: ignore[arg-type]
        gate.wait()

    def file(case: LoadedCase) -> None:
        store = opener()
        try:
            file_case(case, log=store.log, files=store.files, secret=SECRET, at=AT)
            told.append("filed")
        except PersonOther:
            told.append("refused")
        finally:
            store.close()

    opener().close()
    monkeypatch.setattr(filing, "_keep_files", keep_files)
    threads = [threading.Thread(target=file, args=(case,)) for case in _cases(tmp_path)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(told) == ["filed", "refused"]
    log = opener().log
    assert len({e.stream for e in log.entries()}) == 1
    names = [kept.value for kept in log.side_records().values() if kept.value.startswith("Ines")]
    assert len(names) == 1  # nor is the other name kept beside the ledger


def test_an_id_taken_by_a_case_meanwhile_is_refused_to_somebody_else(
    store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The case is filed between the look for the id and the entry."""
    case, _ = _cases(tmp_path)
    real = store.log.append

    def append(*given: object, **kept: object) -> object:
        monkeypatch.undo()
        file_case(case, log=store.log, files=store.files, secret=SECRET, at=AT)
        return real(*given, **kept)  # type: ignore[arg-type]

    monkeypatch.setattr(store.log, "append", append)
    new = NewPerson("ines", "Ines Other", "responsible person", "Harrow Fold Mechanical")
    with pytest.raises(PersonOther):
        enrol(store.log, new, secret=SECRET, by="lead", at=AT)
    assert {e.stream for e in store.log.entries()} == {"case/TST-01"}
