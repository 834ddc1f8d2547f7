"""Designations of tube and fitting standards, and what a size means under each."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from functools import cache

from .errors import StandardWithdrawn, UnknownStandard
from .tables import Sourced, near, records


class SizeSystem(Enum):
    """What a size designation stands for."""

    NOMINAL = "nominal"
    OUTSIDE_INCH = "outside-inch"
    OUTSIDE_MM = "outside-mm"


@dataclass(frozen=True)
class StandardRow(Sourced):
    """One designation and what its sizes mean.

    ``subject`` is ``tube`` or ``fitting``, ``state`` ``in use`` or ``withdrawn``;
    ``successor`` is the likely one, to be confirmed in writing.
    """

    designation: str
    subject: str
    size_system: SizeSystem
    types: tuple[str, ...]
    state: str
    last_issue: str
    successor: str


def standard(designation: str, *, where: str = "") -> StandardRow:
    """Return what is known of a designation, withdrawn ones included.

    Raises
    ------
    UnknownStandard
        For a designation that the table does not have, word for word.

    Examples
    --------
    >>> standard("MSS SP-73").successor
    'ASME B16.50'
    """
    for row in standards():
        if row.designation == designation:
            return row
    raise UnknownStandard(
        "unknown standard",
        got=designation,
        where=where,
        expected=near(designation, (r.designation for r in standards())),
        do="Write the designation as listed.",
    )


def standard_in_use(designation: str, subject: str, *, where: str = "") -> StandardRow:
    """Return a designation of a subject (``tube``, ``fitting``) that is not withdrawn.

    Raises
    ------
    UnknownStandard
        Also for a designation of another subject.
    StandardWithdrawn
        For a withdrawn one; the message names the likely successor.
    """
    row = standard(designation, where=where)
    if row.subject != subject:
        raise UnknownStandard(
            f"not a {subject} standard",
            got=designation,
            where=where,
            expected=near("", (r.designation for r in standards() if r.subject == subject)),
            do=f"Name the {subject} standard.",
        )
    if row.state == "withdrawn":
        raise StandardWithdrawn(
            "withdrawn document",
            got=designation,
            where=where,
            expected=f"a document in use; the likely successor is {row.successor}",
            do="Obtain written confirmation of the standard that applies.",
            cite=f"last issue {row.last_issue}",
        )
    return row


@cache
def standards() -> tuple[StandardRow, ...]:
    """Return every known designation."""
    return tuple(
        StandardRow(
            provenance=r.provenance,
            designation=r.text("designation"),
            subject=r.text("subject"),
            size_system=SizeSystem(r.text("size_system")),
            types=tuple(t for t in r.text("types").split("; ") if t),
            state=r.text("state"),
            last_issue=r.text("last_issue"),
            successor=r.text("successor"),
        )
        for r in records("standards")
    )
