"""Build case folders for tests from the demo's templates, by loupe unless asked otherwise."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import yaml

from lapwright.ledger.files import FileStore
from lapwright.ledger.log import MemoryLog
from lapwright.rules.rulebook import load_edition
from lapwright.services.democase import DemoCase, DemoFace, write_case
from lapwright.services.programme import Programme, open_programme

SOUND = ((0.20, 0.24, "open"),)
AS_OF = "2026-03-20"


FIRST_RUN = datetime(2026, 3, 1, tzinfo=UTC)


def programme_in(folder: Path) -> Programme:
    """Return a programme with keys and files in ``folder`` and its ledger in memory."""
    folder.mkdir(parents=True, exist_ok=True)
    files = FileStore(folder / "files")
    return open_programme(folder, log=MemoryLog(), files=files, at=FIRST_RUN)


def case_folder(
    parent: Path,
    *,
    voids: dict[int, tuple[tuple[float, float, str], ...]] | None = None,
    photos: tuple[int, ...] = (),
    oxide: str = "none",
    number: str = "TST-01",
) -> Path:
    """Write a case folder of eight faces; ``voids`` and ``photos`` go by face index."""
    changed = voids or {}
    faces = tuple(
        DemoFace(changed.get(i, SOUND), "photo" if i in photos else "loupe") for i in range(8)
    )
    return write_case(DemoCase(number, "ines", "Ines Marlowe", "QP7K", faces, oxide=oxide), parent)


def edit(folder: Path, change: Callable[[dict[str, Any]], None], name: str = "case.yaml") -> None:
    """Change a YAML file of a case folder; every scalar stays text."""
    path = folder / name
    document = yaml.load(path.read_text("utf-8"), Loader=yaml.BaseLoader)
    change(document)
    path.write_text(yaml.safe_dump(document, sort_keys=False, allow_unicode=True), "utf-8")


def confirm_all(folder: Path) -> None:
    """Tick every rule of the case's editions, so that each rule's own answer shows."""
    document = yaml.load((folder / "case.yaml").read_text("utf-8"), Loader=yaml.BaseLoader)
    editions = [load_edition(*name.split()) for name in document["basis"]["editions"]]
    rows = [
        {"rule": dated[-1].key, "figure": dated[-1].figure, "copy": "invented"}
        for edition in editions
        for dated in edition.rules.values()
        if dated[-1].value is not None
    ]
    edit(folder, lambda d: d.update(ticks=rows), "booklet.yaml")
