"""What a schema cannot say: names that exist, ids used once, dates in order, known sizes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date, datetime, timedelta
from typing import Any
from unicodedata import normalize

from lapwright.core.errors import LapwrightError
from lapwright.core.times import parse_date, parse_instant

from .errors import CaseContradiction, CaseDatesRefused, CaseIdTwice, CaseNameUnknown

Doc = Mapping[str, Any]


def check_case(doc: Doc, *, where: str) -> None:
    """Check a schema-valid case document.

    Raises
    ------
    CaseNameUnknown, CaseIdTwice, CaseDatesRefused, CaseContradiction
        With file, key, value and what is expected.
    LapwrightError
        From the reference tables, for an unknown or system-less size; DOC-002 for a name
        that no record can print.
    """
    _names(doc, where)
    _people(doc, where)
    _ids(doc, where)
    _dates(doc, where)
    _printable(doc, where)
    for number, coupon in enumerate(doc["coupons"]):
        place = f"{where}: coupons[{number}]"
        _sizes(coupon, place)
        _contradictions(coupon, place)


def check_asked(doc: Doc, as_of: date) -> None:
    """Refuse a day before the first braze, before anything slow is done.

    Raises
    ------
    CaseDatesRefused
        If every coupon was brazed after ``as_of``.
    """
    first = min(c["brazed"]["on"] for c in doc["coupons"])
    if first > as_of.isoformat():
        raise CaseDatesRefused(
            "nothing had been brazed on that day",
            got=as_of.isoformat(),
            expected=f"{first} or later",
            where="--as-of",
            do="Ask about a day on or after the first braze.",
        )


def check_person(doc: Doc, person: str, where: str) -> None:
    """Refuse a person who is not listed under ``people``."""
    if person not in doc["people"]:
        raise CaseNameUnknown(
            "a person that the case does not list",
            got=person,
            where=where,
            expected=", ".join(doc["people"]),
            do="Add the person under 'people', or correct the id.",
        )


def _printable(doc: Doc, where: str) -> None:
    """Refuse names that the record's fonts cannot show: a judged case must be issuable."""
    from lapwright.documents.glyphs import check_printable

    texts = {key: doc.get(key, "") for key in ("case", "job", "employer")}
    texts |= {"place.name": doc["place"]["name"], "written.reason": doc["written"].get("reason")}
    texts |= {f"people.{id_}.name": row["name"] for id_, row in doc["people"].items()}
    texts |= {f"procedure.{key}": doc["procedure"].get(key) for key in ("bps", "revision")}
    for key, text in texts.items():
        check_printable(text or "", f"{where}: {key}")


_PERSON_KEYS = {
    "by",
    "supervisor",
    "seen_by",
    "accepted_by",
    "ends_accepted_by",
    "adopted_by",
    "person",
    "prepared_by",
    "employer_representative",
    "certifier",
    "lead",
}
_INSTRUMENT_KEYS = {"instrument", "analyser"}


def _names(doc: Doc, where: str) -> None:
    for path, key, value in _walk(doc):
        place = f"{where}: {path}"
        if key in _PERSON_KEYS and isinstance(value, str):
            check_person(doc, value, place)
        elif key == "examiners" and isinstance(value, list):
            for person in value:
                check_person(doc, person, place)
        elif (
            key in _INSTRUMENT_KEYS
            and isinstance(value, str)
            and value not in doc.get("instruments", {})
        ):
            raise CaseNameUnknown(
                "an instrument that the case does not list",
                got=value,
                expected=", ".join(doc.get("instruments", {})) or "none listed",
                where=place,
                do="Add it under 'instruments' with its calibration date, or correct the id.",
            )


def _people(doc: Doc, where: str) -> None:
    """Refuse one name under two ids: a second reader, or an examiner, is another person."""
    seen: dict[tuple[str, ...], str] = {}
    for person, row in doc["people"].items():
        words = "".join(
            c if c.isalnum() else " " for c in normalize("NFKC", row["name"]).casefold()
        )
        name = tuple(sorted(words.split()))
        if name in seen:
            raise CaseContradiction(
                "one name under two ids",
                where=f"{where}: people.{person}.name",
                got=f"{row['name']} (also {seen[name]})",
                expected="one id for one person",
                do="Use one id. Two people of one name: tell them apart in it, by a middle name.",
            )
        seen[name] = person


