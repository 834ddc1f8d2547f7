"""The record against other readers of PDF, and what it refuses to print."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import datetime
from io import BytesIO
from itertools import pairwise
from pathlib import Path

import pikepdf
import pytest
from PIL import Image, ImageFilter

from lapwright.documents import typeset as typesetter
from lapwright.documents.errors import (
    AttachmentRefused,
    GlyphMissing,
    LabelsMissing,
    PictureRefused,
    TimeRefused,
    TypesettingRefused,
)
from lapwright.documents.glyphs import refuse_glyph
from lapwright.documents.record import typeset_record
from lapwright.documents.sheets import Picture, RecordSheet
from lapwright.documents.typeset import print_version
from unit.documents import samples
from unit.documents.witness import (
    codes_on,
    page_count,
    page_image,
    standard_faults,
    text_of,
    told_by,
)


def typeset(sheet: RecordSheet) -> bytes:
    return typeset_record(sheet, attachments=samples.attachments(), issued_at=samples.ISSUED)


def named(name: str) -> RecordSheet:
    sheet = samples.record_sheet()
    return replace(sheet, person=replace(sheet.person, name=name))


def test_a_typical_record_has_three_pages_and_says_what_it_must() -> None:
    pdf = samples.unsigned_record()
    text = text_of(pdf)
    assert page_count(pdf) == 3
    for words in (
        "QR-2026-0007",
        "Tobin Ashgrove",
        "TA7K",
        "Awaiting the employer's certification",
        "0.030 in to 0.120 in",
        "14.1 %",
        "Not covered",
        samples.HASH,
        "rest on memory",
        "Acceptance by a later employer",
        "Page 3 of 3",
    ):
        assert words in text


def test_the_first_page_is_a_summary() -> None:
    first = told_by("pdftotext", "-l", "1", "FILE", "-", pdf=samples.unsigned_record())
    for words in ("Tobin Ashgrove", "Met", "Vertical upflow", "up to 30.7 mm", "Decision rule"):
        assert words in first


@pytest.mark.parametrize("paper", ["us-letter", "a4"])
def test_typical_and_worst_records_claim_their_standards_with_reason(paper: str) -> None:
    """Outside witnesses: pikepdf for the claims, qpdf for the file."""
    for sheet in (samples.record_sheet(), samples.worst_sheet()):
        pdf = typeset(replace(sheet, paper=paper))
        assert standard_faults(pdf) == []
        assert "No syntax or stream encoding errors" in told_by("qpdf", "--check", "FILE", pdf=pdf)


def test_poppler_sees_embedded_fonts_only() -> None:
    table = told_by("pdffonts", "FILE", pdf=samples.unsigned_record()).splitlines()
    fonts = [line for line in table if "SourceSans3" in line]
    assert len(fonts) >= 2
    assert all(re.search(r"Identity-H\s+yes yes yes", line) for line in fonts)


def test_headings_start_at_one_and_skip_no_level() -> None:
    told = told_by("pdfinfo", "-struct", "FILE", pdf=samples.unsigned_record())
    levels = [int(n) for n in re.findall(r"^\s*H([1-6])\b", told, re.MULTILINE)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(b - a <= 1 for a, b in pairwise(levels))
    assert told.count("Figure") >= 9
    assert "TH " in told or "TH\n" in told or "TH (" in told


def test_a_worst_record_runs_on_and_keeps_every_line() -> None:
    pdf = typeset(samples.worst_sheet())
    text = text_of(pdf)
    assert 4 <= page_count(pdf) <= 7
    assert text.count("ASME B16.22") == 40
    assert text.count("re-prepared once") == 24
    assert "".join(text.split()).count("Q" * 90) == 1


def test_nothing_is_printed_outside_the_margins() -> None:
    """Raster by pdfium: the outer 10 mm of every page of the worst record stay white."""
    pdf = typeset(samples.worst_sheet())
    for page in range(page_count(pdf)):
        image = page_image(pdf, page=page, dpi=50).convert("L")
        edge = round(10 / 25.4 * 50)
        width, height = image.size
        for box in (
            (0, 0, edge, height),
            (width - edge, 0, width, height),
            (0, 0, width, edge),
            (0, height - edge, width, height),
        ):
            assert image.crop(box).getextrema() == (255, 255)


def test_equal_input_gives_equal_bytes_and_other_input_other_bytes() -> None:
    again = typeset(samples.record_sheet())
    assert again == samples.unsigned_record()
    assert typeset(named("Tobin Ashgrave")) != again


def test_attachments_come_back_byte_for_byte_as_data() -> None:
    """Outside witness: pikepdf."""
    with pikepdf.open(BytesIO(samples.unsigned_record())) as document:
        found = {name: spec.get_file().read_bytes() for name, spec in document.attachments.items()}
        kinds = {str(spec.obj.AFRelationship) for spec in document.attachments.values()}
    assert found == {a.name: a.data for a in samples.attachments()}
    assert kinds == {"/Data"}


@pytest.mark.parametrize("dpi", [200, 300])
def test_the_code_on_the_page_reads_back(dpi: int) -> None:
    """Outside witnesses: pdfium draws the page, zxing reads the code."""
    text = "lapwright:" + "k" * 300
    assert codes_on(page_image(samples.unsigned_record(), page=0, dpi=dpi)) == [text]


def test_the_code_reads_back_from_a_poor_copy() -> None:
    """Turned by 3 degrees, blurred, and saved as a coarse JPEG, at 200 dpi."""
    page = page_image(samples.unsigned_record(), page=0, dpi=200)
    poor = page.rotate(3, fillcolor="white").filter(ImageFilter.GaussianBlur(1.0))
    saved = BytesIO()
    poor.save(saved, "JPEG", quality=35)
    assert codes_on(Image.open(saved)) == ["lapwright:" + "k" * 300]


@pytest.mark.parametrize(
    "name",
    [
        "Zoë Ångström-Łącka",
        "Ελένη Παπαδάκη",
        "Жанна Щукина",
        "Nguyễn Thị Ngọc Ánh",
        "#emph[*x*] $y$ \\ // @z",
    ],
)
def test_names_in_these_scripts_are_printed_as_written(name: str) -> None:
    assert "".join(name.split()) in "".join(text_of(typeset(named(name))).split())


@pytest.mark.parametrize("name", ["李小龙", "محمد", "דוד", "สมชาย", "Tobin 😀"])
def test_other_scripts_are_refused_with_field_and_character(name: str) -> None:
    with pytest.raises(GlyphMissing) as refusal:
        typeset(named(name))
    assert refusal.value.where == "sheet.person.name"
    assert any(f"U+{ord(c):04X}" in refusal.value.got for c in name if ord(c) > 0x24F)


@pytest.mark.parametrize("char", ["\u202e", "\u200b", "\n", "\x00", "\u2028", "\ue000", "\ud800"])
def test_invisible_and_turning_marks_are_refused(char: str) -> None:
    with pytest.raises(GlyphMissing, match=f"U\\+{ord(char):04X}"):
        typeset(named(f"Tobin{char}Ashgrove"))


def test_a_missing_or_empty_label_is_named() -> None:
    labels = samples.catalogue()
    del labels["record.status"]
    labels["record.page"] = " "
    with pytest.raises(LabelsMissing, match=r"record\.page, record\.status"):
        typeset(replace(samples.record_sheet(), labels=labels))


def test_a_time_without_offset_is_refused() -> None:
    with pytest.raises(TimeRefused, match="DOC-011"):
        typeset_record(
            samples.record_sheet(),
            attachments=samples.attachments(),
            issued_at=datetime(2026, 3, 9),
        )


@pytest.mark.parametrize(
    ("picture", "told"),
    [
        (Picture(b"GIF89a", "a face"), "PNG or JPEG"),
        (Picture(b"", "a face"), "PNG or JPEG"),
        (Picture(samples.overlay(0.1), " "), "text alternative"),
        (Picture(samples.overlay(0.1)[:200], "a face"), "cannot be read"),
    ],
)
def test_pictures_that_cannot_stand_on_a_record_are_refused(picture: Picture, told: str) -> None:
    sheet = samples.record_sheet()
    faces = (replace(sheet.faces[0], overlay=picture),)
    with pytest.raises(PictureRefused, match=told):
        typeset(replace(sheet, faces=faces))


@pytest.mark.parametrize(
    "change",
    [
        {"name": "../record2.json"},
        {"name": "two words.json"},
        {"name": ".hidden"},
        {"name": ""},
        {"name": "RECORD.JSON"},
        {"mime": "json"},
        {"relationship": "other"},
        {"description": ""},
    ],
)
def test_unusable_attachments_are_refused(change: dict[str, str]) -> None:
    first = samples.attachments()
    second = replace(first[1], **change)
    with pytest.raises(AttachmentRefused, match="DOC-004"):
        typeset_record(
            samples.record_sheet(), attachments=[first[0], second], issued_at=samples.ISSUED
        )


def test_pages_that_name_other_data_than_the_attached_are_refused() -> None:
    with pytest.raises(AttachmentRefused, match="other data"):
        typeset(replace(samples.record_sheet(), payload_sha256="0" * 64))
    with pytest.raises(AttachmentRefused, match=r"record\.json"):
        typeset_record(samples.record_sheet(), attachments=[], issued_at=samples.ISSUED)


def test_a_loupe_record_without_pictures_findings_or_tree_head_is_whole() -> None:
    sheet = samples.record_sheet()
    bare = replace(
        sheet,
        faces=tuple(replace(f, overlay=None) for f in sheet.faces),
        findings=(),
        unconfirmed=(),
        tree_head=None,
        files=(),
        positions=(),
        ranges=(),
    )
    pdf = typeset(bare)
    assert standard_faults(pdf) == []
    assert "No other findings." in text_of(pdf)


def test_outcomes_are_told_apart_without_colour() -> None:
    """Each outcome has another shape: the drawn marks differ in grey, beside different words."""
    marks = set()
    for word in (samples.MET, samples.NOT_MET, samples.OPEN):
        pdf = typeset(replace(samples.record_sheet(), decision=replace(word, word="same")))
        marks.add(
            page_image(pdf, page=0, dpi=100).convert("L").point(lambda v: 255 * (v > 128)).tobytes()
        )
    assert len(marks) == 3


def test_the_print_version_names_the_typesetter() -> None:
    assert re.fullmatch(r"typst \d+\.\d+\.\d+, [0-9a-f]{16}", print_version())


@pytest.mark.parametrize(
    ("source", "told"),
    [
        ('#set text(font: "No Such Family")\nHello', "unknown font family"),
        ("#panic(1)", "panicked"),
        ('#import "@preview/anything:0.1.0": *', "package"),
        ('#read("/etc/hostname")', "not found"),
        ('#read("../../../../etc/hostname")', "DOC-003"),
    ],
)
def test_faults_warnings_packages_and_foreign_files_are_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, source: str, told: str
) -> None:
    samples.unsigned_record()  # the fonts are loaded from their own folder
    (tmp_path / "templates").mkdir()
    (tmp_path / "templates" / "t.typ").write_text(f'#set document(title: "t")\n{source}')
    monkeypatch.setattr(typesetter, "_HERE", tmp_path)
    with pytest.raises(TypesettingRefused, match=told):
        typesetter.typeset(
            "t.typ", samples.record_sheet(), labels={}, attachments=[], made_at=samples.ISSUED
        )


def test_a_refusal_about_a_glyph_that_no_field_holds_stays_a_refusal_of_the_page() -> None:
    refuse_glyph(samples.record_sheet(), "the text could not be displayed with any font")
