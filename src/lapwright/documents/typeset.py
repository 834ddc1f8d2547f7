"""Values in, PDF/A-3a and PDF/UA-1 out: the one place that calls the typesetter.

Fonts are the shipped ones only, the date is the one given, warnings count as
errors, and the typesetter sees a folder that holds nothing but the template,
the values and the pictures of this one document. The same input gives the same
bytes. Values stay text: markup inside them is printed, never run.
"""

from __future__ import annotations

import dataclasses
import hashlib
import json
import tempfile
from collections.abc import Mapping
from datetime import UTC, datetime
from enum import Enum
from functools import cache
from importlib import metadata
from pathlib import Path
from typing import TYPE_CHECKING

from .errors import AttachmentRefused, PictureRefused, TimeRefused, TypesettingRefused
from .glyphs import check_characters, refuse_glyph
from .sheets import Attachment, CodePanel, Picture

if TYPE_CHECKING:
    import typst

RELATIONSHIPS = ("data", "source", "alternative", "supplement")
_HERE = Path(__file__).parent
_KINDS = {b"\x89PNG\r\n\x1a\n": "png", b"\xff\xd8\xff": "jpg", b"<svg ": "svg"}


def typeset(
    template: str,
    sheet: object,
    *,
    labels: Mapping[str, str],
    attachments: list[Attachment],
    made_at: datetime,
) -> bytes:
    """Typeset a sheet with a shipped template.

    Parameters
    ----------
    template : str
        File name below ``templates``.
    sheet : dataclass instance
        Values to print; see `lapwright.documents.sheets`.
    labels : mapping of str to str
        Labels by the name the template uses.
    attachments : list of Attachment
        Files put inside the PDF, in this order.
    made_at : datetime
        Date written into the document, with its offset; whole seconds.

    Returns
    -------
    bytes
        A PDF that claims PDF/A-3a and PDF/UA-1; equal input gives equal bytes.

    Raises
    ------
    GlyphMissing, PictureRefused, AttachmentRefused, TimeRefused, TypesettingRefused
    """
    if made_at.tzinfo is None:
        raise TimeRefused(
            "the date of the document has no offset",
            got=made_at.isoformat(),
            expected="a time with its offset",
            do="Give the instant of issue.",
        )
    check_characters(sheet)
    files: dict[str, bytes] = {}
    data = {
        "sheet": _plain(sheet, files),
        "labels": dict(labels),
        "attachments": _place_attachments(attachments, files),
    }
    text = json.dumps(data, ensure_ascii=False, sort_keys=True)
    try:
        return _compile(template, text, files, made_at)
    except _Refused as refusal:
        refuse_glyph(sheet, refusal.text)
        raise _explain(refusal.text) from None


@cache
def print_version() -> str:
    """Name the typesetter's version and the templates and fonts, as ``typst 0.15.2, 1f0c…``.

    Two equal names give equal bytes for equal sheets; a record keeps its name, so that a
    later check knows whether typesetting it again can be expected to give the same file.
    """
    digest = hashlib.sha256()
    for folder in ("fonts", "templates"):
        for path in sorted((_HERE / folder).iterdir()):
            digest.update(path.name.encode() + b"\0" + hashlib.sha256(path.read_bytes()).digest())
    return f"typst {metadata.version('typst')}, {digest.hexdigest()[:16]}"


class _Refused(Exception):
    def __init__(self, text: str) -> None:
        super().__init__(text)
        self.text = text


def _compile(template: str, data: str, files: Mapping[str, bytes], made_at: datetime) -> bytes:
    import typst

    with tempfile.TemporaryDirectory(prefix="lapwright-") as folder:
        root = Path(folder)
        for source in (_HERE / "templates").glob("*.typ"):
            (root / source.name).write_bytes(source.read_bytes())
        for name, content in files.items():
            (root / name).write_bytes(content)
        compiler = typst.Compiler(root / template, root=root, font_paths=_fonts())
        try:
            pdf, warnings = compiler.compile_with_warnings(
                sys_inputs={"data": data},
                pdf_standards=["a-3a", "ua-1"],
                format="pdf",
                timestamp=made_at.astimezone(UTC).replace(microsecond=0),
            )
        except typst.TypstError as error:
            raise _Refused(f"{error.message} {' '.join(error.hints or [])}".strip()) from None
        if warnings:
            raise _Refused(warnings[0].message)
    assert isinstance(pdf, bytes)  # one file, because the format is PDF and no output is named
    return pdf


