"""How far a method check's limits of agreement reach above a reading under it.

A programme rule of this tool (common practice, no source). A check within wide limits
says that the loupe may have read a face by so much more than the program did. The upper
end of a reading that counts unaided is therefore at least ``share - bias + 1.96 s``: the
upper limit of what the loupe would have read (Bland and Altman 1986, from memory). Where
the bias was seen to change with the share it is taken at the level of the reading too,
with the half-width at the limit, and the higher end counts.
"""

from __future__ import annotations

from decimal import Decimal

from lapwright.core.evidence import MethodCheck

LEAST_TURN = Decimal("0.5")  # keeps a line steeper than any accepted check's from turning over


def upper_under(share: Decimal, check: MethodCheck) -> Decimal:
    """Return the upper end that a check allows for a program's reading, [-].

    Parameters
    ----------
    share : Decimal
        The program's unbrazed share, [-].
    check : MethodCheck
        The check under which it counts unaided.

    Examples
    --------
    A check of a bias of -3.6 points and limits 8 points to either side:

    >>> from datetime import date
    >>> check = MethodCheck(
    ...     act="", method="m/1", on=date(2026, 1, 2), by="lead", faces=30,
    ...     bias=Decimal("-0.036"), half_width=Decimal("0.08"), max_bias=Decimal("0.05"),
    ...     max_half_width=Decimal("0.10"), readings_sha256="",
    ... )
    >>> upper_under(Decimal("0.165"), check)
    Decimal('0.281')
    """
    assert check.bias is not None  # an accepted check states both
    assert check.half_width is not None
    ends = [share - check.bias + check.half_width]
    by_level = _bias_at(share, check)
    if by_level is not None:
        half = max(check.half_width, check.half_width_at_limit or Decimal(0))
        ends.append(share - by_level + half)
    return max(ends)


def _bias_at(share: Decimal, check: MethodCheck) -> Decimal | None:
    """Return the bias at a program's share, None where no slope was seen or none is held.

    The line is laid over the means of both readings: with ``d = bias + slope (m - level)``
    and ``m = share - d / 2`` the bias is ``(bias + slope (share - level)) / (1 + slope / 2)``.
    """
    low, high, slope, level = (check.slope_low, check.slope_high, check.slope, check.mean_level)
    if low is None or high is None or slope is None or level is None or check.bias is None:
        return None
    if low <= 0 <= high:
        return None
    return (check.bias + slope * (share - level)) / max(1 + slope / 2, LEAST_TURN)
