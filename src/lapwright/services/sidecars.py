"""What a person says about a photograph, in a small file beside it.

``<photo>.face.yaml`` (the whole file name, then ``.face.yaml``) speaks of one
photograph; ``faces.yaml`` of all in its folder, each under its file name. Both
hold the same keys, read strictly: nothing is guessed, nothing is left unread.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from lapwright.core.errors import LapwrightError
from lapwright.reference.strictyaml import read_yaml

from .errors import SidecarAlone, SidecarRefused, SidecarTwice

SUFFIX = ".face.yaml"
OF_FOLDER = "faces.yaml"
POINTS = ("tube_end", "cup_face")
NUMBERS = ("px_per_mm", "px_per_mm_u", "overlap_mm")
KEYS = (*POINTS, *NUMBERS, "id")
_NUMBER = re.compile(r"-?\d{1,9}(\.\d{1,9})?")
_ID = re.compile(r"[\w.-]{1,80}")

Point = tuple[float, float]


@dataclass(frozen=True)
class Ask:
    """What is asked of one photograph: its ends [px], its scale [px/mm] or overlap [mm]."""

    id: str = ""
    tube_end: Point | None = None
    cup_face: Point | None = None
    px_per_mm: float | None = None
    px_per_mm_u: float | None = None
    overlap_mm: float | None = None

    def as_dict(self) -> dict[str, Any]:
        """Return ends and scale for JSON; the id is a label and asks nothing."""
        return {
            "tube_end": None if self.tube_end is None else list(self.tube_end),
            "cup_face": None if self.cup_face is None else list(self.cup_face),
            "px_per_mm": self.px_per_mm,
            "px_per_mm_u": self.px_per_mm_u,
            "overlap_mm": self.overlap_mm,
        }


class Sidecars:
    """Reads sidecars; the file of a folder once."""

    def __init__(self) -> None:
        self._folders: dict[Path, dict[str, Any] | LapwrightError] = {}

    def ask_for(self, photo: Path) -> Ask:
        """Return what is asked of a photograph; nothing is, where no sidecar speaks of it.

        Raises
        ------
        SidecarRefused, SidecarTwice
            For a sidecar that cannot be followed.
        LapwrightError
            REF codes for a file that is no strict YAML.
        """
        own = photo.with_name(photo.name + SUFFIX)
        listed = self._of_folder(photo.parent)
        if not own.exists():
            if photo.name not in listed:
                return Ask()
            return ask(listed[photo.name], where=f"{OF_FOLDER}: {photo.name}")
        if photo.name in listed:
            raise SidecarTwice(
                "two sidecars speak of one photograph",
                got=f"{own.name} and {OF_FOLDER}",
                expected="one of them",
                do="Remove one of the two.",
            )
        return ask(_read(own), where=own.name)

    def alone(self, folder: Path) -> Iterator[tuple[Path, SidecarAlone]]:
        """Yield the photographs that sidecars of a folder name and that are not there."""
        try:
            names = list(self._of_folder(folder))
        except LapwrightError:
            names = []  # said at every photograph of the folder
        for name in names:
            if Path(name).name != name or not os.path.isfile(folder / name):
                yield folder / name, _alone(folder, name, f"{OF_FOLDER}: {name}")
        for own in sorted(folder.glob(f"*{SUFFIX}")):
            photo = own.with_name(own.name.removesuffix(SUFFIX))
            if not photo.is_file():
                yield photo, _alone(folder, photo.name, own.name)

    def _of_folder(self, folder: Path) -> dict[str, Any]:
        if folder not in self._folders:
            self._folders[folder] = _read_folder(folder / OF_FOLDER)
        listed = self._folders[folder]
        if isinstance(listed, LapwrightError):
            raise listed
        return listed


def _read_folder(path: Path) -> dict[str, Any] | LapwrightError:
    if not path.exists():
        return {}
    try:
        return dict(_mapping(_read(path), path.name, "photo.jpg: {tube_end: [X, Y], …}"))
    except LapwrightError as refusal:
        return refusal


def _read(path: Path) -> object:
    """Read a sidecar; messages name it without its folder, which the photograph's line gives."""
    try:
        return read_yaml(path)
    except LapwrightError as refusal:
        place = refusal.where.replace(str(path), path.name)
        raise type(refusal)(**(refusal.parts() | {"where": place})) from None


def ask(document: object, *, where: str) -> Ask:
    """Return what a sidecar asks.

    Parameters
    ----------
    document : object
        What the strict reader of YAML returned.
    where : str
        Place for messages.

    Raises
    ------
    SidecarRefused
        For an unknown key, a value of another form, one end without the other.
    """
    keys = _mapping(document, where, "key: value")
    unknown = sorted(set(keys) - set(KEYS))
    if unknown:
        raise _refused("unknown key", ", ".join(unknown), "one of " + ", ".join(KEYS), where)
    if ("tube_end" in keys) != ("cup_face" in keys):
        raise _refused("one end without the other", ", ".join(keys), " and ".join(POINTS), where)
    if "px_per_mm_u" in keys and "px_per_mm" not in keys:
        raise _refused("a spread without its scale", ", ".join(keys), "px_per_mm too", where)
    points = {name: _point(keys[name], f"{where}: {name}") for name in POINTS if name in keys}
    numbers = {name: _number(keys[name], f"{where}: {name}") for name in NUMBERS if name in keys}
    return Ask(id=_id(keys.get("id"), f"{where}: id"), **points, **numbers)  # type: ignore[arg-type]


def _mapping(document: object, where: str, form: str) -> Mapping[str, Any]:
    if not isinstance(document, dict):
        raise _refused("not a list of keys", type(document).__name__, form, where)
    return document


def _point(value: Any, where: str) -> Point:
    if not isinstance(value, list) or len(value) != 2:
        raise _refused("not a point", str(value), "[X, Y] in pixels", where)
    return _number(value[0], where), _number(value[1], where)


def _number(value: Any, where: str) -> float:
    if not isinstance(value, str) or not _NUMBER.fullmatch(value):
        raise _refused("not a number", str(value), "a plain decimal such as 98.4", where)
    return float(value)


def _id(value: Any, where: str) -> str:
    if value is None:
        return ""
    if not isinstance(value, str) or not _ID.fullmatch(value):
        form = "letters, digits, dot, dash, underscore; at most 80"
        raise _refused("not an id", str(value), form, where)
    return value


def _refused(what: str, got: str, expected: str, where: str) -> SidecarRefused:
    return SidecarRefused(
        what, got=got, expected=expected, where=where, do="Correct the sidecar file."
    )


def _alone(folder: Path, name: str, where: str) -> SidecarAlone:
    stem = Path(name).stem
    near = sorted(p.name for p in folder.iterdir() if p.stem == stem and p.suffix != ".yaml")
    return SidecarAlone(
        "a sidecar without its photograph",
        got=name + (f"; there is {', '.join(near[:3])}" if near else ""),
        expected="the whole file name of a photograph in this folder",
        where=where,
        do="Correct the name, or take the sidecar away.",
    )