@cache
def _fonts() -> typst.Fonts:
    import typst

    return typst.Fonts(
        include_system_fonts=False, include_embedded_fonts=False, font_paths=[str(_HERE / "fonts")]
    )


def _explain(text: str) -> PictureRefused | TypesettingRefused:
    if "decode image" in text or "failed to parse" in text:
        return PictureRefused(
            "a picture cannot be read",
            got=text,
            expected="a whole PNG or JPEG file",
            do="Make the picture again.",
        )
    return TypesettingRefused(
        "the page could not be typeset",
        got=text,
        expected="a page without faults or warnings",
        do="Report this text; the sheet or the template needs a change.",
    )


def _plain(value: object, files: dict[str, bytes], where: str = "sheet") -> object:
    """Turn a sheet into JSON values; pictures go into ``files`` under names of our own."""
    if isinstance(value, Picture):
        return _place_picture(value, files, where)
    if isinstance(value, Enum):
        return value.value
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        out = {
            f.name: _plain(getattr(value, f.name), files, f"{where}.{f.name}")
            for f in dataclasses.fields(value)
            if f.name != "labels"
        }
        if isinstance(value, CodePanel):
            files["code.svg"] = value.svg.encode()
            out["svg"] = "code.svg"
        return out
    if isinstance(value, tuple | list):
        return [_plain(item, files, f"{where}[{i}]") for i, item in enumerate(value)]
    return value


def _place_picture(picture: Picture, files: dict[str, bytes], where: str) -> dict[str, str]:
    kind = next((k for magic, k in _KINDS.items() if picture.data.startswith(magic)), "")
    if not kind:
        raise PictureRefused(
            "not a picture that can be printed",
            got="bytes of another kind" if picture.data else "nothing",
            where=where,
            expected="the bytes of a PNG or JPEG file, or a drawing of this tool (SVG)",
            do="Save the overlay as PNG.",
        )
    if not picture.alt.strip():
        raise PictureRefused(
            "a picture without a text alternative",
            got="empty text",
            where=where,
            expected="one sentence that says what it shows",
            do="Describe the face and its result.",
        )
    name = f"picture-{len(files):03d}.{kind}"
    files[name] = picture.data
    return {"file": name, "alt": picture.alt, "caption": picture.caption}


def _place_attachments(
    attachments: list[Attachment], files: dict[str, bytes]
) -> list[dict[str, str]]:
    """Check names and kinds, put the bytes beside the template under names of our own."""
    rows = []
    seen: set[str] = set()
    for index, item in enumerate(attachments):
        _check_attachment(item, seen)
        seen.add(item.name.casefold())
        stored = f"attachment-{index:03d}.bin"
        files[stored] = item.data
        rows.append(
            {
                "name": item.name,
                "file": stored,
                "mime": item.mime,
                "description": item.description,
                "relationship": item.relationship,
            }
        )
    return rows


def _check_attachment(item: Attachment, seen: set[str]) -> None:
    plain_name = item.name.isascii() and all(c.isalnum() or c in "-_." for c in item.name)
    if not plain_name or item.name.startswith(".") or not item.name:
        raise AttachmentRefused(
            "not a file name for every system",
            got=item.name,
            expected="ASCII letters, digits, '-', '_' and '.'",
            do="Rename the attachment.",
        )
    if item.name.casefold() in seen:
        raise AttachmentRefused(
            "two attachments with one name",
            got=item.name,
            expected="each name once",
            do="Rename one of them.",
        )
    if item.relationship not in RELATIONSHIPS or "/" not in item.mime or not item.description:
        raise AttachmentRefused(
            "an attachment without its description",
            where=item.name,
            got=", ".join(t or "nothing" for t in (item.mime, item.relationship, item.description)),
            expected="a media type, a description and one of " + ", ".join(RELATIONSHIPS),
            do="Complete the attachment.",
        )
