"""Every refusal has its own code, one line of text and an entry in the documentation."""

from __future__ import annotations

from lapwright.core.errors import LapwrightError
from repo.errors import (
    code_offenders,
    documented_codes,
    entry_offenders,
    error_classes,
    misplaced_errors,
)
from repo.tree import Module, source_modules, told


def test_every_refusal_has_a_code_of_its_own() -> None:
    offenders = code_offenders(error_classes())
    assert not offenders, told(offenders, "Give each refusal its own code:")


def test_every_code_has_an_entry_and_every_entry_a_code() -> None:
    offenders = entry_offenders(error_classes(), documented_codes())
    assert not offenders, told(offenders, "Mend docs/reference/errors/<prefix>.md (## CODE):")


def test_every_refusal_is_defined_where_refusals_live() -> None:
    names = {kind.__name__ for kind in error_classes()} | {"LapwrightError"}
    offenders = misplaced_errors(source_modules(), names)
    assert not offenders, told(offenders, "Move these into the package's errors.py:")


def test_every_refusal_speaks_in_one_line_with_value_limit_and_next_step() -> None:
    kinds = error_classes()
    assert kinds
    for kind in kinds:
        said = str(kind("too\nwide", got=7, expected="at most 5", do="Narrow it.", where="a: b"))
        assert said == f"a: b: too wide: got 7, expected at most 5. Narrow it. [{kind.code}]"


def test_the_error_checks_find_missing_shared_and_misplaced_codes() -> None:
    class First(LapwrightError):
        code = "BAD-001"

    class Second(LapwrightError):
        code = "BAD-001"

    class Third(First):
        pass

    assert code_offenders([First, Second]) == [
        "First: BAD-001 is taken twice",
        "Second: BAD-001 is taken twice",
    ]
    assert code_offenders([LapwrightError, Third])[0] == "Third: no code of its own"
    assert entry_offenders([First], {"OLD-009": "old.md"}) == [
        "First: BAD-001 has no entry",
        "old.md: OLD-009 is no refusal",
    ]
    module = Module("src/lapwright/a/b.py", "class Odd(errors.LapwrightError): ...")
    assert misplaced_errors([module], {"LapwrightError"}) == ["src/lapwright/a/b.py:1 Odd"]
