"""Coded refusals.

Every refusal a user can act on is one subclass of `LapwrightError`. The text
is a single line that says where, what, the value got, the value expected, the
source (where there is one), what to do, and a stable code. A failed coupon is
not an error: it is a verdict (see `lapwright.core.outcomes`).
"""

from __future__ import annotations


class LapwrightError(Exception):
    """A refusal a user can act on; ``code`` is stable and documented.

    Parameters
    ----------
    what : str
        What is wrong, without the value.
    got : object
        The offending value, shown with `repr` unless it is a plain string.
    expected : str
        The limit or form that would have been accepted.
    do : str
        The next step for the user, one imperative sentence.
    where : str, optional
        File, key or place, for example ``case.yaml: coupons[0].tube.size``.
    cite : str, optional
        Source of the limit, for example ``ASME BPVC IX 2023, QB-408.1``.
    """

    code = "LAP-000"

    def __init__(
        self,
        what: str,
        *,
        got: object,
        expected: str,
        do: str,
        where: str = "",
        cite: str = "",
    ) -> None:
        super().__init__(what)
        self.what = what
        self.got = got if isinstance(got, str) else repr(got)
        self.expected = expected
        self.do = do
        self.where = where
        self.cite = cite

    def __str__(self) -> str:
        place = f"{self.where}: " if self.where else ""
        cite = f" ({self.cite})" if self.cite else ""
        line = (
            f"{place}{self.what}: got {_short(self.got)}, expected {self.expected}{cite}. "
            f"{self.do} [{self.code}]"
        )
        return " ".join(line.split())

    def as_dict(self) -> dict[str, str]:
        """Return the parts for JSON output, pages and logs."""
        return {
            "code": self.code,
            "what": self.what,
            "got": self.got,
            "expected": self.expected,
            "do": self.do,
            "where": self.where,
            "cite": self.cite,
            "message": str(self),
        }

    def __reduce__(self) -> tuple[object, ...]:
        return _remade, (type(self), self.parts())

    def parts(self) -> dict[str, str]:
        """Return what the refusal is made with, to make it again or elsewhere."""
        names = ("what", "got", "expected", "do", "where", "cite")
        return {name: getattr(self, name) for name in names}

    def at(self, where: str) -> LapwrightError:
        """Return the same refusal with an outer place put before its own."""
        inner = f" {self.where}" if self.where else ""
        return type(self)(
            self.what,
            got=self.got,
            expected=self.expected,
            do=self.do,
            where=f"{where}{inner}",
            cite=self.cite,
        )


def _remade(kind: type[LapwrightError], parts: dict[str, str]) -> LapwrightError:
    """Build a refusal again that came from another process."""
    return kind(**parts)


def _short(text: str, limit: int = 160) -> str:
    return text if len(text) <= limit else text[: limit - 1] + "…"


class QuantityRefused(LapwrightError):
    """A quantity that is not an exact decimal number with a known unit."""

    code = "CORE-001"


class DateRefused(LapwrightError):
    """A date or time that is not in the written form, or does not exist."""

    code = "CORE-002"


class ActRefused(LapwrightError):
    """An act whose type, version or body does not fit its schema."""

    code = "CORE-003"


class MarkRefused(LapwrightError):
    """A brazer mark that could be (part of) a government number, or is not letters and digits."""

    code = "CORE-004"


class EvidenceRefused(LapwrightError):
    """Acts that contradict each other: an unknown subject, a second birth, a wrong order."""

    code = "CORE-005"


class SizeRefused(LapwrightError):
    """A size without its system, or unknown in that system."""

    code = "CORE-006"


class ActFromNewer(LapwrightError):
    """An act whose type, version or field only a later version of this program knows."""

    code = "CORE-010"


class NamedActUnknown(LapwrightError):
    """A correction or a void that names no earlier act of its stream."""

    code = "CORE-011"


class VoidedAct(LapwrightError):
    """A correction or a void of an act that is voided already."""

    code = "CORE-012"


class CorrectionMoved(LapwrightError):
    """A corrected correction, or a corrected void, that names another act than before."""

    code = "CORE-013"


class ActFinal(LapwrightError):
    """A correction or a void of an act that has left the ledger for the world."""

    code = "CORE-014"


class ZoneRefused(LapwrightError):
    """A time zone that this machine does not know."""

    code = "CORE-015"


class RegisterRefused(LapwrightError):
    """Acts about a record that contradict each other."""

    code = "CORE-016"
