"""What a refusal says: the file, one limit, no class of the program; names nobody could print."""

from __future__ import annotations

import re
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from lapwright.cli.main import cli
from lapwright.core.errors import LapwrightError
from lapwright.measure.loupe import read_loupe
from lapwright.services.issuing import Issued
from lapwright.services.judging import judge_case

from .building import case_folder, edit
from .test_bad_input import _bomb, _flat

AS_OF = date(2026, 3, 20)


@pytest.mark.parametrize(
    ("args", "name"),
    [
        (["face", "flat.png", "--tube-end", "900,900", "--cup-face", "950,900"], "flat.png"),
        (["face", "bomb.png", "--tube-end", "1,1", "--cup-face", "90,1"], "bomb.png"),
        (["face", "text.jpg", "--tube-end", "1,1", "--cup-face", "90,1"], "text.jpg"),
        (["verify", "text.jpg", "--trust", "trust.pem"], "text.jpg"),
        (["verify", "broken.pdf", "--trust", "trust.pem"], "broken.pdf"),
        (["range", "broken.pdf"], "broken.pdf"),
    ],
)
def test_a_refusal_names_the_file_and_speaks_no_program(
    args: list[str], name: str, home: Path, issued: Issued, tmp_path: Path
) -> None:
    """No Python class, no hexadecimal, one limit only."""
    files = {
        "flat.png": _flat(),
        "bomb.png": _bomb(),
        "text.jpg": b"hello",
        "broken.pdf": b"%PDF-1.7\n" + b"\xff" * 4000,
        "trust.pem": (home / "keys" / "trust.pem").read_bytes(),
    }
    for each, data in files.items():
        (tmp_path / each).write_bytes(data)
    places = [str(tmp_path / a) if a in files else a for a in args]
    with pytest.raises(LapwrightError) as refused:
        cli.main(places, standalone_mode=False)
    told = str(refused.value)
    assert told.startswith(str(tmp_path / name))
    assert not re.search(r"Error|Decimal|[A-Z][a-z]+Image|68656c", told.replace("CASE", ""))
    assert "178956970" not in told
    assert name != "bomb.png" or "got 10000 megapixels, expected at most 89 megapixels" in told


def test_a_run_of_three_places_is_refused_in_plain_figures() -> None:
    with pytest.raises(LapwrightError, match=r"got 0\.3, 0\.4, 0\.5, expected two places"):
        read_loupe(
            Decimal(9),
            [(Decimal("0.3"), Decimal("0.4"), Decimal("0.5"))],
            resolution_mm=Decimal("0.1"),
        )  # type: ignore[list-item]


def test_a_name_that_no_record_can_print_is_refused_by_judge_already(tmp_path: Path) -> None:
    folder = case_folder(tmp_path)
    edit(folder, lambda d: d["people"]["ines"].update(name="Ines \u99ac"))
    with pytest.raises(LapwrightError, match=r"people\.ines\.name.*U\+99AC.*\[DOC-002\]"):
        judge_case(folder, as_of=AS_OF)
    edit(folder, lambda d: d["people"]["ines"].update(name="\u0416\u0430\u043d\u043d\u0430 \u1ed8"))
    judge_case(folder, as_of=AS_OF)
