"""The body of a ``MethodChecked`` act: written by ``lapwright readers``, filed by a case.

A case names the check and the readings it rests on. Filing repeats the whole
check from those readings: a figure that they do not give is refused, so that a
check cannot say more than its faces do.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from typing import Any

from lapwright.core.bodies import method_check_of
from lapwright.core.errors import LapwrightError
from lapwright.core.times import parse_date
from lapwright.measure.errors import MethodCheckRefused
from lapwright.rules.methodcheck import unfit

from . import schema
from .casefiles import CaseFiles
from .readerstudy import Asked, Checked, Study, share_option, study_readers
from .readingsfile import AS_FILED, LOUPE, Readings, read_readings

Doc = Mapping[str, Any]
SCHEMA = "lapwright-method-check/3"
SECOND_FORM = "lapwright-method-check/2"  # without where the faces lie and what is covered
FIRST_FORM = "lapwright-method-check/1"  # without the slope; both stay valid as they were filed
OLDER_FORMS_METHODS = 3  # the last version of face-trace that was ever checked in an older form
WITHIN, OUTSIDE, FEW = "within", "outside", "too-few-faces"
_WORDS = {
    "": WITHIN,
    "face.check_few": FEW,
    "face.check_loose": "limits-too-wide",
    "face.check_refusing": "refused-too-often",
    "face.check_far": "none-near-the-limit",
    "face.check_false_met": "falsely-met",
    "face.check_sloped": "biased-at-the-limit",
    "face.check_spread": "faces-not-on-both-sides",
    "face.check_uncovered": "intervals-too-narrow",
}
NEAR = Decimal("0.000001")


def check_body(study: Study, *, form: str = SCHEMA) -> dict[str, Any] | None:
    """Return the body of the act, all text, or None where limits or method are not stated.

    Parameters
    ----------
    study : Study
        A study with a method check.
    form : str, optional
        Form of the body; only checks that were filed in an older one are made in it again.
    """
    asked, checked = study.asked, study.check
    if not isinstance(checked, Checked) or not checked.method:
        return None
    if asked.max_bias is None or asked.max_half_width is None:
        return None
    limits = {"max_bias": asked.max_bias, "max_half_width": asked.max_half_width}
    if asked.limit is not None:
        limits["verdict"] = asked.limit
    body: dict[str, Any] = {
        "schema": form,
        "method": checked.method,
        "faces": str(checked.figures.faces),
        "limits": {name: format(value, "f") for name, value in limits.items()},
        "figures": _figures(checked) | _added(checked, form),
        "loupe_readers": sorted({r.reader for r in study.readings.by(LOUPE)}),
        "program": asked.program,
        "readings_file": study.readings.name,
        "readings_sha256": study.readings.sha256,
    }
    return body | {"result": result_word(body)}


def result_word(body: Doc) -> str:
    """Return ``within`` or in one word why not, as the rule judges the body.

    Parameters
    ----------
    body : mapping
        Body of a method check; its day and signer play no part here.
    """
    return _WORDS.get(unfit(method_check_of(body, date.min)), OUTSIDE)


def filed_check(
    entry: Doc, files: CaseFiles, *, where: str
) -> tuple[dict[str, Any], tuple[str, ...]]:
    """Return the body that a case files, checked against its readings, and its files.

    Parameters
    ----------
    entry : mapping
        One entry of ``method_checks`` in ``case.yaml``.
    files : CaseFiles
        Reader of the folder's files.
    where : str
        Place for messages.

    Raises
    ------
    MethodCheckRefused
        If the check does not repeat what its readings give, is dated before one, or one has no day.
    LapwrightError
        For files that cannot be read.
    """
    check_sha, raw = files.read(entry["check"], where=f"{where}.check")
    body = schema.check(_json(raw, where), "method-check", where=f"{where}.check")
    _form(body, f"{where}.check")
    readings_sha, data = files.read(entry["readings"], where=f"{where}.readings")
    if readings_sha != body["readings_sha256"]:
        raise _refused(
            "the readings are not those that the check names",
            readings_sha,
            body["readings_sha256"],
            f"{where}.readings",
        )
    limits = {k: share_option(v, f"{where}.check: {k}") for k, v in body["limits"].items()}
    asked = Asked(
        limits.get("verdict"),
        limits["max_bias"],
        limits["max_half_width"],
        body["method"],
        body["program"],
        rows="strict" if body["schema"] == SCHEMA else AS_FILED,
    )
    try:
        name = body["readings_file"]
        readings = read_readings(data, name, program=asked.program, rows=asked.rows)
        study = study_readers(readings, asked)
        if isinstance(study.check, LapwrightError):
            raise study.check
    except LapwrightError as fault:
        raise fault.at(where) from None
    _same(body, check_body(study, form=body["schema"]) or {}, f"{where}.check")
    _dated(readings, parse_date(entry["on"]), where)
    return body | {"by": entry["by"]}, (check_sha, readings_sha)


def _figures(checked: Checked) -> dict[str, str]:
    f = checked.figures
    a = f.agreement
    figures = {
        "bias": _text(a.bias),
        "bias_low": _text(a.bias_interval[0]),
        "bias_high": _text(a.bias_interval[1]),
        "s_difference": _text(a.s),
        "half_width": _text(a.half_width),
        "lower": _text(a.lower),
        "lower_low": _text(a.lower_interval[0]),
        "lower_high": _text(a.lower_interval[1]),
        "upper": _text(a.upper),
        "upper_low": _text(a.upper_interval[0]),
        "upper_high": _text(a.upper_interval[1]),
        "given": str(f.refused.of),
        "refused": str(f.refused.hits),
        "near_limit": str(f.near_limit),
        "met_over_limit": str(f.met_over_limit),
    }
    if f.covered is not None:
        figures |= {"intervals": str(f.covered.of), "covered": str(f.covered.hits)}
    if f.verdicts is not None:
        figures |= {
            "verdicts_agreed": str(f.verdicts.agreed),
            "falsely_met": str(len(f.falsely_met)),
            "falsely_not_met": str(len(f.falsely_not_met)),
        }
    return figures


def _added(checked: Checked, form: str) -> dict[str, str]:
    """Return the figures that later forms added."""
    if form == FIRST_FORM:
        return {}
    return _slope(checked) | ({} if form == SECOND_FORM else _third(checked))


def _third(checked: Checked) -> dict[str, str]:
    """Return where the faces lie, how many intervals hold the loupe value, and the line."""
    f = checked.figures
    figures = {
        "over_limit": str(f.over_limit),
        "below_limit": str(f.below_limit),
        "levels": str(f.levels),
        "faces_covered": str(f.held.hits),
        "covered_high": _text(f.held.interval[1]),
    }
    if f.trend is not None and f.half_width_at_limit is not None:
        figures |= {
            "mean_level": _text(f.trend.line.level),
            "half_width_at_limit": _text(f.half_width_at_limit),
        }
    return figures


def _slope(checked: Checked) -> dict[str, str]:
    """Return the proportional bias; nothing where all faces lie at one level."""
    f = checked.figures
    if f.trend is None or f.bias_at_limit is None:
        return {}
    low, high = f.trend.line.slope_interval
    return {
        "slope": _text(f.trend.line.slope),
        "slope_low": _text(low),
        "slope_high": _text(high),
        "bias_at_limit": _text(f.bias_at_limit),
    }


def _form(body: Doc, where: str) -> None:
    """Refuse an older form for a method version that came after it."""
    told = re.match(r"face-trace/(\d+)\b", body["method"])
    if body["schema"] != SCHEMA and told and int(told[1]) > OLDER_FORMS_METHODS:
        raise _refused(
            "a method check in a form older than its method version",
            body["schema"],
            SCHEMA,
            where,
        )


def _text(value: float) -> str:
    return f"{value:.9f}"


def _json(raw: bytes, where: str) -> object:
    try:
        return json.loads(raw.decode("utf-8"))
    except ValueError as fault:
        raise _refused(
            "a method check that is no JSON", str(fault), "the file as it was written", where
        ) from fault


def _same(filed: Doc, again: Doc, where: str) -> None:
    """Refuse a body that differs from the one made again from the readings."""
    for key in sorted({*filed, *again} - {"figures"}):
        if filed.get(key) != again.get(key):
            raise _refused(
                f"'{key}' is not what the readings give",
                str(filed.get(key)),
                str(again.get(key)),
                where,
            )
    one, two = filed["figures"], again["figures"]
    for key in sorted({*one, *two}):
        near = key in one and key in two and abs(Decimal(one[key]) - Decimal(two[key])) <= NEAR
        if not near:
            raise _refused(
                f"the figure '{key}' is not what the readings give",
                one.get(key, "nothing"),
                two.get(key, "nothing"),
                where,
            )


def _dated(readings: Readings, on: date, where: str) -> None:
    undated = [str(r.row) for r in readings.rows if r.on is None]
    if undated:
        raise _refused(
            "a method check with readings that have no date",
            f"no date in row {', '.join(undated[:5])}{', …' if len(undated) > 5 else ''}",
            "the day of every reading",
            f"{where}.readings",
        )
    late = [r for r in readings.rows if r.on is not None and r.on > on]
    if late:
        raise _refused(
            "a reading later than its method check",
            f"row {late[0].row}: {late[0].on}",
            f"{on.isoformat()} or earlier",
            f"{where}.on",
        )


def _refused(what: str, got: str, expected: str, where: str) -> MethodCheckRefused:
    return MethodCheckRefused(
        what,
        got=got,
        expected=expected,
        where=where,
        do="File the untouched check that 'lapwright readers' wrote, with its readings.",
    )
