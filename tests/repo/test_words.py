"""No leftovers, no machine's paths, no registry hosts, no check left out."""

from __future__ import annotations

import pytest

from repo.tree import all_files, read, told
from repo.words import forbidden_words


def test_no_file_holds_a_forbidden_word() -> None:
    texts = ((path, read(path)) for path in all_files())
    offenders = list(forbidden_words((path, text) for path, text in texts if text is not None))
    assert not offenders, told(offenders, "Take these out:")


@pytest.mark.parametrize(
    "line",
    [
        "see /wor" + "k/main",
        "from https://pyp" + "i.org/simple",
        "# TO" + "DO: later",
        "@pytest.mark.sk" + "ipif(True)",
        "@pytest.mark.xf" + "ail",
    ],
)
def test_the_word_check_names_line_and_word(line: str) -> None:
    found = list(forbidden_words([("a.py", f"fine\n{line}\n")]))
    assert found
    assert all(offender.startswith("a.py:2 ") for offender in found)


def test_the_word_check_lets_ordinary_words_pass() -> None:
    assert not list(forbidden_words([("a.py", "work, skip a line, home page, expected to fail")]))
