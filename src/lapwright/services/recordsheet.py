"""The words a record prints, made from its attached data alone.

Pure: the same data, issue note and overlays give the same sheet, so that a
checker can typeset it again and compare. Nothing is judged here.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from lapwright.core.outcomes import Outcome, Why
from lapwright.documents import sheets as s
from lapwright.documents.labels import RECORD_LABELS
from lapwright.documents.qr import qr_svg
from lapwright.reference.tube import tube_sizes

from .bothunits import in_both_units, limits_in_both_units
from .casereport import in_part
from .rangelist import covered_word
from .recordrows import (
    acts,
    alike,
    basis_facts,
    face_rows,
    fact_rows,
    finding_rows,
    in_words,
    initials,
    name_of,
    outcome_of,
    short_cite,
    supervisors,
    why_failed,
)
from .text import word

Data = Mapping[str, Any]
DAGGER = " ‡"


def record_sheet(
    data: Data, rules: Data, issue: Data, overlays: Mapping[str, bytes], payload_sha256: str
) -> s.RecordSheet:
    """Return the sheet of a record.

    Parameters
    ----------
    data : mapping
        The record's complete data.
    rules : mapping
        The rule rows used.
    issue : mapping
        The issue note: time, tree head, token.
    overlays : mapping
        Face id to PNG bytes of its small overlay.
    payload_sha256 : str
        SHA-256 of the complete data.
    """
    session = next(a["body"] for a in data["acts"] if a["type"] == "SessionOpened")
    decision = data["decision"]
    met = [p["position"] for p in decision["positions"] if p["outcome"] == "met"]
    qualified = ", ".join(dict.fromkeys(met))
    return s.RecordSheet(
        number=data["number"],
        revision=data["revision"],
        title=word("record.title"),
        status=word("record.status.issued"),
        issued=_issued(issue),
        payload_sha256=payload_sha256,
        labels={i: word(i) for i in RECORD_LABELS},
        person=s.PersonBlock(
            name_of(data, session["brazer"]),
            session["mark"],
            session["employer"],
            session["place"],
            _braze_dates(data),
        ),
        decision=_headline(decision, qualified),
        decision_text=_decided(qualified, decision["as_of"]),
        facts=fact_rows(data) + examination_rows(data, rules),
        basis=basis_facts(data, rules),
        positions=tuple(_position(p, data, rules) for p in decision["positions"]),
        variables=tuple(
            s.VariableRow(
                v["variable"],
                in_both_units(v["actual"]),
                limits_in_both_units(_together(v["qualified"])),
                short_cite([v["cite"]]),
                v["note"],
            )
            for v in data["range"]["variables"]
        ),
        dagger=word("caution.dagger"),
        faces=face_rows(data, overlays),
        findings=finding_rows(data),
        ranges=range_table(data, rules),
        range_intro=range_intro(data),
        cautions=tuple(
            word(f"caution.{c}") for c in ("governs", "certified", "safety", "scope", "accuracy")
        ),
        unconfirmed=tuple(decision["unconfirmed"]),
        signatures=_signatures(data, session, issue),
        signatures_intro=word("record.signatures.intro"),
        acceptance=s.Acceptance(word("record.acceptance")),
        tree_head=s.TreeHeadLine(issue["tree_head"]["size"], issue["tree_head"]["root"]),
        code=s.CodePanel(
            qr_svg(issue["token"]),
            word("record.qr.alt"),
            payload_sha256[:16],
            (word("record.check.verify"), word("record.check.token"), word("record.check.code")),
        ),
        files=_files(overlays),
    )


def _decided(qualified: str, as_of: str) -> str:
    """Return which flow positions are qualified, and as of when."""
    count = str(len(qualified.split(", ")))
    return word("record.decided", positions=qualified, count=count, as_of=as_of)


def _issued(issue: Data) -> str:
    """Return the day of issue, and the number that the record took in the register."""
    on, register = issue["issued_at"][:10], issue["act"]["body"].get("register", "")
    return word("record.issued_as", on=on, register=register) if register else on


def _together(qualified: str) -> str:
    """Return ``C: ≤ 0.45 in; D: ≤ 0.45 in`` as ``C, D: ≤ 0.45 in``; other texts as they are."""
    parts = [part.partition(": ") for part in qualified.split("; ")]
    return alike((text, id_) for id_, _, text in parts) if all(p[2] for p in parts) else qualified


def _headline(decision: Data, qualified: str) -> s.OutcomeWord:
    """Return the record's outcome; where a position failed, it says which ones are met."""
    if decision["outcome"] == "met":
        return outcome_of(decision)
    return s.OutcomeWord(Outcome.MET, in_part(qualified, decision["positions"]))


def _braze_dates(data: Data) -> tuple[str, ...]:
    return tuple(sorted({a["happened_on"] for a in data["acts"] if a["type"] == "CouponBrazed"}))


