"""The mask of a peeled surface: one grey value for each state of a pixel.

Outside 0, discontinuity 80, unsure 160, sound 240. Neither 255 nor 1 stands for
anything, so that a mask of black and white made under another convention is
refused and never misread; its meaning can be given with ``--mask-values``.
Values between are refused too: a soft brush leaves them, and they mean nothing.
"""

from __future__ import annotations

import hashlib
import io
from collections.abc import Mapping
from types import MappingProxyType

import cv2
import numpy as np
from PIL import Image, PngImagePlugin

from lapwright.measure.errors import (
    PeelMaskMeaningRefused,
    PeelMaskOtherSize,
    PeelMaskUnreadable,
    PeelMaskValueUnknown,
)

OUTSIDE, DISCONTINUITY, UNSURE, SOUND = range(4)
STATES = ("outside", "discontinuity", "unsure", "sound")
STEP = 80
MEANING: Mapping[str, int] = MappingProxyType({name: STEP * n for n, name in enumerate(STATES)})
PROPOSAL_KEY = "lapwright-proposal"
_MODES = ("L", "P", "RGB", "RGBA", "LA", "1")


def parse_meaning(text: str) -> dict[str, int]:
    """Return state -> grey value from ``discontinuity=255,sound=0``.

    Parameters
    ----------
    text : str
        Pairs with commas between; discontinuity and sound must be among them.

    Raises
    ------
    PeelMaskMeaningRefused
        If a name is unknown, stands twice or is missing, or a value is no grey
        value or stands for two states.
    """
    meaning: dict[str, int] = {}
    for pair in text.split(","):
        name, _, value = (part.strip() for part in pair.partition("="))
        grey = int(value) if value.isascii() and value.isdigit() and len(value) <= 3 else 256
        if name not in STATES or name in meaning or grey > 255 or grey in meaning.values():
            raise _meaning_refused(pair.strip())
        meaning[name] = grey
    if not {"discontinuity", "sound"} <= meaning.keys():
        raise _meaning_refused(text)
    return meaning


def open_mask(
    data: bytes,
    size: tuple[int, int],
    *,
    meaning: Mapping[str, int] = MEANING,
    where: str = "",
) -> np.ndarray:
    """Decode a mask into states.

    Parameters
    ----------
    data : bytes
        The PNG file.
    size : tuple of int
        Width and height of the photograph, [px]; the mask must have the same.
    meaning : mapping of str to int, optional
        State -> grey value; the convention of this module when left out.
    where : str, optional
        File name for messages.

    Returns
    -------
    ndarray of uint8, shape (height, width)
        `OUTSIDE`, `DISCONTINUITY`, `UNSURE` or `SOUND`.

    Raises
    ------
    PeelMaskUnreadable, PeelMaskOtherSize, PeelMaskValueUnknown
        For files that are no such mask.
    """
    grey, coloured = _grey(data, size, where)
    table = np.full(256, 255, np.uint8)
    for name, value in meaning.items():
        table[value] = STATES.index(name)
    states = cv2.LUT(grey, table)
    unknown = (states == 255) | coloured
    if unknown.any():
        y, x = np.unravel_index(int(unknown.argmax()), unknown.shape)
        what = "a colour" if coloured[y, x] else f"grey {grey[y, x]}"
        raise PeelMaskValueUnknown(
            "pixels of the mask that stand for nothing",
            got=f"{int(unknown.sum())} px, the first at {x},{y} ({what})",
            expected=", ".join(f"{name} {value}" for name, value in meaning.items()),
            where=where,
            do="Paint with a hard brush in these greys, or name the meaning with --mask-values.",
        )
    return np.asarray(states)


def mask_png(states: np.ndarray, *, proposal: str = "") -> bytes:
    """Code states as a mask PNG.

    Parameters
    ----------
    states : ndarray of uint8, shape (height, width)
        States of the pixels.
    proposal : str, optional
        Method of the program that proposed them; it is noted in the file together
        with a hash, so that a proposal fed back unchanged is known.
    """
    out = io.BytesIO()
    note = PngImagePlugin.PngInfo()
    if proposal:
        note.add_text(PROPOSAL_KEY, f"{proposal} {states_sha256(states)}")
    Image.fromarray(states * np.uint8(STEP)).save(out, "PNG", pnginfo=note, compress_level=3)
    return out.getvalue()


def states_sha256(states: np.ndarray) -> str:
    """Return the hash of size and states, whatever file they came from."""
    height, width = states.shape
    head = f"{width} {height} ".encode()
    return hashlib.sha256(head + np.ascontiguousarray(states).tobytes()).hexdigest()


def proposal_note(data: bytes, states: np.ndarray) -> str:
    """Return the method noted in a mask if its states are still those proposed, else ''."""
    with Image.open(io.BytesIO(data), formats=("PNG",)) as picture:
        picture.load()
        note = str(getattr(picture, "text", {}).get(PROPOSAL_KEY, ""))
    method, _, digest = note.rpartition(" ")
    return method if digest == states_sha256(states) else ""


def _grey(data: bytes, size: tuple[int, int], where: str) -> tuple[np.ndarray, np.ndarray]:
    """Return the grey values, and where the picture has a colour instead."""
    try:
        with Image.open(io.BytesIO(data), formats=("PNG",)) as picture:
            found, mode = picture.size, picture.mode
            if found == size and mode in _MODES:  # the size before anything is unpacked
                picture.load()
                # as palette or alpha: the four planes say both colour and transparency
                plain = mode == "L" and "transparency" not in picture.info
                planes = np.asarray(picture if plain else picture.convert("RGBA"))
    except (OSError, ValueError, SyntaxError, EOFError, Image.DecompressionBombError) as why:
        raise _unreadable(f"{len(data)} bytes ({type(why).__name__})", where) from None
    if found != size:
        raise PeelMaskOtherSize(
            "the mask has another size than the photograph",
            got=f"{found[0]} x {found[1]} px",
            expected=f"{size[0]} x {size[1]} px, as the upright photograph",
            where=where,
            do="Paint on the mask written with --propose, and neither crop nor scale it.",
        )
    if mode not in _MODES:
        raise _unreadable(f"mode {mode}", where)
    if plain:
        return planes, np.zeros(planes.shape, bool)
    if planes[..., 3].min() < 255:
        raise _unreadable("transparent pixels", where)
    blue, green, red = planes[..., 2], planes[..., 1], planes[..., 0]
    return np.ascontiguousarray(red), (red != green) | (green != blue)


def _unreadable(got: str, where: str) -> PeelMaskUnreadable:
    return PeelMaskUnreadable(
        "not a mask this tool reads",
        got=got,
        expected="a whole PNG of 8 bits without transparency",
        where=where,
        do="Flatten the picture and save it as PNG with 8 bits a channel.",
    )


def _meaning_refused(got: str) -> PeelMaskMeaningRefused:
    return PeelMaskMeaningRefused(
        "not a meaning of mask values",
        got=got,
        expected="name=grey pairs with one grey from 0 to 255 each for discontinuity and sound, "
        "if wanted also unsure and outside",
        do="Write it like discontinuity=255,sound=0.",
    )
