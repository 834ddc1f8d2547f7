"""Facts, faces and findings of a record as rows, from its attached data alone."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import Any

from lapwright.core.outcomes import Outcome, Why
from lapwright.documents import sheets as s
from lapwright.reference.fillers import filler_names

from .bothunits import in_both_units, measured_on_photo
from .text import catalogue, outcome_word, word

Data = Mapping[str, Any]
_KEY = re.compile(r"[a-z]+(?:[-_][a-z0-9]+)+")


def name_of(data: Data, person: str) -> str:
    """Return a person's name, ``removed on …`` where it was removed, or the id."""
    held = data["names"].get(person, {}).get("name")
    if held is None and person in data.get("removed", {}):
        return word("name.removed", person=person, on=data["removed"][person])
    return str(held or person)


def initials(data: Data, person: str) -> str:
    """Return the initials printed beside readings; of a person without a name, the id."""
    if person not in data["names"]:
        return person
    return "".join(part[0] for part in name_of(data, person).split() if part).upper()


def outcome_of(row: Data) -> s.OutcomeWord:
    """Return outcome and printed word of a row with ``outcome`` and ``why``."""
    value = Outcome(row["outcome"])
    return s.OutcomeWord(value, outcome_word(value, Why(row["why"]) if row.get("why") else None))


def why_failed(position: Data, data: Data) -> str:
    """Return the first finding that failed a position, and how many more; empty if none did."""
    if position["outcome"] != "not-met":
        return ""
    coupons = {j["joint"]: j["coupon"] for j in data["decision"]["joints"]}
    own = {f"joint {j}" for j in position["joints"]}
    own |= {f"coupon {coupons[j]}" for j in position["joints"]}
    own |= {f"face {f['face']}" for f in data["decision"]["faces"] if f"joint {f['joint']}" in own}
    own.add(f"position {position['position']}")
    failed = (f for f in data["decision"]["findings"] if f["outcome"] == "not-met")
    found = [f["says"] for f in failed if f["subject"] in own]
    if not found:
        return ""
    more = word("case.and_others", count=str(len(found) - 1)) if len(found) > 1 else ""
    told = re.split(r"(?<=\.) (?=[A-Z])", found[0])[0]  # how it was decided stands elsewhere
    return f". {told}{more}"


def acts(data: Data, type_: str) -> list[Data]:
    """Return the acts of one type, in order."""
    return [a for a in data["acts"] if a["type"] == type_]


def supervisors(data: Data) -> dict[str, list[str]]:
    """Return who oversaw the brazing -> coupons: as the brazing says, else the session's role."""
    roles = acts(data, "SessionOpened")[0]["body"]["roles"]
    usual = next(iter(roles.get("supervisor", ())), "")
    found: dict[str, list[str]] = {}
    for act in acts(data, "CouponBrazed"):
        person = act["body"].get("supervisor") or usual
        found.setdefault(person, []).append(act["body"]["coupon"])
    found.pop("", None)
    return found or ({usual: []} if usual else {})


def fact_rows(data: Data) -> tuple[s.Fact, ...]:
    """Return the lines of identity: procedure, its records, people, materials, brazing."""
    session = acts(data, "SessionOpened")[0]["body"]
    procedure = acts(data, "ProcedureFiled")[0]["body"]
    roles = session["roles"]
    examiners = [f"{name_of(data, p)} ({initials(data, p)})" for p in roles["examiners"]]
    over = supervisors(data)
    who = [
        f"{name_of(data, p)} ({', '.join(ids)})" if len(over) > 1 else name_of(data, p)
        for p, ids in over.items()
    ]
    rows = [
        (word("fact.procedure"), f"{procedure['procedure']} rev. {procedure['revision']}"),
        (word("fact.pqr"), ", ".join(p["id"] for p in procedure["pqr"])),
        (word("fact.supervisor"), ", ".join(who)),
        (word("fact.representative"), name_of(data, roles["employer_representative"][0])),
        (word("fact.examiners"), ", ".join(examiners)),
        (word("fact.job"), session["job"]),
        *_coupon_rows(acts(data, "CouponBrazed")),
        (word("fact.replaces"), _replaces(data)),
    ]
    return tuple(s.Fact(label, value) for label, value in rows if value)


def _replaces(data: Data) -> str:
    """Return which revision this one replaces, and what left the case since."""
    before = data.get("replaces")
    if not before:
        return ""
    told = word(
        "fact.replaces.text", revision=before["revision"], sha=before["payload_sha256"][:16]
    )
    if "withdrawn" in before:
        told += word("fact.replaces.withdrawn", **before["withdrawn"])
    if before["gone"]:
        told += word("fact.replaces.gone", gone="; ".join(before["gone"]))
    given = [r for r in before["reasons"] if r["reason"] != word("filing.no_reason")]
    reasons = [f"{name_of(data, r['by'])}: {r['reason']}" for r in given]
    return told + (word("fact.replaces.reasons", reasons="; ".join(reasons)) if reasons else "")