def _position(row: Data, data: Data, rules: Data) -> s.PositionRow:
    found = [r["value"] for r in rules["rows"] if r["id"] == "position.letters"]
    letters = found[0] if found else {}
    name = f"{row['position']} · {in_words(letters.get(row['position'], ''))}".rstrip(" ·")
    return s.PositionRow(
        name,
        outcome_of(row),
        word("record.position.joints", joints=", ".join(row["joints"]), kind=row["coupon_kind"])
        + why_failed(row, data),
    )


def _signatures(data: Data, session: Data, issue: Data) -> tuple[s.SignatureRow, ...]:
    roles = session["roles"]
    rows = [
        s.SignatureRow(
            word("record.sign.programme"),
            word("record.sign.programme.meaning"),
            word("record.sign.programme.who"),
            issue["issued_at"],
        )
    ]
    signing = [("supervisor", person) for person in supervisors(data)]
    signing += [("examiner", person) for person in _examined(data)]
    signing += [("certifier", person) for person in roles.get("certifier", ())[:1]]
    rows += [
        s.SignatureRow(
            word(f"record.sign.{role}"),
            word(f"record.sign.{role}.meaning"),
            name_of(data, person),
        )
        for role, person in signing
    ]
    return tuple(rows)


def _examined(data: Data) -> list[str]:
    """Return everybody who read a face, tested a specimen or looked at a joint, in role order."""
    looked = ("FaceRead", "SpecimenTested", "BoreExamined", "CouponExamined")
    done = [a["body"] for a in data["acts"] if a["type"] in looked]
    people = dict.fromkeys(b.get("reader") or b.get("by", "") for b in done)
    listed = acts(data, "SessionOpened")[0]["body"]["roles"].get("examiners", ())
    return [p for p in dict.fromkeys([*listed, *people]) if p and p in people]


def _files(overlays: Mapping[str, bytes]) -> tuple[s.AttachmentLine, ...]:
    rows = [
        s.AttachmentLine("record.json", word("record.file.data")),
        s.AttachmentLine("rules.json", word("record.file.rules")),
        s.AttachmentLine("issue.json", word("record.file.issue")),
    ]
    if overlays:
        rows.append(
            s.AttachmentLine(
                "overlay-*.png", word("record.file.overlays", count=str(len(overlays)))
            )
        )
    return tuple(rows)


def examination_rows(data: Data, rules: Data) -> tuple[s.Fact, ...]:
    """Return form of the test, then who looked, sawed and prepared, and when, by joint."""
    bores = acts(data, "BoreExamined")
    rows = [
        (word("fact.test"), _test_form(data, rules)),
        (word("fact.outside"), _by_joint(data, acts(data, "CouponExamined"))),
        *(
            (word(label), _by_joint(data, [a for a in bores if a["body"].get("stage") == stage]))
            for label, stage in (
                ("fact.oxide_before", "before-sawing"),
                ("fact.oxide_opened", "opened"),
            )
        ),
        (word("fact.sawn"), _by_joint(data, acts(data, "CouponSectioned"))),
        (word("fact.prepared"), _by_joint(data, acts(data, "FacePrepared"))),
        (word("fact.specimens"), _by_joint(data, acts(data, "SpecimenTested"))),
    ]
    return tuple(s.Fact(label, value) for label, value in rows if value)


def _by_joint(data: Data, done: list[Data]) -> str:
    """Return ``joints: who date`` for acts on joints; oxide and kind of test stand before."""
    return alike((_done(data, act), act["body"]["joint"]) for act in done)


def _done(data: Data, act: Data) -> str:
    body = act["body"]
    first = body.get("kind", "")
    if act["type"] == "BoreExamined":
        first = body.get("items", {}).get("oxide") or word("fact.not_filed")
    who = f"{_short(data, body.get('by', ''))} {act['happened_on']}".strip()
    return f"{first}, {who}" if first else who


def _short(data: Data, person: str) -> str:
    """Return the initials of an examiner, which the facts spell out; else the full name."""
    examiners = acts(data, "SessionOpened")[0]["body"]["roles"]["examiners"]
    short = [initials(data, p) for p in examiners]
    own = initials(data, person)
    return own if person in examiners and short.count(own) == 1 else name_of(data, person)


def _test_form(data: Data, rules: Data) -> str:
    """Return the tests made, in words: visual, then sections with their faces, then others."""
    parts = [word("test.visual")] if acts(data, "CouponExamined") else []
    faces = [a["body"] for a in acts(data, "FacePrepared")]
    if faces:
        seen = dict.fromkeys(f"{f['magnification']}×" for f in faces if f.get("magnification"))
        asked = [
            Decimal(r["value"])
            for r in rules["rows"]
            if r["id"] == "section.min_magnification" and r["value"]
        ]
        parts.append(
            word(
                "test.section",
                count=str(len(faces)),
                seen=", ".join(seen) or "–",
                asked=f"{max(asked)}×" if asked else "–",
            )
        )
    kinds = Counter(a["body"]["kind"] for a in acts(data, "SpecimenTested"))
    parts += [word("test.specimens", kind=k, count=str(n)) for k, n in kinds.items()]
    told = word("test.then").join(parts)
    return told[:1].upper() + told[1:]


