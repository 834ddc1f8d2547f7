"""Invented histories for the tests of what is in force."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from lapwright.rules.continuity import Use
from lapwright.rules.qualified import History, Qualification, Test, Variables
from published.adopting import adopted

BOTH = adopted(["asme-bpvc-ix 2023", "nfpa-99 2018", "programme 1"])
PROCESS, OTHER = "TB", "IB"
PLAIN = Variables(PROCESS, "manual", "107/107", "103", "rod", "socket", "C", "1-1/2 L ASME B16.50")
JANUARY = date(2025, 1, 15)


def passed(on: date, *, position: str = "C", procedure: str = "P1", **other: str) -> Test:
    """Return a passed test."""
    return Test(
        f"K{on:%y%m%d}{position}", on, procedure, replace(PLAIN, position=position, **other)
    )


def record(
    *tests: Test, id_: str = "R1", certified: date | None = JANUARY, employer: str = "Quillon"
) -> Qualification:
    """Return a certified record of some tests."""
    return Qualification(
        id_,
        "wren",
        employer,
        PROCESS,
        tuple(dict.fromkeys(t.procedure for t in tests)),
        tests,
        certified_on=certified,
    )


def use(on: date, *, procedure: str = "P1", process: str = PROCESS, by: str = "osgood") -> Use:
    """Return a witnessed use, written down on its day."""
    return Use(on, process, procedure, by, on)


def history(*qualifications: Qualification, uses: tuple[Use, ...] = ()) -> History:
    """Return the history of one person."""
    return History("wren", qualifications, uses)
