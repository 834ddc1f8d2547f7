"""Hold a measured value that lies far from what the part can be.

A slip of typing (36 in for 0.36 in) would widen a range: the wall of a coupon
and its overlap are its very measure. So a wall outside the tube standard's
tolerance, an overlap longer than the cup can be or a cup far from its standard's
depth is held for a person. Common
practice, no source; the tolerances are those of ASTM B88, B280 and B819 as
tabled. What a face's reading covers is compared in `.stretch`.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from lapwright.core.evidence import Coupon, Joint
from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Subject
from lapwright.core.quantities import Quantity
from lapwright.reference.fittings import cup
from lapwright.reference.tube import TubeRow, tube

from .asking import Question, Ruling
from .rulebook import Adopted

RULE = "measured.plausible"
SHALLOWER = Fraction(4, 5)  # of the table's least depth: no cup of that standard, unless shortened
DEEPER = Fraction(3, 2)  # a real cup is deeper than the table's least depth, not half as deep again
FITTING = (Fraction(3, 10), Fraction(5, 2))  # of the tube's nominal wall


def judge_measured(
    coupon: Coupon, joint: Joint, *, adopted: Adopted, allowance: Quantity | None = None
) -> Iterator[Finding]:
    """Yield findings on the measured values of one joint.

    Parameters
    ----------
    coupon : Coupon
        The joint's coupon.
    joint : Joint
        The joint with its faces.
    adopted : Adopted
        The adopted editions with the programme's rules.
    allowance : Quantity, optional
        How much deeper than the table a cup may be, where the basis says so.
    """
    if not adopted.has(RULE):
        return
    ask = Question(RULE, Subject("joint", joint.id), adopted)
    t = coupon.tube
    row = tube(t.standard, t.size, type_=t.kind, temper="drawn" if "B280" in t.standard else "")
    lacking = _lacking(coupon, joint)
    yield from (ask.missing(key) for key in lacking)
    far = [*_walls(coupon, joint, row), *_cup(coupon), *_overlap(coupon, joint, allowance)]
    if not far and not lacking:
        yield ask.answer(
            lambda _: Ruling(Outcome.MET, Message("measured.plausible", joint=joint.id))
        )
    for what, got, expected in far:
        yield ask.hold(
            Message("measured.far", joint=joint.id, what=what, got=got, expected=expected),
            observed=got,
        )


def _lacking(coupon: Coupon, joint: Joint) -> list[str]:
    """Return the keys of the measured values that were not filed: they show nothing."""
    filed = (
        ("tube.wall", joint.tube_wall or coupon.tube.wall),
        ("fitting.wall", joint.fitting_wall or coupon.fitting.wall),
        ("overlap", joint.overlap),
    )
    return [key for key, value in filed if value is None]


_Far = tuple[str, str, str]


def _walls(coupon: Coupon, joint: Joint, row: TubeRow) -> Iterator[_Far]:
    nominal = row.wall_nominal.base
    least = row.wall_minimum.base if row.wall_minimum is not None else nominal * Fraction(9, 10)
    wall = joint.tube_wall or coupon.tube.wall
    if wall is not None and not least <= wall.base <= 2 * nominal - least:
        yield "tube wall", wall.text, f"{row.wall_nominal.text} within the standard's tolerance"
    fitting = joint.fitting_wall or coupon.fitting.wall
    low, high = (nominal * f for f in FITTING)
    if fitting is not None and not low <= fitting.base <= high:
        yield "fitting wall", fitting.text, f"about the tube's {row.wall_nominal.text}"


def _cup(coupon: Coupon) -> Iterator[_Far]:
    depth = coupon.fitting.cup_depth
    if depth is None:
        return
    least = cup(coupon.fitting.standard, coupon.fitting.size).depth_min
    shallow = depth.base < SHALLOWER * least.base and coupon.fitting.modified != "shortened"
    if shallow or depth.base >= DEEPER * least.base:
        yield "cup depth", depth.text, f"near the table's {least.text}"


def _overlap(coupon: Coupon, joint: Joint, allowance: Quantity | None) -> Iterator[_Far]:
    if joint.overlap is None:
        return
    depth = coupon.fitting.cup_depth
    if depth is not None and joint.overlap > depth:
        yield "overlap", joint.overlap.text, f"at most the measured cup depth {depth.text}"
    if depth is None:
        least = cup(coupon.fitting.standard, coupon.fitting.size).depth_min
        deepest = least.base + allowance.base if allowance else DEEPER * least.base
        if joint.overlap.base > deepest:
            yield (
                "overlap",
                joint.overlap.text,
                (f"near the table's {least.text}; if the cup is that deep, file its cup_depth"),
            )
