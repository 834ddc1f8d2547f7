"""What other programs say about a PDF: poppler, qpdf, pikepdf, pdfium, zxing."""

from __future__ import annotations

import subprocess
import tempfile
from io import BytesIO
from pathlib import Path

import pikepdf
import pypdfium2
import zxingcpp
from PIL import Image


def told_by(program: str, *arguments: str, pdf: bytes) -> str:
    """Run a program on the file and return what it printed."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "file.pdf"
        path.write_bytes(pdf)
        place = [str(path) if a == "FILE" else a for a in arguments]
        done = subprocess.run([program, *place], capture_output=True, text=True, check=False)
    return f"{done.stdout}\n{done.stderr}\nexit {done.returncode}"


def text_of(pdf: bytes) -> str:
    """Text of all pages in reading order, by poppler, with runs of blanks made one."""
    return " ".join(told_by("pdftotext", "-raw", "FILE", "-", pdf=pdf).split())


def page_image(pdf: bytes, *, page: int, dpi: int) -> Image.Image:
    """Raster of one page by pdfium."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        return document[page].render(scale=dpi / 72).to_pil().convert("RGB")
    finally:
        document.close()


def codes_on(image: Image.Image) -> list[str]:
    """Texts of the codes that zxing finds."""
    return [found.text for found in zxingcpp.read_barcodes(image)]


def page_count(pdf: bytes) -> int:
    """Number of pages, by pikepdf."""
    with pikepdf.open(BytesIO(pdf)) as document:
        return len(document.pages)


def standard_faults(pdf: bytes) -> list[str]:
    """What a look with pikepdf finds against PDF/A-3a and PDF/UA-1; no full validator."""
    with pikepdf.open(BytesIO(pdf)) as document:
        root = document.Root
        xmp = root.Metadata.read_bytes().decode()
        wanted = ("<pdfaid:part>3<", "<pdfaid:conformance>A<", "<pdfuaid:part>1<", "<dc:title>")
        faults = [f"XMP lacks {word}" for word in wanted if word not in xmp]
        intents = list(root.OutputIntents)
        if not any(i.S == "/GTS_PDFA1" and "/DestOutputProfile" in i for i in intents):
            faults.append("no output intent with a profile")
        if "/Lang" not in root or not bool(root.MarkInfo.Marked) or "/StructTreeRoot" not in root:
            faults.append("no language, or not tagged")
        if not bool(root.ViewerPreferences.DisplayDocTitle):
            faults.append("title not shown")
        if (
            document.is_encrypted
            or "/OpenAction" in root
            or "/JavaScript" in root.get("/Names", {})
        ):
            faults.append("encrypted or active")
        faults += [
            f"attachment {name} without relationship"
            for name, spec in document.attachments.items()
            if "/AFRelationship" not in spec.obj
        ]
        return faults + _font_faults(document) + _widget_faults(document)


def _font_faults(document: pikepdf.Pdf) -> list[str]:
    names = ("/FontFile", "/FontFile2", "/FontFile3")
    return [
        f"font {thing.get('/FontName')} not embedded"
        for thing in document.objects
        if isinstance(thing, pikepdf.Dictionary)
        and thing.get("/Type") == "/FontDescriptor"
        and not any(name in thing for name in names)
    ] + [
        f"font {thing.get('/BaseFont')} without descriptor"
        for thing in document.objects
        if isinstance(thing, pikepdf.Dictionary)
        and thing.get("/Type") == "/Font"
        and thing.get("/Subtype") in ("/Type1", "/TrueType")
    ]


def _widget_faults(document: pikepdf.Pdf) -> list[str]:
    """Widgets print (PDF/A), are not hidden, and lie outside the page (PDF/UA, untagged)."""
    faults = []
    for page in document.pages:
        for note in page.get("/Annots", []):
            flags, box = int(note.get("/F", 0)), [float(x) for x in note.Rect]
            outside = box[2] < 0 and box[3] < 0
            if note.get("/Subtype") != "/Widget" or not flags & 4 or flags & 35 or not outside:
                faults.append(f"annotation {note.get('/Subtype')} flags {flags} box {box}")
    return faults