def range_table(data: Data, rules: Data) -> tuple[s.RangeRow, ...]:
    """Return the list of sizes, folded for print: sizes with one answer share a line.

    The unfolded list, one reason a line, is in the attached data and is printed
    by ``lapwright range``.
    """
    order = _order(data["range"]["sizes"])
    titles = {r["id"]: r["title"] for r in rules["rows"]}
    groups: dict[tuple[str, ...], list[Data]] = {}
    for row in data["range"]["sizes"]:
        recalled = DAGGER if row.get("note") else ""
        limit = _limit_of(row, titles)
        told = (row["positions"], row["outcome"], row["why"], row.get("brazed", ""), limit)
        key = (row["fitting"] + recalled, *told)
        groups.setdefault(key, []).append(row)
    rows = [line for key, found in groups.items() for line in _lines(key, found, order)]
    rank = {Outcome.MET: 0, Outcome.UNDETERMINED: 1, Outcome.NOT_MET: 2}
    return tuple(sorted(rows, key=lambda r: (rank[r.decision.outcome], r.fitting)))


def _order(rows: list[Data]) -> list[str]:
    """Return the sizes smallest first; the rows stand with covered sizes first."""
    listed = [size.designation for size in tube_sizes("ASTM B819", "L")]
    return list(dict.fromkeys([*listed, *(r["size"] for r in rows)]))


def range_intro(data: Data) -> str:
    """Return what covered means, how depth was compared, and what stands here from memory."""
    options = acts(data, "BasisAdopted")[0]["body"].get("options", {})
    allowance = options.get("cup_allowance", "")
    depth = (
        word("record.range.allowance", allowance=allowance)
        if allowance
        else word("record.range.no_allowance")
    )
    notes = sorted({r["note"] for r in data["range"]["sizes"] if r.get("note")})
    return " ".join([word("record.range.intro"), depth, *(f"{DAGGER.strip()} {n}" for n in notes)])


def _lines(key: tuple[str, ...], found: list[Data], order: list[str]) -> list[s.RangeRow]:
    """Return one line per set of tube types whose sizes are the same."""
    fitting, positions, out, why, brazed, limit = key
    by_tube: dict[str, list[str]] = {}
    for row in found:
        by_tube.setdefault(row["tube"].rsplit(" ", 1)[-1], []).append(row["size"])
    alike: dict[str, list[str]] = {}
    for tube, sizes in by_tube.items():
        alike.setdefault(_runs(sizes, order), []).append(tube)
    return [
        s.RangeRow(
            sizes,
            f"ASTM B819 {', '.join(tubes)}",
            f"{fitting}, {brazed}" if brazed else fitting,
            ", ".join(positions),
            _covered(out, why),
            limit,
        )
        for sizes, tubes in alike.items()
    ]


def _limit_of(row: Data, titles: Mapping[str, str]) -> str:
    """Return the limiting rule in few words; of an open line its reason, without its subject."""
    if row["outcome"] == "met":
        return word("range.all_within")
    rule = row["rule"]
    if row["outcome"] == "not-met":
        return word(LIMITS[rule]) if rule in LIMITS else titles.get(rule, rule)
    told = re.sub(r"^[Jj]oint [^:]{1,80}: ", "", row["reason"]).rstrip(".")
    return f"{told[:1].upper()}{told[1:]}"


def _covered(out: str, why: str) -> s.OutcomeWord:
    outcome = Outcome(out)
    return s.OutcomeWord(outcome, covered_word(outcome, Why(why) if why else None))


LIMITS = {
    "overlap.max_increase": "limit.overlap",
    "overlap.procedure_floor": "limit.floor",
    "thickness.bands": "limit.thickness",
    "thickness.unequal_members": "limit.members",
    "range.adopted_table": "limit.table",
    "position.covers": "limit.position",
}


def _runs(sizes: list[str], order: list[str]) -> str:
    """Join sizes, three and more neighbours as a run such as ``5/8 to 2``."""
    places = sorted(order.index(size) for size in sizes)
    runs: list[list[int]] = []
    for place in places:
        if runs and place == runs[-1][-1] + 1:
            runs[-1].append(place)
        else:
            runs.append([place])
    texts = []
    for run in runs:
        names = [order[i] for i in run]
        texts += [f"{names[0]} to {names[-1]}"] if len(names) > 2 else names
    return ", ".join(texts)