def _coupon_rows(brazed: list[Data]) -> list[tuple[str, str]]:
    """Return coupons, materials and brazing, one line an aspect; like coupons share the text."""
    bodies = [act["body"] for act in brazed]
    clear = [(j.get("clearance", "–"), j["id"]) for b in bodies for j in b.get("joints", ())]
    aspects = (
        ("fact.tube", _tube),
        ("fact.fitting", _fitting),
        ("fact.brazing", _brazing),
        ("fact.cleaning", _cleaning),
        ("fact.purge", _purge),
    )
    return [
        (word("fact.clearance"), in_both_units(alike(clear))),
        *(
            (word(label), in_both_units(_shared([(text(b), b["coupon"]) for b in bodies])))
            for label, text in aspects
        ),
    ]


def alike(pairs: Iterable[tuple[str, str]]) -> str:
    """Return ``ids: text`` with the ids of one text together, in order of appearance."""
    found: dict[str, list[str]] = {}
    for text, id_ in pairs:
        found.setdefault(text, []).append(id_)
    return "; ".join(f"{', '.join(dict.fromkeys(ids))}: {text}" for text, ids in found.items())


def _shared(pairs: list[tuple[str, str]]) -> str:
    """Return the one text of all coupons, or each text with its coupons."""
    texts = {text for text, _ in pairs}
    return texts.pop() if len(texts) == 1 else alike(pairs)


def _tube(body: Data) -> str:
    tube = body["tube"]
    return word(
        "fact.tube.text",
        size=tube["size"],
        standard=tube["standard"],
        type=tube.get("type", "–"),
        alloy=tube.get("alloy", "–"),
        wall=tube.get("wall", "–"),
    )


def _fitting(body: Data) -> str:
    fitting = body["fitting"]
    return word(
        "fact.fitting.text",
        size=fitting.get("size", "–"),
        standard=fitting["standard"],
        kind=fitting.get("kind", "–"),
        alloy=fitting.get("alloy", "–"),
        wall=fitting.get("wall", "–"),
    )


def _brazing(body: Data) -> str:
    filler = body["filler"]
    known = filler["class"] in filler_names()
    return word(
        "fact.brazing.text",
        process=body.get("process", "–"),
        manner=body.get("manner", "–"),
        joint=body.get("joint_type", "–"),
        fuel=body.get("fuel", "–"),
        filler=f"AWS A5.8 {filler['class']}" if known else filler["class"],
        form=filler["form"],
        flux=body.get("flux", "–"),
    )


def _cleaning(body: Data) -> str:
    used = body.get("cleaning", {}).get("with", ())
    return in_words(used) if isinstance(used, str) else ", ".join(map(in_words, used))


def in_words(key: str) -> str:
    """Return a key such as ``oil-free-dry-nitrogen-nf`` as it is said; other texts as they are."""
    known = f"thing.{key}"
    if known in catalogue():
        return word(known)
    return re.sub(r"(?<=[a-z])[-_](?=[a-z])", " ", key) if _KEY.fullmatch(key) else key


def _purge(body: Data) -> str:
    purge = body.get("purge", {})
    return word(
        "fact.purge.text",
        gas=in_words(purge.get("gas", "–")),
        flow=purge.get("flow", "–"),
        oxygen=purge.get("oxygen", "–"),
    )


def basis_facts(data: Data, rules: Data) -> tuple[s.Fact, ...]:
    """Return the adopted editions and the chosen readings."""
    body = acts(data, "BasisAdopted")[0]["body"]
    titles = {
        f"{r['code']} {r['edition']}": r["cite"]["title"]
        for r in rules["rows"]
        if r["cite"]["basis"] != "programme"
    }
    rows = [(word("fact.edition"), "; ".join(titles.get(e, e) for e in body["editions"]))]
    rows += [
        (word("fact.decision_rule"), word(f"decision.{body['decision_rule']}")),
        (word("fact.thickness"), ", ".join(body.get("thickness_readings", ()))),
    ]
    chosen = [f"{k.replace('_', ' ')} {in_words(v)}" for k, v in body.get("options", {}).items()]
    rows.append((word("fact.option"), "; ".join(chosen)))
    rows += [
        (
            word("fact.range_table"),
            f"{a['body']['table']}: {a['body']['coupon_kind']} → {', '.join(a['body']['sizes'])}",
        )
        for a in acts(data, "RangeTableAdopted")
    ]
    ticks = acts(data, "RuleConfirmed")
    if ticks:
        who = name_of(data, ticks[0]["body"]["by"])
        rows.append(
            (
                word("fact.confirmed"),
                word(
                    "fact.confirmed.text",
                    count=str(len(ticks)),
                    who=who,
                    on=ticks[0]["happened_on"],
                ),
            )
        )
    return tuple(s.Fact(label, value) for label, value in rows if value)


