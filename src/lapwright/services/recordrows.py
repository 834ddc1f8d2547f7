"""Rows of a record's tables, from its attached data alone."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from lapwright.core.outcomes import Outcome, Why
from lapwright.documents import sheets as s

from .rangelist import covered_word
from .text import outcome_word, word

Data = Mapping[str, Any]


def name_of(data: Data, person: str) -> str:
    """Return a person's name, or the id where no name is held."""
    return str(data["names"].get(person, {}).get("name", person))


def initials(data: Data, person: str) -> str:
    """Return the initials printed beside readings."""
    return "".join(part[0] for part in name_of(data, person).split() if part).upper()


def outcome_of(row: Data) -> s.OutcomeWord:
    """Return outcome and printed word of a row with ``outcome`` and ``why``."""
    value = Outcome(row["outcome"])
    return s.OutcomeWord(value, outcome_word(value, Why(row["why"]) if row.get("why") else None))


def acts(data: Data, type_: str) -> list[Data]:
    """Return the acts of one type, in order."""
    return [a for a in data["acts"] if a["type"] == type_]


def fact_rows(data: Data) -> tuple[s.Fact, ...]:
    """Return the lines of identity: procedure, its records, people, materials."""
    session = acts(data, "SessionOpened")[0]["body"]
    procedure = acts(data, "ProcedureFiled")[0]["body"]
    roles = session["roles"]
    people = [f"{name_of(data, p)} ({initials(data, p)})" for p in roles["examiners"]]
    rows = [
        (word("fact.procedure"), f"{procedure['procedure']} rev. {procedure['revision']}"),
        (word("fact.pqr"), ", ".join(p["id"] for p in procedure["pqr"])),
        (word("fact.supervisor"), name_of(data, roles["supervisor"][0])),
        (word("fact.representative"), name_of(data, roles["employer_representative"][0])),
        (word("fact.examiners"), ", ".join(people)),
        (word("fact.job"), session["job"]),
    ]
    alike: dict[str, list[str]] = {}
    for act in acts(data, "CouponBrazed"):
        alike.setdefault(_coupon(act), []).append(act["body"]["coupon"])
    rows += [(word("fact.coupon", coupon=", ".join(ids)), text) for text, ids in alike.items()]
    return tuple(s.Fact(label, value) for label, value in rows if value)


def _coupon(act: Data) -> str:
    body = act["body"]
    tube, fitting, filler = body["tube"], body["fitting"], body["filler"]
    purge = body.get("purge", {})
    return word(
        "fact.coupon.text",
        size=tube["size"],
        type=tube["type"],
        tube=tube["standard"],
        wall=tube.get("wall", "–"),
        fitting=fitting["standard"],
        fitting_wall=fitting.get("wall", "–"),
        filler=filler["class"],
        form=filler["form"],
        flux=body.get("flux", "–"),
        gas=purge.get("gas", "–"),
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
    chosen = [f"{k.replace('_', ' ')} {v}" for k, v in body.get("options", {}).items()]
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
                overlap=first.get("overlap", "–") or "–",
                share=_percent(share),
                u95=" to ".join(_percent(v) for v in between).replace(" % to", " to") or "–",
                limit=_limit(data, face["face"]),
                decision=outcome_of(face),
                readers=", ".join(initials(data, r) for r in face["readers"]),
                overlay=_picture(face["face"], overlays),
                note=word("face.pc", pc=face["conformance"]) if face["conformance"] else "",
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


def _picture(face: str, overlays: Mapping[str, bytes]) -> s.Picture | None:
    if face not in overlays:
        return None
    return s.Picture(overlays[face], word("overlay.alt", face=face), face)


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
                    finding["subject"],
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
    text = "; ".join(f"{head}: {', '.join(tails)}" for head, tails in asked.items())
    sources = dict.fromkeys(c.split(",")[0] for f in found for c in f["cites"])
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


def range_table(data: Data, rules: Data) -> tuple[s.RangeRow, ...]:
    """Return the list of sizes, folded for print: sizes with one answer share a line.

    The unfolded list, one reason a line, is in the attached data and is printed
    by ``lapwright range``.
    """
    order = list(dict.fromkeys(r["size"] for r in data["range"]["sizes"]))
    groups: dict[tuple[str, ...], list[Data]] = {}
    for row in data["range"]["sizes"]:
        key = (row["fitting"], row["positions"], row["outcome"], row["why"])
        groups.setdefault(key, []).append(row)
    titles = {r["id"]: r["title"] for r in rules["rows"]}
    rows = [line for key, found in groups.items() for line in _lines(key, found, order, titles)]
    rank = {Outcome.MET: 0, Outcome.UNDETERMINED: 1, Outcome.NOT_MET: 2}
    return tuple(sorted(rows, key=lambda r: (rank[r.decision.outcome], r.fitting)))


def _lines(
    key: tuple[str, ...], found: list[Data], order: list[str], titles: Mapping[str, str]
) -> list[s.RangeRow]:
    """Return one line per set of tube types whose sizes are the same."""
    fitting, positions, out, why = key
    by_tube: dict[str, list[Data]] = {}
    for row in found:
        by_tube.setdefault(row["tube"].rsplit(" ", 1)[-1], []).append(row)
    alike: dict[str, list[str]] = {}
    for tube, rows in by_tube.items():
        alike.setdefault(_runs([r["size"] for r in rows], order), []).append(tube)
    lines = []
    for sizes, tubes in alike.items():
        rules = dict.fromkeys(r["rule"] for t in tubes for r in by_tube[t])
        reason = (
            word("range.all_within")
            if out == "met"
            else "; ".join(word(LIMITS[r]) if r in LIMITS else titles.get(r, r) for r in rules)
        )
        lines.append(
            s.RangeRow(
                sizes,
                f"ASTM B819 {', '.join(tubes)}",
                fitting,
                ", ".join(positions),
                _covered(out, why),
                reason,
            )
        )
    return lines


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
