"""Turn the texts of act bodies into parts of `Evidence`.

Nothing is guessed: a key that was not filed gives empty text or ``None``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from decimal import Decimal, InvalidOperation
from typing import Any

from . import evidence as ev
from .acts import Act
from .errors import EvidenceRefused
from .quantities import Quantity
from .times import parse_date


def length_of(text: str) -> Quantity:
    """Return a length that must be there."""
    return Quantity.parse(text, "length")


def length_or_none(text: str | None) -> Quantity | None:
    """Return a length, or None where nothing was filed."""
    return length_of(text) if text else None


def day_or_none(text: str | None) -> date | None:
    """Return a civil day, or None where nothing was filed."""
    return parse_date(text) if text else None


def decimal_or_none(text: str | None) -> Decimal | None:
    """Return an exact decimal, or None where nothing was filed."""
    return Decimal(text) if text else None


def names_of(value: object) -> tuple[str, ...]:
    """Return one or several names as a tuple."""
    return (value,) if isinstance(value, str) else tuple(value)  # type: ignore[arg-type]


def pqr_of(p: Mapping[str, Any]) -> ev.Pqr:
    """Return a procedure record from its part of a ``ProcedureFiled`` body."""
    return ev.Pqr(
        p["id"],
        length_or_none(p.get("overlap")),
        length_or_none(p.get("tube_wall")),
        length_or_none(p.get("fitting_wall")),
        tuple(p.get("p_numbers", ())),
        p.get("f_number", ""),
        p.get("form", ""),
        p.get("flux", ""),
        tuple(p.get("positions", ())),
    )


def joint_of(j: Mapping[str, Any], coupon: str) -> ev.Joint:
    """Return a joint from its part of a ``CouponBrazed`` body."""
    angle = j.get("axis_angle")
    return ev.Joint(
        id=j["id"],
        coupon=coupon,
        cup=j.get("cup", ""),
        feed=j.get("feed", ""),
        axis_angle=Quantity.parse(angle, "angle") if angle else None,
        position=j.get("position", ""),
        overlap=length_or_none(j.get("overlap")),
        overlap_instrument=j.get("instrument", ""),
        clearance=length_or_none(j.get("clearance")),
        tube_wall=length_or_none(j.get("tube_wall")),
        fitting_wall=length_or_none(j.get("fitting_wall")),
        after_calibration=day_or_none(j.get("after_calibration")),
    )


def member_of(m: Mapping[str, Any]) -> ev.Member:
    """Return tube or fitting from its part of a ``CouponBrazed`` body."""
    return ev.Member(
        m.get("standard", ""),
        m.get("kind", m.get("type", "")),
        m.get("size", ""),
        m.get("alloy", ""),
        length_or_none(m.get("wall")),
        m.get("lot", ""),
        m.get("instrument", ""),
        m.get("modified", ""),
        m.get("dimple_clear", ""),
        length_or_none(m.get("cup_depth")),
        day_or_none(m.get("after_calibration")),
    )


def reading_of(act: Act, *, name: str = "") -> ev.Reading:
    """Return the reading that a ``FaceRead`` act files; ``name`` is its digest as first filed."""
    b = act.body
    return ev.Reading(
        act=name or act.sha256,
        reader=b["reader"],
        on=act.happened_on,
        way=b["way"],
        share=decimal_or_none(b.get("share")),
        u=decimal_or_none(b.get("u")),
        low=decimal_or_none(b.get("low")),
        high=decimal_or_none(b.get("high")),
        unsure=decimal_or_none(b.get("unsure")),
        overlap=length_or_none(b.get("overlap")),
        needs_reader=b.get("needs_reader", ""),
        accepted_by=b.get("accepted_by", ""),
        refused=b.get("refused", ""),
        method=b.get("method", ""),
        instrument=b.get("instrument", ""),
        blind=b.get("blind", ""),
        segments=tuple(dict(s) for s in b.get("segments", ())),
        photo_sha256=act.files[0] if act.files else "",
        remark=b.get("remark", ""),
        ends=tuple(Decimal(v) for k in ("tube_end", "cup_face") for v in b.get(k, ())),
        ends_by=b.get("ends", "given"),
        overlap_u=length_or_none(b.get("overlap_u")),
        scale_u=decimal_or_none(b.get("scale_u")),
        resolution=length_or_none(b.get("resolution")),
        resolution_typed=b.get("resolution_typed", ""),
        pixels_sha256=b.get("pixels_sha256", ""),
        ends_accepted_by=b.get("ends_accepted_by", ""),
        walls=tuple(dict(w) for w in b.get("walls", ())),
        sound=tuple(Decimal(v) for v in b.get("sound", {}).get("from_mouth", ())),
        dark_lines=tuple(dict(line) for line in b.get("dark_lines", ())),
        dark_line=b.get("dark_line", ""),
        dark_line_reason=b.get("dark_line_reason", ""),
        after_calibration=day_or_none(b.get("after_calibration")),
    )


def method_check_of(b: Mapping[str, Any], on: date, *, act: str = "") -> ev.MethodCheck:
    """Return the method check that a ``MethodChecked`` body files.

    Raises
    ------
    EvidenceRefused
        If a figure or a limit is no finite number, or the limits are missing.
    """
    try:
        figures, limits = b.get("figures", {}), b["limits"]
        return ev.MethodCheck(
            act=act,
            method=b["method"],
            on=on,
            by=b.get("by", ""),
            faces=int(b["faces"]),
            bias=_finite(figures.get("bias")),
            half_width=_finite(figures.get("half_width")),
            max_bias=_finite(limits.get("max_bias")),
            max_half_width=_finite(limits.get("max_half_width")),
            readings_sha256=b.get("readings_sha256", ""),
            given=_count(figures.get("given")),
            refused=_count(figures.get("refused")),
            near_limit=_count(figures.get("near_limit")),
            falsely_met=_count(figures.get("met_over_limit")),
            loupe_readers=tuple(b.get("loupe_readers", ())),
            slope_low=_finite(figures.get("slope_low")),
            slope_high=_finite(figures.get("slope_high")),
            bias_at_limit=_finite(figures.get("bias_at_limit")),
            over_limit=_count(figures.get("over_limit")),
            below_limit=_count(figures.get("below_limit")),
            levels=_count(figures.get("levels")),
            covered_high=_finite(figures.get("covered_high")),
            slope=_finite(figures.get("slope")),
            mean_level=_finite(figures.get("mean_level")),
            half_width_at_limit=_finite(figures.get("half_width_at_limit")),
        )
    except (AttributeError, InvalidOperation, LookupError, TypeError, ValueError) as fault:
        raise EvidenceRefused(
            "a method check whose figures are no numbers",
            got=str(dict(b)),
            expected="decimal text",
            do="File the method check that 'lapwright readers' wrote.",
        ) from fault


def doubt_of(act: Act) -> ev.Doubt:
    """Return the doubt that a ``DoubtRaised`` act files; it was found on the act's day."""
    b, since = act.body, act.body.get("since", "")
    return ev.Doubt(
        b.get("doubt", "") or act.sha256,
        b["about"],
        b["by"],
        b["reason"],
        parse_date(since) if since else None,
        act.happened_on,
        scope=dict(b.get("variables", {})),
    )


def cleared(doubt: ev.Doubt, act: Act) -> ev.Doubt:
    """Return a doubt as a ``DoubtCleared`` act leaves it."""
    b = act.body
    return replace(
        doubt, cleared_on=act.happened_on, cleared_by=b["by"], cleared_reason=b["reason"]
    )


def _count(text: str | None) -> int | None:
    return int(text) if text else None


def _finite(text: str | None) -> Decimal | None:
    value = decimal_or_none(text)
    if value is not None and not value.is_finite():
        raise ValueError(text)
    return value