def _walk(value: object, path: str = "") -> Iterator[tuple[str, str, object]]:
    if isinstance(value, Mapping):
        for key, inner in value.items():
            here = f"{path}.{key}".lstrip(".")
            if key in ("people", "instruments", "items", "topics", "options", "figures"):
                continue
            yield here, key, inner
            yield from _walk(inner, here)
    elif isinstance(value, list):
        for number, inner in enumerate(value):
            yield from _walk(inner, f"{path}[{number}]")


def _ids(doc: Doc, where: str) -> None:
    seen: dict[tuple[str, str], str] = {}

    def once(kind: str, id_: str, place: str) -> None:
        if (kind, id_) in seen:
            raise CaseIdTwice(
                f"a {kind} id that stands twice",
                got=id_,
                where=f"{where}: {place}",
                expected=f"an id other than that of {seen[kind, id_]}",
                do=f"Give every {kind} of the case its own id.",
            )
        seen[kind, id_] = place

    for c, coupon in enumerate(doc["coupons"]):
        once("coupon", coupon["id"], f"coupons[{c}]")
        for j, joint in enumerate(coupon["joints"]):
            place = f"coupons[{c}].joints[{j}]"
            once("joint", joint["id"], place)
            for f, face in enumerate(joint.get("faces", ())):
                once("face", face["id"], f"{place}.faces[{f}]")


def _dates(doc: Doc, where: str) -> None:
    written = parse_date(doc["written"]["on"], where=f"{where}: written.on")
    for path, key, value in _walk(doc):
        place = f"{where}: {path}"
        if not isinstance(value, str):
            continue
        if key in ("on", "adopted_on", "prepared", "fixed_on", "after_calibration"):
            day = parse_date(value, where=place)
            if day > written:
                raise _order(place, day, "written.on", written)
        elif key in ("at", "started", "ended", "oxygen_at"):
            parse_instant(value, where=place)
    for c, coupon in enumerate(doc["coupons"]):
        _coupon_dates(coupon, f"{where}: coupons[{c}]")


def _coupon_dates(coupon: Doc, place: str) -> None:
    brazed = parse_date(coupon["brazed"]["on"])
    started = coupon["brazed"].get("started")
    if started and parse_instant(started).date() != brazed:
        raise CaseDatesRefused(
            "the braze began on another day than it is dated",
            got=started,
            expected=brazed.isoformat(),
            where=f"{place}.brazed.started",
            do="Correct one of the two.",
        )
    ended = coupon["brazed"].get("ended")
    if started and ended:
        first, last = parse_instant(started), parse_instant(ended)
        _instants(first, last, f"{place}.brazed.ended", "started")
        if last - first > timedelta(hours=12):
            raise CaseDatesRefused(
                "a braze of more than twelve hours",
                got=ended,
                expected=f"within twelve hours of {started}",
                where=f"{place}.brazed.ended",
                do="Correct the date or the time.",
            )
    for j, joint in enumerate(coupon["joints"]):
        _joint_dates(joint, brazed, f"{place}.joints[{j}]")


