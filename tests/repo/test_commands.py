"""The commands that the first page promises are the ones that are run."""

from __future__ import annotations

import re

from repo.tree import all_files, read, told

PROMISED = ("setup", "demo", "test", "quick", "docs", "bench", "rule")


def targets(makefile: str) -> set[str]:
    """Return the targets of a Makefile."""
    return set(re.findall(r"^([a-z]+):", makefile, re.MULTILINE))


def test_every_promised_target_is_there() -> None:
    offenders = [name for name in PROMISED if name not in targets(read("Makefile") or "")]
    assert not offenders, told(offenders, "The Makefile lacks these:")


def test_the_ci_runs_the_test_command_of_the_first_page() -> None:
    places = [path for path in (".ci/run", "README.md", "CONTRIBUTING.md") if path in all_files()]
    offenders = [path for path in places if "make test" not in (read(path) or "")]
    assert ".ci/run" in places
    assert not offenders, told(offenders, "These do not name 'make test':")


def test_the_target_check_reads_names_before_a_colon() -> None:
    assert targets("a: b\n\tc: d\nVAR := x\ne:\n") == {"a", "e"}
