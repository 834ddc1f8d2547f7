"""Scans of paper records: masked before they are stored; the original never enters the store.

A picture is decoded, turned upright, painted black in the named regions and
encoded anew, so that no hidden thumbnail or metadata of the original is left. A
PDF cannot be masked here: its pages may hold text under the picture. It is kept
as it is only when a person says that it shows no government number; otherwise
give its pages as pictures.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from .errors import PaperMaskRefused, PaperNumberUnsaid, PaperPdfRefused, PaperScanRefused

MAX_BYTES = 50 * 1024 * 1024
QUALITY = 92  # of a JPEG encoded anew
_REGION = re.compile(r"^(\d{1,5}):(\d{1,5}),(\d{1,5}),(\d{1,5}),(\d{1,5})$")


@dataclass(frozen=True)
class Region:
    """A rectangle to paint over: page from 1, left, top, width and height in pixels.

    Counted after EXIF rotation, on the page as a viewer shows it.
    """

    page: int
    x: int
    y: int
    w: int
    h: int

    @property
    def text(self) -> str:
        """The region as the option takes it."""
        return f"{self.page}:{self.x},{self.y},{self.w},{self.h}"


@dataclass(frozen=True)
class MaskedScan:
    """One page, or one PDF, ready to store; ``kind`` is ``png``, ``jpg`` or ``pdf``."""

    kind: str
    data: bytes


def parse_region(text: str) -> Region:
    """Read ``page:x,y,w,h``.

    Raises
    ------
    PaperMaskRefused
        For another form.
    """
    found = _REGION.match(text.replace(" ", ""))
    if found is None:
        raise _mask(text, "page:x,y,w,h in whole pixels, such as 1:820,240,310,60")
    return Region(*(int(part) for part in found.groups()))


def regions_of(rows: Sequence[Mapping[str, str]]) -> tuple[Region, ...]:
    """Return the regions that a paper's YAML names.

    Parameters
    ----------
    rows : sequence of mapping
        ``page``, ``x``, ``y``, ``w``, ``h`` as text.
    """
    return tuple(Region(*(int(row[k]) for k in ("page", "x", "y", "w", "h"))) for row in rows)


def read_scan(path: Path) -> bytes:
    """Return the bytes of a scan.

    Raises
    ------
    PaperScanRefused
        If it cannot be read or is too large.
    """
    try:
        with path.open("rb") as file:
            data = file.read(MAX_BYTES + 1)
    except OSError as fault:
        raise _scan(f"{path} ({fault.strerror})", "a readable file", "Correct the name.") from fault
    if len(data) > MAX_BYTES:
        raise _scan(
            f"over {MAX_BYTES} bytes", f"at most {MAX_BYTES} bytes", "Scan at 200 to 300 dpi."
        )
    return data


def masked_scans(
    pages: Sequence[tuple[str, bytes]], regions: Sequence[Region], *, no_number: str = ""
) -> tuple[MaskedScan, ...]:
    """Return scans as they may be stored.

    Parameters
    ----------
    pages : sequence of (str, bytes)
        Name and bytes of each page's picture in order, or of one PDF.
    regions : sequence of Region
        What to paint over.
    no_number : str, optional
        ``yes`` where a person says that nothing on it is a government number.

    Raises
    ------
    PaperScanRefused, PaperMaskRefused, PaperNumberUnsaid, PaperPdfRefused
    """
    if not pages:
        raise _scan("no scan", "a PDF, or a PNG or JPEG file for each page", "Name it with --scan.")
    if any(data.startswith(b"%PDF-") for _, data in pages):
        return _pdf(pages, regions, no_number)
    if not regions and no_number != "yes":
        raise PaperNumberUnsaid(
            "nobody says what to do about government numbers on the scan",
            got="no region to mask",
            expected="regions under scan.masks or --mask, or scan.no_number: yes",
            where=pages[0][0],
            do="Look at the scan, then name each region, or say that there is no such number.",
        )
    for region in regions:
        if not 1 <= region.page <= len(pages):
            raise _mask(region.text, f"a page from 1 to {len(pages)}")
    return tuple(
        _page(name, data, [r for r in regions if r.page == number])
        for number, (name, data) in enumerate(pages, start=1)
    )


def _pdf(
    pages: Sequence[tuple[str, bytes]], regions: Sequence[Region], no_number: str
) -> tuple[MaskedScan, ...]:
    name, data = pages[0]
    if len(pages) > 1:
        raise _scan(
            f"{len(pages)} files, one of them a PDF", "one PDF, or pictures", "Give one kind."
        )
    if regions or no_number != "yes":
        raise PaperPdfRefused(
            "a PDF cannot be masked: text may lie under its pictures",
            got="regions to mask" if regions else "no word on government numbers",
            expected="pictures of its pages, or scan.no_number: yes",
            where=name,
            do="Save each page as PNG and mask there; only a PDF without such numbers is kept.",
        )
    return (MaskedScan("pdf", data),)


def _page(name: str, data: bytes, regions: Sequence[Region]) -> MaskedScan:
    import cv2

    from lapwright.core.errors import LapwrightError
    from lapwright.measure.image import open_photo

    try:
        photo = open_photo(data, where=name)
    except LapwrightError as fault:
        do = "Scan the page again, or save it as PNG or JPEG."
        raise _scan(fault.got or fault.what, "a whole PNG or JPEG file", do) from fault
    if photo.format not in ("PNG", "JPEG"):
        raise _scan(photo.format, "PNG, JPEG or PDF", "Save the scan as PNG.")
    pixels = photo.pixels.copy()
    for r in regions:
        if not (r.w and r.h and r.x + r.w <= photo.width and r.y + r.h <= photo.height):
            raise _mask(r.text, f"a region with a size inside {photo.width} x {photo.height} px")
        pixels[r.y : r.y + r.h, r.x : r.x + r.w] = 0
    kind = "png" if photo.format == "PNG" else "jpg"
    settings = [] if kind == "png" else [cv2.IMWRITE_JPEG_QUALITY, QUALITY]
    done, encoded = cv2.imencode(f".{kind}", pixels, settings)
    if not done:
        raise _scan(name, "a picture that can be encoded", "Save the scan as PNG.")
    return MaskedScan(kind, encoded.tobytes())


def _scan(got: str, expected: str, do: str) -> PaperScanRefused:
    return PaperScanRefused("not a scan that can be kept", got=got, expected=expected, do=do)


def _mask(got: str, expected: str) -> PaperMaskRefused:
    return PaperMaskRefused(
        "not a region that can be masked",
        got=got,
        expected=expected,
        do="Read the pixels off in any picture viewer, the page shown upright.",
    )