def _joint_dates(joint: Doc, brazed: date, place: str) -> None:
    cut = parse_date(joint["cut"]["on"]) if "cut" in joint else None
    if cut is not None:
        _after(cut, brazed, f"{place}.cut.on", "brazed.on")
    before = joint.get("bore", {}).get("before_sawing")
    if before is not None:
        seen = parse_date(before["on"])
        _after(seen, brazed, f"{place}.bore.before_sawing.on", "brazed.on")
        if cut is not None and seen > cut:
            raise _order(f"{place}.bore.before_sawing.on", seen, "cut.on", cut)
    opened = joint.get("bore", {}).get("opened")
    if opened is not None:
        _after(
            parse_date(opened["on"]),
            cut or brazed,
            f"{place}.bore.opened.on",
            "cut.on" if cut else "brazed.on",
        )
    if "visual" in joint:
        _after(parse_date(joint["visual"]["on"]), brazed, f"{place}.visual.on", "brazed.on")
    for f, face in enumerate(joint.get("faces", ())):
        here = f"{place}.faces[{f}]"
        prepared = parse_date(face["prepared"])
        _after(prepared, cut or brazed, f"{here}.prepared", "cut.on" if cut else "brazed.on")
        for r, reading in enumerate(face.get("readings", ())):
            _after(parse_date(reading["on"]), prepared, f"{here}.readings[{r}].on", "prepared")


def _after(later: date, earlier: date, place: str, other: str) -> None:
    if later < earlier:
        raise CaseDatesRefused(
            "dates in the wrong order",
            got=later.isoformat(),
            where=place,
            expected=f"{earlier.isoformat()} ({other}) or later",
            do="Correct one of the two dates.",
        )


def _order(place: str, got: date, other: str, limit: date) -> CaseDatesRefused:
    return CaseDatesRefused(
        "dates in the wrong order",
        got=got.isoformat(),
        where=place,
        expected=f"{limit.isoformat()} ({other}) or earlier",
        do="Correct one of the two dates.",
    )


def _instants(first: datetime, second: datetime, place: str, other: str) -> None:
    if second < first:
        raise CaseDatesRefused(
            "times in the wrong order",
            got=second.isoformat(),
            where=place,
            expected=f"{first.isoformat()} ({other}) or later",
            do="Correct one of the two times.",
        )


def _sizes(coupon: Doc, place: str) -> None:
    from lapwright.reference.fillers import filler
    from lapwright.reference.fittings import cup
    from lapwright.reference.metals import p_number
    from lapwright.reference.tube import tube

    t, f = coupon["tube"], coupon["fitting"]
    try:
        od = tube(t["standard"], t["size"], type_=t["type"], temper=t.get("temper")).od
    except LapwrightError as fault:
        raise fault.at(f"{place}.tube.{_key(fault)}") from None
    try:
        fits = cup(f["standard"], f["size"]).tube_od
    except LapwrightError as fault:
        raise fault.at(f"{place}.fitting.{_key(fault)}") from None
    for key, look_up, name in (
        ("tube.alloy", p_number, t["alloy"]),
        ("fitting.alloy", p_number, f["alloy"]),
        ("filler.class", filler, coupon["filler"]["class"]),
    ):
        try:
            look_up(name)
        except LapwrightError as fault:
            raise fault.at(f"{place}.{key}") from None
    if od != fits:
        raise CaseContradiction(
            "tube and fitting do not fit",
            where=f"{place}.fitting.size",
            got=f"{f['size']} (tube of {fits.text})",
            expected=f"a fitting for tube of {od.text}",
            do="Give both members of one joint the same size.",
        )


def _key(fault: LapwrightError) -> str:
    """Name the key that a table's refusal is about: the standard, or the size."""
    return "standard" if fault.code in ("REF-010", "REF-011") else "size"


def _contradictions(coupon: Doc, place: str) -> None:
    for j, joint in enumerate(coupon["joints"]):
        here = f"{place}.joints[{j}]"
        if joint.get("faces") and "cut" not in joint:
            raise CaseContradiction(
                "faces without a cut",
                where=f"{here}.faces",
                got=f"faces: {len(joint['faces'])}",
                expected="the key 'cut'",
                do="State the plane of the cut and the day.",
            )
        fixed = joint.get("cut", {}).get("fixed_on")
        cut_on = joint.get("cut", {}).get("on")
        if fixed and parse_date(fixed) > parse_date(cut_on):
            raise CaseDatesRefused(
                "the cut plane is dated after the cut",
                where=f"{here}.cut.fixed_on",
                got=fixed,
                expected=f"{cut_on} or earlier",
                do="Correct one of the two dates.",
            )
