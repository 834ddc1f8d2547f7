"""Instrument profiles: the scale of one instrument at one setting, with its dates.

A profile is a small strict YAML file. It holds for pictures of the size it was
made from, taken with the same setting, from the day it was made to the day it
ends. Scaled or cropped pictures have another size and are refused: their scale
is another one, or cannot be told.
"""

from __future__ import annotations

import json
import math
import re
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from lapwright.core.errors import LapwrightError
from lapwright.core.times import parse_date
from lapwright.reference.strictyaml import read_yaml

from .atomic import write_made

if TYPE_CHECKING:
    from lapwright.measure.errors import ProfileRefused
    from lapwright.measure.scale import PictureScale

KIND = "lapwright instrument profile, version 1"
KEYS = (
    "profile",
    "instrument",
    "setting",
    "px_per_mm",
    "u",
    "made_on",
    "valid_until",
    "picture_width",
    "picture_height",
    "picture_sha256",
    "source",
)
SOURCES = ("card", "micrometer")
LONGEST_TEXT = 120
_DIGEST = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True)
class Profile:
    """Scale of an instrument at a setting; ``u`` is its standard uncertainty, [px/mm].

    ``picture_sha256`` and ``size`` name the picture of the ``source`` it was made from.
    """

    instrument: str
    setting: str
    px_per_mm: float
    u: float
    made_on: date
    valid_until: date
    size: tuple[int, int]
    picture_sha256: str
    source: str


def read_profile(path: Path) -> Profile:
    """Read a profile.

    Parameters
    ----------
    path : Path
        The YAML file.

    Raises
    ------
    ProfileRefused
        For a missing, unknown or impossible entry.
    YamlRefused, FileUnreadable
        If it cannot be read at all.
    """
    where = str(path)
    raw = read_yaml(path)
    if not isinstance(raw, dict) or sorted(raw) != sorted(KEYS):
        got = ", ".join(raw) if isinstance(raw, dict) else "no mapping"
        raise _refused("the entries of a profile", got, "exactly " + ", ".join(KEYS), where)
    texts = {key: value for key, value in raw.items() if isinstance(value, str)}
    if len(texts) != len(KEYS) or texts["profile"] != KIND:
        raise _refused("not a profile", str(raw["profile"]), f"profile: {KIND}", where)
    return checked(
        Profile(
            instrument=texts["instrument"],
            setting=texts["setting"],
            px_per_mm=_number(texts, "px_per_mm", where),
            u=_number(texts, "u", where),
            made_on=_day(texts, "made_on", where),
            valid_until=_day(texts, "valid_until", where),
            size=(_pixels(texts, "picture_width", where), _pixels(texts, "picture_height", where)),
            picture_sha256=texts["picture_sha256"],
            source=texts["source"],
        ),
        where=where,
    )


def checked(profile: Profile, *, where: str = "") -> Profile:
    """Return the profile, unless an entry is impossible.

    Parameters
    ----------
    profile : Profile
        Any profile.
    where : str, optional
        Place for messages.

    Raises
    ------
    ProfileRefused
        Names the entry.
    """
    for key in ("instrument", "setting"):
        text = getattr(profile, key)
        if not (len(text.strip()) > 0 and len(text) <= LONGEST_TEXT and text.isprintable()):
            raise _refused(key, text, f"one line of 1 to {LONGEST_TEXT} characters", where)
    if not 0 <= profile.u < profile.px_per_mm < math.inf:
        got = f"{profile.px_per_mm:g} and {profile.u:g}"
        raise _refused("px_per_mm and u", got, "0 <= u < px_per_mm", where)
    if profile.made_on > profile.valid_until:
        got = f"{profile.made_on} and {profile.valid_until}"
        raise _refused("made_on and valid_until", got, "made on or before the last day", where)
    if not _DIGEST.fullmatch(profile.picture_sha256):
        raise _refused("picture_sha256", profile.picture_sha256, "64 hexadecimal digits", where)
    if profile.source not in SOURCES:
        raise _refused("source", profile.source, "one of " + ", ".join(SOURCES), where)
    return profile


def write_profile(path: Path, profile: Profile) -> None:
    """Write a profile.

    Parameters
    ----------
    path : Path
        Ends in ``.yaml``.
    profile : Profile
        What to write.

    Raises
    ------
    ProfileRefused, OutputRefused
        If an entry is impossible, or the file cannot be written.
    """
    kept = checked(profile)
    values = (
        KIND,
        kept.instrument,
        kept.setting,
        f"{kept.px_per_mm:.5f}",
        f"{kept.u:.5f}",
        kept.made_on.isoformat(),
        kept.valid_until.isoformat(),
        str(kept.size[0]),
        str(kept.size[1]),
        kept.picture_sha256,
        kept.source,
    )
    lines = [f"{k}: {json.dumps(v, ensure_ascii=False)}" for k, v in zip(KEYS, values, strict=True)]
    write_made(path, ("\n".join(lines) + "\n").encode(), suffix=".yaml")


def profile_scale(
    profile: Profile, size: tuple[int, int], *, as_of: date, where: str = ""
) -> PictureScale:
    """Scale of a picture from the profile of its instrument.

    Parameters
    ----------
    profile : Profile
        From `read_profile`.
    size : pair of int
        Width and height of the picture, [px].
    as_of : date
        The civil day asked about.
    where : str, optional
        Place for messages.

    Raises
    ------
    ProfileOutOfDate, ProfileOtherPicture
        If it does not hold that day, or not for pictures of that size.
    """
    from lapwright.measure.errors import ProfileOtherPicture, ProfileOutOfDate
    from lapwright.measure.scale import PictureScale, firm

    if not profile.made_on <= as_of <= profile.valid_until:
        raise ProfileOutOfDate(
            "the profile does not hold on that day",
            got=as_of.isoformat(),
            expected=f"{profile.made_on} to {profile.valid_until}",
            where=where,
            do="Measure the instrument again and make a new profile.",
        )
    if sorted(size) != sorted(profile.size):
        raise ProfileOtherPicture(
            "the profile was made from pictures of another size",
            got=f"{size[0]} x {size[1]} px",
            expected=f"{profile.size[0]} x {profile.size[1]} px, either way up",
            where=where,
            do="Give the picture as the camera wrote it, neither cropped nor scaled.",
        )
    parts = (("profile", profile.u / profile.px_per_mm),)
    return firm(PictureScale("profile", profile.px_per_mm, parts)).with_facts(
        instrument=profile.instrument,
        setting=profile.setting,
        made_on=profile.made_on.isoformat(),
        valid_until=profile.valid_until.isoformat(),
        picture_sha256=profile.picture_sha256,
    )


def _number(texts: dict[str, str], key: str, where: str) -> float:
    if not re.fullmatch(r"\d{1,9}(\.\d{1,9})?", texts[key]):
        raise _refused(key, texts[key], "a decimal number", where)
    return float(texts[key])


def _pixels(texts: dict[str, str], key: str, where: str) -> int:
    if not re.fullmatch(r"[1-9]\d{0,5}", texts[key]):
        raise _refused(key, texts[key], "a whole number of pixels", where)
    return int(texts[key])


def _day(texts: dict[str, str], key: str, where: str) -> date:
    try:
        return parse_date(texts[key])
    except LapwrightError:
        raise _refused(key, texts[key], "a day YYYY-MM-DD", where) from None


def _refused(what: str, got: str, expected: str, where: str) -> ProfileRefused:
    from lapwright.measure.errors import ProfileRefused

    return ProfileRefused(
        what,
        got=got,
        expected=expected,
        where=where,
        do="Write the profile anew with 'lapwright card measure'.",
    )