def face_rows(data: Data, overlays: Mapping[str, bytes]) -> tuple[s.FaceRow, ...]:
    """Return one row per face with its acted value and the overlay where there is one."""
    joints = {j["joint"]: j for j in data["decision"]["joints"]}
    readings: dict[str, list[Data]] = {}
    for act in acts(data, "FaceRead"):
        readings.setdefault(act["body"]["face"], []).append(act["body"])
    rows = []
    for face in data["decision"]["faces"]:
        joint = joints[face["joint"]]
        first = readings.get(face["face"], [{}])[0]
        share, between = face["unbrazed_share"], face["interval95"]
        rows.append(
            s.FaceRow(
                coupon=joint["coupon"],
                joint=face["joint"],
                position=joint["position"],
                face=face["face"],
                overlap=_overlap(first),
                share=_percent(share),
                u95=" to ".join(_percent(v) for v in between).replace(" % to", " to") or "–",
                limit=_limit(data, face["face"]),
                decision=outcome_of(face),
                readers=", ".join(initials(data, r) for r in face["readers"]),
                overlay=_picture(face, first, overlays),
                conformance=f"{float(face['conformance']):.3f}" if face["conformance"] else "–",
            )
        )
    return tuple(rows)


def _limit(data: Data, face: str) -> str:
    found = [
        f["limit"]
        for f in data["decision"]["findings"]
        if f["rule"] == "section.max_unbrazed_share" and f["subject"] == f"face {face}"
    ]
    return found[0] if found else "–"


def _percent(text: str, times: int = 1) -> str:
    return f"{float(text) * 100 * times:.1f} %" if text else "–"


def _overlap(reading: Data) -> str:
    told = reading.get("overlap", "")
    if told and reading.get("way") == "photo":
        told = measured_on_photo(told)
    return in_both_units(told) or "–"


def _picture(face: Data, reading: Data, overlays: Mapping[str, bytes]) -> s.Picture | None:
    """Return the overlay with what it shows beside it: share, and the stretches as printed."""
    id_ = face["face"]
    if id_ not in overlays:
        return None
    runs = [
        word(f"overlay.{r['state']}", start=_whole(r["start"]), end=_whole(r["end"]))
        for r in reading.get("segments", ())
        if r["state"] != "brazed"
    ]
    told = word("overlay.caption", face=id_, share=_percent(reading.get("share", "")))
    return s.Picture(overlays[id_], word("overlay.alt", face=id_), ", ".join([told, *runs[:6]]))


def _whole(share: str) -> str:
    return f"{float(share) * 100:.0f}"


TOPICS = {  # first part of a rule id -> topic of the printed findings
    "procedure": "paper",
    "bps": "paper",
    "record": "paper",
    "base": "paper",
    "mark": "paper",
    "proof": "paper",
    "responsibility": "paper",
    "overlap": "paper",
    "purge": "session",
    "cleaning": "session",
    "filler": "session",
    "coupon": "session",
    "instrument": "session",
    "bore": "looks",
    "visual": "looks",
    "erosion": "looks",
    "excess": "looks",
    "production": "looks",
}
_PRINTED_ELSEWHERE = ("section.max_unbrazed_share", "position.brazer_variable")


def finding_rows(data: Data) -> tuple[s.FindingRow, ...]:
    """Return the other findings: what is not met or open one by one, what is met by topic."""
    rows: list[s.FindingRow] = []
    met: dict[str, list[Data]] = {}
    for finding in data["decision"]["findings"]:
        if finding["rule"] in _PRINTED_ELSEWHERE:
            continue
        if finding["outcome"] == "met":
            topic = TOPICS.get(finding["rule"].split(".")[0], "sections")
            met.setdefault(topic, []).append(finding)
        else:
            rows.append(
                s.FindingRow(
                    f"{finding['subject'][:1].upper()}{finding['subject'][1:]}",
                    finding["says"],
                    outcome_of(finding),
                    short_cite(finding["cites"]),
                )
            )
    rows += [
        _topic(topic, met[topic])
        for topic in ("paper", "session", "looks", "sections")
        if topic in met
    ]
    return tuple(rows)


def _topic(topic: str, found: list[Data]) -> s.FindingRow:
    """Return one line for a topic: the rules that were asked, by their ids in plain words."""
    asked: dict[str, list[str]] = {}
    for rule in dict.fromkeys(f["rule"] for f in found):
        head, _, tail = rule.partition(".")
        asked.setdefault(head, []).append(tail.replace("_", " "))
    text = ", ".join(f"{head} {tail}" for head, tails in asked.items() for tail in tails)
    text = re.sub(r"\bmin\b", "least", re.sub(r"\bmax\b", "greatest", text))
    sources = dict.fromkeys(
        c.split(",")[0] for f in found for c in f["cites"] if not c.endswith("no source")
    )
    says = word("topic.met", count=str(sum(map(len, asked.values()))), rules=text)
    return s.FindingRow(
        word(f"topic.{topic}"), says, outcome_of({"outcome": "met"}), "; ".join(sources)
    )


def short_cite(cites: Any) -> str:
    """Return a citation for narrow columns; a dagger marks a carried or unread paragraph."""
    if not cites:
        return ""
    text = str(cites[0])
    head = text.split(" (")[0].replace(", paragraph not read in this edition", "")
    return f"{head} †" if head != text else head
