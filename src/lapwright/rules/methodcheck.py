"""Which of a program's readings count unaided: those under the shop's own method check.

A programme rule of this tool (common practice, no source). A reading counts
without an examiner only when the newest check of the very same method version,
dated on or before the reading, names who signed it, rests on at least 30 faces,
and both its bias and the half-width of its limits of agreement lie within the
limits that the shop stated. Nor does a check count whose limits are wider than
any shop can want, whose bias grows or falls with the level and passes the stated limit at
the limit for the unbrazed share, with a face that the program falsely met, with too few
faces near the limit and on either side of it, whose intervals hold the loupe value too
seldom, with more than a third of the faces refused, or that the brazer signed or
read. How far its limits reach enters the judgement too (`lapwright.rules.checkreach`).
A reading whose ends the program found without being shown any is a proposal
under every check: no person has seen where it read. Any other reading is a proposal.
Agreement on the shop's faces is all that a check shows: it claims no accuracy.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from lapwright.core.evidence import FOUND_ALONE, MethodCheck, Reading
from lapwright.core.messages import Message

MIN_FACES = 30
WIDEST_BIAS = Decimal("0.05")  # of the overlap; common practice, no source
WIDEST_HALF_WIDTH = Decimal("0.10")  # of the overlap; common practice, no source
REFUSED_OF = 3  # at most one face in so many; common practice, no source
MIN_OVER = 5  # faces over the limit by loupe; common practice, no source
MIN_BELOW = 10  # faces not over it; common practice, no source
MIN_LEVELS = 8  # different loupe shares; common practice, no source
MIN_NEAR = 5  # faces within 10 points of the limit; common practice, no source
COVERAGE = Decimal("0.95")  # what a 95 % interval promises


def without_own(checks: Sequence[MethodCheck], *, brazers: set[str]) -> tuple[MethodCheck, ...]:
    """Mark as the brazer's own each check that the brazer signed or read by loupe.

    A marked check keeps its place, so that an older one does not step in for it.

    Parameters
    ----------
    checks : sequence of MethodCheck
        Every check in evidence.
    brazers : set of str
        Ids of the brazer of the case and of whoever brazed the coupon.
    """
    names = {b.casefold() for b in brazers if b}
    return tuple(
        replace(c, own="yes") if names & {p.casefold() for p in (c.by, *c.loupe_readers)} else c
        for c in checks
    )


def stands_unaided(reading: Reading, checks: Sequence[MethodCheck]) -> MethodCheck | None:
    """Return the check under which a program's reading counts unaided, else None.

    Parameters
    ----------
    reading : Reading
        A reading from a photograph.
    checks : sequence of MethodCheck
        Every check in evidence.
    """
    if reading.needs_reader or not reading.method or reading.ends_by == FOUND_ALONE:
        return None
    newest = _newest(reading, checks)
    return newest[0] if newest and not any(_unfit(c) for c in newest) else None


def why_a_proposal(face: str, reading: Reading, *, checks: Sequence[MethodCheck]) -> Message:
    """Return the sentence that says why a program's reading is but a proposal.

    Parameters
    ----------
    face : str
        Id of the face.
    reading : Reading
        The reading that does not count.
    checks : sequence of MethodCheck
        Every check in evidence.
    """
    same = [c for c in checks if c.method == reading.method]
    if reading.ends_by == FOUND_ALONE:
        return Message("face.ends_alone", face=face)
    if reading.needs_reader or not checks:
        return Message("face.not_accepted", face=face)
    if not same:
        return Message("face.check_other_method", face=face, method=reading.method)
    newest = _newest(reading, same)
    if not newest:
        first = min(c.on for c in same).isoformat()
        return Message("face.check_later", face=face, on=first, read=reading.on.isoformat())
    unfit = next(filter(None, map(_unfit, newest)), "face.check_unsigned")
    return _unfit_message(unfit, face, newest)


def unfit(check: MethodCheck) -> str:
    """Return why a check lets no reading count: a message id, or empty text when it does.

    Parameters
    ----------
    check : MethodCheck
        The check, signed or about to be signed.
    """
    figures = (check.bias, check.half_width, check.max_bias, check.max_half_width)
    bias, half_width, max_bias, max_half_width = figures
    if bias is None or half_width is None or max_bias is None or max_half_width is None:
        return "face.check_outside"
    if check.faces < MIN_FACES:
        return "face.check_few"
    if half_width < 0 or abs(bias) > max_bias or half_width > max_half_width:
        return "face.check_outside"
    if max_bias > WIDEST_BIAS or max_half_width > WIDEST_HALF_WIDTH:
        return "face.check_loose"
    return _sloped(check) or _faces_unfit(check)


def _sloped(check: MethodCheck) -> str:
    """Return why a bias that depends on the level lets no reading count (house rule, no source).

    Acts written before the slope was reckoned hold none and are judged without it.
    """
    low, high, at, cap = (check.slope_low, check.slope_high, check.bias_at_limit, check.max_bias)
    if low is None or high is None or at is None or cap is None:
        return ""
    return "face.check_sloped" if (low > 0 or high < 0) and abs(at) > cap else ""


def _faces_unfit(check: MethodCheck) -> str:
    """Return why the faces of a check show too little; a count that is missing shows nothing."""
    if check.given is None or check.refused is None or check.refused * REFUSED_OF > check.given:
        return "face.check_refusing"
    if not check.near_limit:
        return "face.check_far"
    if check.falsely_met != 0:
        return "face.check_false_met"
    if _few_on_a_side(check):
        return "face.check_spread"
    seldom = check.covered_high is not None and check.covered_high < COVERAGE
    return "face.check_uncovered" if seldom else ""


def spread_counts(check: MethodCheck) -> tuple[tuple[int, int], ...]:
    """Return what there is and the least of: over, not over, different shares, near the limit.

    Parameters
    ----------
    check : MethodCheck
        A check of the form that counts them; a count that is missing is 0.
    """
    found = check.over_limit, check.below_limit, check.levels, check.near_limit
    least = MIN_OVER, MIN_BELOW, MIN_LEVELS, MIN_NEAR
    return tuple((n or 0, most) for n, most in zip(found, least, strict=True))


def _few_on_a_side(check: MethodCheck) -> object:
    """Whether too few faces lie where verdicts part; acts of older forms hold no such counts."""
    older = check.over_limit is None and check.below_limit is None and check.levels is None
    return not older and any(n < least for n, least in spread_counts(check))


def _unfit(check: MethodCheck) -> str:
    if check.own:
        return "face.check_own"
    return unfit(check) or (
        "" if check.by and check.readings_sha256 and check.loupe_readers else "face.check_unsigned"
    )


def _newest(reading: Reading, checks: Sequence[MethodCheck]) -> list[MethodCheck]:
    timely = [c for c in checks if c.method == reading.method and c.on <= reading.on]
    last = max((c.on for c in timely), default=None)
    return [c for c in timely if c.on == last]


def _unfit_message(id_: str, face: str, newest: Sequence[MethodCheck]) -> Message:
    on = newest[0].on.isoformat()
    if id_ == "face.check_few":
        few = min(c.faces for c in newest)
        return Message("face.check_few", face=face, on=on, faces=str(few), least=str(MIN_FACES))
    if id_ == "face.check_spread":
        short = next(c for c in newest if _few_on_a_side(c))
        return Message("face.check_spread", face=face, on=on, **spread_words(short))
    return Message(id_, face=face, on=on)


def spread_words(check: MethodCheck) -> dict[str, str]:
    """Return the counts of `spread_counts` for a sentence, each as ``2 of 5``.

    Parameters
    ----------
    check : MethodCheck
        The check.
    """
    names = "over", "below", "levels", "near"
    counts = zip(names, spread_counts(check), strict=True)
    return {name: f"{n} of {least}" for name, (n, least) in counts}
