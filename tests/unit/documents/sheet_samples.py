"""Invented sheets for the tests of documents: a typical record, a worst one, a booklet."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from io import BytesIO
from pathlib import Path

import polib

import lapwright
from lapwright.core.outcomes import Outcome
from lapwright.documents import sheets as s
from lapwright.documents.qr import qr_svg

MET = s.OutcomeWord(Outcome.MET, "Met")
NOT_MET = s.OutcomeWord(Outcome.NOT_MET, "Not met")
OPEN = s.OutcomeWord(Outcome.UNDETERMINED, "Open: second reading")
COVERED = s.OutcomeWord(Outcome.MET, "Covered")
NOT_COVERED = s.OutcomeWord(Outcome.NOT_MET, "Not covered")
PAYLOAD = b'{"record":"QR-2026-0007"}'
HASH = hashlib.sha256(PAYLOAD).hexdigest()
CATALOGUE = Path(lapwright.__file__).parent / "locale" / "en" / "documents.po"
FACTS = (
    s.Fact("Procedure", "QP-BPS-04, revision 2 (PQR QP-PQR-04)"),
    s.Fact("Session", "S-2026-011, supervisor Oda Fenwater"),
)
BASIS = (
    s.Fact("Codes", "ASME BPVC IX 2023; NFPA 99 2024"),
    s.Fact(
        "Decision rule",
        "second reading: when the limit lies inside the 95 % "
        "interval, another person reads the face blind and the larger value counts",
    ),
    s.Fact(
        "Options",
        "Thickness readings S1 and S3; adopted range table RT-2, signed 2026-01-15",
    ),
    s.Fact("Limit", "Unbrazed length at most 20 % of the overlap, each face alone"),
)
POSITIONS = (
    s.PositionRow("Flat", MET, "4 faces, largest 10.4 %"),
    s.PositionRow("Vertical downflow", MET, "2 faces, largest 11.7 %"),
    s.PositionRow("Vertical upflow", MET, "2 faces, largest 14.1 %"),
)
FINDINGS = (
    s.FindingRow(
        "Coupon K7H",
        "Bore seen before sawing: no oxide, no scale.",
        MET,
        "NFPA 99 2024, 5.1.10.4.5",
    ),
    s.FindingRow(
        "Coupon K7V",
        "Bore seen before sawing: no oxide, no scale.",
        MET,
        "NFPA 99 2024, 5.1.10.4.5",
    ),
    s.FindingRow(
        "Joint K7V-2",
        "Small run of filler outside, accepted by the examiner with reason and photograph.",
        MET,
        "programme rule P-3",
    ),
)
CAUTIONS = (
    "The adopted edition, the authority having jurisdiction and licensed practice "
    "govern. This document certifies no one and replaces reading no code.",
    "This record supports no joint until the employer's responsible person has signed it.",
    "Nitrogen can displace the air of a room: keep an oxygen monitor where a purge runs.",
)
FILES = (
    s.AttachmentLine("record.json", "Complete data of this record"),
    s.AttachmentLine("rules.json", "The rule rows used, with sources"),
    s.AttachmentLine("face-K7H-1-a.png", "Overlay of the face, and seven more"),
)
PERSON = s.PersonBlock(
    "Tobin Ashgrove",
    "TA7K",
    "Quillon Pipeworks",
    "Fennel Bay Training Hall",
    ("2026-03-04",),
)
ACCEPTANCE = s.Acceptance(
    "A responsible person of a later employer who signs here states "
    "that the record was checked, that it covers the work to be done, "
    "and that brazing has continued without a gap.",
    rows=4,
)


def catalogue() -> dict[str, str]:
    """Return the English texts of the area."""
    return {entry.msgid: entry.msgstr for entry in polib.pofile(str(CATALOGUE))}


def overlay(share: float, *, width: int = 640, height: int = 220) -> bytes:
    """Draw a plain picture of a face: two bars, a line between, one dark run."""
    from PIL import Image, ImageDraw

    picture = Image.new("RGB", (width, height), (212, 214, 212))
    draw = ImageDraw.Draw(picture)
    draw.rectangle((0, 40, width, 100), fill=(184, 122, 86))
    draw.rectangle((0, 112, width, 172), fill=(176, 114, 80))
    draw.rectangle((60, 100, width - 60, 112), fill=(222, 205, 170))
    start = 60 + 0.3 * (width - 120)
    draw.rectangle((start, 100, start + share * (width - 120), 112), fill=(40, 38, 36))
    out = BytesIO()
    picture.save(out, "PNG")
    return out.getvalue()


def face(coupon: str, joint: str, side: str, share: float, decision: s.OutcomeWord) -> s.FaceRow:
    position = "flat" if coupon.endswith("H") else "downflow" if joint == "1" else "upflow"
    text = f"{share * 100:.1f} %"
    return s.FaceRow(
        coupon=coupon,
        joint=joint,
        position=position,
        face=side,
        overlap="24.6 mm",
        share=text,
        u95="± 1.6 %",
        limit="20 %",
        decision=decision,
        readers="E1, E2",
        overlay=s.Picture(
            overlay(share),
            f"Coupon {coupon}, joint {joint}, face {side}: {text} of the overlap holds no filler.",
        ),
    )


def faces() -> tuple[s.FaceRow, ...]:
    shares = {
        ("K7H", "1"): (0.062, 0.088),
        ("K7H", "2"): (0.104, 0.071),
        ("K7V", "1"): (0.093, 0.117),
        ("K7V", "2"): (0.141, 0.126),
    }
    return tuple(
        face(c, j, side, share, MET)
        for (c, j), pair in shares.items()
        for side, share in zip("ab", pair, strict=True)
    )


def variables() -> tuple[s.VariableRow, ...]:
    ix = "ASME BPVC IX 2023"
    return (
        s.VariableRow("Process", "Torch brazing, manual", "Torch brazing, manual", f"{ix}, QB-402"),
        s.VariableRow(
            "Base metal", "P-No. 107 to P-No. 107", "P-No. 107 to P-No. 107", f"{ix}, QB-403"
        ),
        s.VariableRow("Filler metal", "BCuP-5, F-No. 103", "F-No. 103", f"{ix}, QB-404"),
        s.VariableRow(
            "Tube wall",
            "0.060 in",
            "0.030 in to 0.120 in",
            f"{ix}, QB-452",
            "Acts together with the adopted range table.",
        ),
        s.VariableRow(
            "Overlap",
            "24.6 mm",
            "up to 30.7 mm",
            f"{ix}, QB-408.4",
            "Smallest credible overlap of the coupon.",
        ),
        s.VariableRow("Joint design", "Socket, lap", "Socket, lap", f"{ix}, QB-408.1"),
        s.VariableRow(
            "Flow positions", "flat, downflow, upflow", "flat, downflow, upflow", f"{ix}, QB-461"
        ),
        s.VariableRow("Purge", "Nitrogen, 15 ft3/h", "Required", "NFPA 99 2024, 5.1.10.4.5"),
    )


def ranges(count: int = 9) -> tuple[s.RangeRow, ...]:
    sizes = ["1/4", "3/8", "1/2", "5/8", "3/4", "1", "1-1/4", "1-1/2", "2", "2-1/2"]
    rows = []
    for i in range(count):
        small = i % len(sizes) < 3
        rows.append(
            s.RangeRow(
                size=sizes[i % len(sizes)],
                tube="ASTM B819, type L",
                fitting="ASME B16.22",
                positions="all qualified",
                decision=NOT_COVERED if small else COVERED,
                reason="Fitting wall below 0.030 in (tube wall range)"
                if small
                else "Wall and overlap inside both limits",
            )
        )
    return tuple(rows)


def code(text: str = "lapwright:" + "k" * 300) -> s.CodePanel:
    return s.CodePanel(
        svg=qr_svg(text),
        alt="Code with the number, revision and data hash of this record.",
        digest="QR-2026-0007 · 0 · 6f1e d002 ab55 9585",
        steps=(
            "Run lapwright verify on this file with the certificate of the issuing programme; "
            "no network is needed.",
            "Without the tool: check the signature in any PDF reader that knows the "
            "certificate, and compare the SHA-256 of record.json with the value below.",
            "Ask the issuing programme whether a later revision or a withdrawal exists: "
            "a file cannot know.",
        ),
    )


def signatures() -> tuple[s.SignatureRow, ...]:
    return (
        s.SignatureRow(
            "Session supervisor",
            "I watched the coupons being brazed, purge in place, and saw the marks made.",
            "Oda Fenwater",
            "2026-03-04 16:10 −06:00",
        ),
        s.SignatureRow(
            "Examiner",
            "I read the faces without knowing the brazer or the other reading.",
            "Silas Brackenby",
            "2026-03-06 11:42 −06:00",
        ),
        s.SignatureRow(
            "Qualification lead",
            "I decided from the filed readings under the basis named on page 1.",
            "Maren Tollaksen",
            "2026-03-09 09:30 −06:00",
        ),
        s.SignatureRow(
            "Employer's responsible person",
            "I certify that the statements of this "
            "record are correct and that the coupons were prepared, brazed and tested "
            "under the basis named on page 1.",
        ),
    )


def record_sheet() -> s.RecordSheet:
    """Return a typical record: one brazer, two coupons, four joints, eight faces."""
    return s.RecordSheet(
        number="QR-2026-0007",
        revision="0",
        title="Brazing performance qualification record",
        status="Awaiting the employer's certification",
        issued="2026-03-09",
        payload_sha256=HASH,
        labels=catalogue(),
        person=PERSON,
        decision=s.OutcomeWord(Outcome.MET, "Met"),
        decision_text="Every face of every joint lies within the limit under the decision rule "
        "below, and no finding stands against the record. It supports no joint until the "
        "employer's responsible person has signed it.",
        facts=FACTS,
        basis=BASIS,
        positions=POSITIONS,
        variables=variables(),
        faces=faces(),
        findings=FINDINGS,
        ranges=ranges(),
        range_intro="Tube wall and overlap are compared with the job's own cup depth; a size is "
        "covered only where every row of the range allows it.",
        unconfirmed=(
            "ASME BPVC IX 2023, QB-452: the wall factors rest on memory and nobody has "
            "compared them with a copy.",
        ),
        cautions=CAUTIONS,
        signatures=signatures(),
        signatures_intro="Signatures inside the file carry the same names and times.",
        acceptance=ACCEPTANCE,
        tree_head=s.TreeHeadLine(
            "412", "9b74c9897bac770ffc029102a200c5def1a3c5e7092b4d6f8193b5d7f90a2c4e"
        ),
        code=code(),
        files=FILES,
    )


def attachments() -> list[s.Attachment]:
    return [
        s.Attachment("record.json", PAYLOAD, "application/json", "Complete data"),
        s.Attachment("rules.json", b'{"rules":[]}', "application/json", "Rule rows used"),
        s.Attachment("face-K7H-1-a.png", overlay(0.062), "image/png", "Overlay of a face"),
    ]


def worst_sheet() -> s.RecordSheet:
    """Return an overlong record: long names without spaces, 24 faces, 40 sizes."""
    base = record_sheet()
    name = "Wolfeschlegelsteinhausenbergerdorff-Featherstonehaughington van den Overbeeksdijk"
    long_rows = tuple(
        replace(f, coupon="COUPON-2026-A", note="re-prepared once, reason on file") for f in faces()
    )
    return replace(
        base,
        number="QR-2026-0007-FENNELBAY-LONG",
        title=base.title,
        person=replace(
            base.person,
            name=name,
            employer="Q" * 90,
            mark="TA7KXXZ9",
            place="Fennel Bay Training Hall, north workshop, booth twelve, second floor",
            braze_dates=tuple(f"2026-03-{d:02d}" for d in range(1, 15)),
        ),
        faces=long_rows * 3,
        ranges=ranges(40),
        unconfirmed=base.unconfirmed * 6,
        decision=OPEN,
        findings=base.findings * 5,
    )


def booklet(count: int = 30) -> s.BookletSheet:
    """Return a booklet of ``count`` invented lines in three groups."""
    known = ("from memory", "public summary", "text read")
    rows = [
        s.BookletRow(
            rule=f"section.figure_{i:02d}",
            says="Largest share of the overlap that may hold no "
            "filler, each face of a section taken alone",
            figure=str(5 * (i % 9) + 5),
            unit="" if i % 4 == 3 else "%",
            citation="ASME BPVC IX 2023, QB-452",
            known=known[i % 3],
            confirmed="Maren Tollaksen, 2026-01-15" if i == 1 else "",
        )
        for i in range(count)
    ]
    size = -(-count // 3)
    groups = [
        s.BookletGroup(name, tuple(rows[i * size : (i + 1) * size]))
        for i, name in enumerate(("ASME BPVC IX 2023", "NFPA 99 2024", "Programme rules"))
    ]
    return s.BookletSheet(
        title="Deciding figures",
        programme="Fennel Bay Training Hall",
        rulebook="rules 0.1.0, sha256 4c1f 09aa",
        made="2026-01-12",
        intro=(
            "Take your own copies of the codes. Open each at the place named.",
            "Tick the box when your copy says the same; otherwise write what it says.",
            "Name the copies you used, sign, date, and file the ticks as confirmations.",
        ),
        groups=tuple(groups),
        labels=catalogue(),
        declaration="I compared each ticked figure with the copies named below.",
        cautions=(
            "A tick confirms one figure in one edition; it does not replace reading the code.",
        ),
    )
