"""The photographs of a batch: what a folder or a pattern names, in a stable order."""

from __future__ import annotations

import glob
import os
from dataclasses import dataclass
from pathlib import Path

from .batchfile import NAME
from .errors import BatchEmpty, OutputRefused

SUFFIXES = frozenset(
    {".jpg", ".jpeg", ".png", ".tif", ".tiff", ".bmp", ".webp", ".heic", ".heif", ".avif"}
)
OVERLAYS = "overlays"


@dataclass(frozen=True)
class Found:
    """Photographs and the folders that were looked into, both in order."""

    photos: tuple[Path, ...]
    folders: tuple[Path, ...]


def find_photos(what: str, out: Path) -> Found:
    """Return the photographs of a folder with its subfolders, or of a pattern.

    Of a folder, files with the ending of a picture are taken; of a pattern,
    every file but sidecars. Hidden files and the pictures of results are not: a folder
    that holds a ``faces.jsonl`` is one of results, of this run or of another.

    Parameters
    ----------
    what : str
        A folder, one file, or a pattern with ``*``, ``?``, ``[…]``, ``**``.
    out : Path
        Folder of the results.

    Raises
    ------
    BatchEmpty
        If there is none.
    OutputRefused
        If the folder of the results is that of the photographs.
    """
    place = Path(what)
    if place.is_dir():
        found = _of_folder(place, out)
        _check_apart({place, *(p.parent for p in found.photos)}, out)
    elif place.is_file():
        found = Found((place,), ())
        _check_apart({place.parent}, out)
    else:
        files = {Path(name) for name in glob.glob(what, recursive=True)}
        _check_apart({f.parent for f in files if _is_picture(f.name)}, out)
        photos = sorted(f for f in files if f.is_file() and _counts(f) and not _own(f.parent, out))
        found = Found(tuple(photos), tuple(sorted({p.parent for p in photos})))
    if not found.photos:
        raise BatchEmpty(
            "no photograph there",
            got=what,
            expected="a folder of photographs, or a pattern in quotes such as 'photos/*.jpg'",
            do="Correct the name.",
        )
    return found


def _check_apart(homes: set[Path], out: Path) -> None:
    if out.resolve() in {home.resolve() for home in homes}:
        raise OutputRefused(
            "the folder of the results is that of the photographs",
            got=clean(str(out)),
            expected="a folder of its own, such as 'results' beside the photographs or in them",
            do="Name another folder with --out.",
        )


def _of_folder(place: Path, out: Path) -> Found:
    photos: list[Path] = []
    folders: list[Path] = []
    for name, below, files in os.walk(place):
        folder = Path(name)
        below[:] = sorted(b for b in below if b[0] != "." and not _own(folder / b, out))
        folders.append(folder)
        photos += [folder / f for f in files if _counts(folder / f) and _is_picture(f)]
    return Found(tuple(sorted(photos)), tuple(folders))


def _counts(path: Path) -> bool:
    return path.name[0] != "." and path.suffix.lower() not in (".yaml", ".yml")


def _is_picture(name: str) -> bool:
    return Path(name).suffix.lower() in SUFFIXES


def _own(folder: Path, out: Path) -> bool:
    """Whether a folder is one of results, of this run or of another, or of their pictures."""
    drawn = folder.name == OVERLAYS and (folder.parent / NAME).is_file()
    own = folder.resolve() == (out / OVERLAYS).resolve()
    return own or drawn or (folder / NAME).is_file()


def name_from(photo: Path, out: Path) -> str:
    """Return how a photograph is named in the results: its way from their folder, with ``/``."""
    real = photo.parent.resolve() / photo.name
    try:
        way = os.path.relpath(real, out.resolve())
    except ValueError:  # another drive
        way = str(real)
    return clean(Path(way).as_posix())


def clean(text: str) -> str:
    """Return text that fits on a line and into UTF-8: odd bytes and controls are spelt out."""
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in text)
