"""What a person holds: qualifications with the tests behind them, and who stands behind each.

A qualification is what one record proves for flow positions that were brazed on the
same days; positions of one record that were brazed on other days stand apart,
because every clock starts on the braze date (house rule ``clock.start``).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date

from lapwright.core.evidence import Doubt
from lapwright.core.outcomes import Finding

from .continuity import Use

RECORD, PAPER, CASE = "record", "paper", "case"


@dataclass(frozen=True)
class Variables:
    """The essential variables of a test, each as filed; empty where nobody said.

    ``kind`` is tube size and type with the fitting's standard: it stands for thickness
    and overlap, which are compared elsewhere.
    """

    process: str = ""
    manner: str = ""
    p_numbers: str = ""
    f_number: str = ""
    form: str = ""
    joint_type: str = ""
    position: str = ""
    kind: str = ""


@dataclass(frozen=True)
class Test:
    """One passed test of one flow position, brazed ``on`` that day under a procedure."""

    __test__ = False  # the name is the trade's; not a test class

    coupon: str
    on: date
    procedure: str
    variables: Variables
    witness: str = ""


@dataclass(frozen=True)
class Acceptance:
    """A later employer's signature under a record: it serves that employer from ``on``."""

    employer: str
    by: str
    on: date


@dataclass(frozen=True)
class Withdrawal:
    """When a record was withdrawn; ``since`` is the day of the event, where one was named."""

    on: date
    by: str
    reason: str
    since: date | None = None


@dataclass(frozen=True)
class Attested:
    """An employer that took part in the session: what its representative did.

    ``present`` is ``yes`` or ``no`` during the brazing, ``compared`` whether the procedures
    were compared before; ``attested`` names what the representative signed for.
    """

    employer: str
    representative: str
    present: str = ""
    compared: str = ""
    attested: tuple[str, ...] = ()
    variables: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Qualification:
    """What one record proves for positions that were brazed on the same days.

    ``employer`` is the one that tested; ``certified_on`` the day its responsible person
    signed, ``None`` while nobody has; ``procedures`` the ids under which a use counts;
    ``supplements`` the base record of a supplementary coupon; ``control`` the document of
    a common control of several companies; ``standing`` further findings that hold on
    every day, such as those on a paper.
    """

    id: str
    person: str
    employer: str
    process: str
    procedures: tuple[str, ...]
    tests: tuple[Test, ...]
    certified_on: date | None = None
    withdrawn: Withdrawal | None = None
    accepted: tuple[Acceptance, ...] = ()
    together: tuple[Attested, ...] = ()
    supplements: str = ""
    control: str = ""
    source: str = RECORD
    standing: tuple[Finding, ...] = ()

    @property
    def positions(self) -> tuple[str, ...]:
        """Letters of the flow positions, each once."""
        return tuple(sorted({t.variables.position for t in self.tests if t.variables.position}))

    @property
    def brazed_on(self) -> date:
        """The day on which the last of its coupons was brazed: the clocks start here."""
        return max(t.on for t in self.tests)

    @property
    def employers(self) -> tuple[str, ...]:
        """Whom it can serve: who tested, who took part, who accepted it."""
        named = [self.employer, *(a.employer for a in self.together)]
        return tuple(dict.fromkeys([*named, *(a.employer for a in self.accepted)]))


@dataclass(frozen=True)
class Credential:
    """A credential as noted: ``until`` is the last day on which it holds."""

    kind: str
    issuer: str
    until: date
    noted_on: date


@dataclass(frozen=True)
class History:
    """Everything known of one person that decides what is in force.

    ``late_paper`` is the programme's choice on late logs; ``supplementary`` is ``on``
    where supplementary coupons live and lapse with their base (house rules, both off
    unless the basis says otherwise).
    """

    person: str
    qualifications: tuple[Qualification, ...]
    uses: tuple[Use, ...] = ()
    doubts: tuple[Doubt, ...] = ()
    credentials: tuple[Credential, ...] = ()
    late_paper: str = ""
    supplementary: str = ""

    @property
    def tests(self) -> Iterable[tuple[Qualification, Test]]:
        """Every passed test with the qualification that it belongs to."""
        return ((q, t) for q in self.qualifications for t in q.tests)


def apart(whole: Qualification) -> tuple[Qualification, ...]:
    """Return a record's qualifications: one for all positions brazed on the same days.

    Parameters
    ----------
    whole : Qualification
        With every passed test of the record.
    """
    last: dict[str, date] = {}
    for test in whole.tests:
        letter = test.variables.position
        last[letter] = max(test.on, last.get(letter, test.on))
    if len(set(last.values())) < 2:
        return (whole,)
    days = sorted(set(last.values()))
    return tuple(
        replace(whole, tests=tuple(t for t in whole.tests if last[t.variables.position] == day))
        for day in days
    )
