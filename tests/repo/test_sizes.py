"""Files, functions and paths stay short; only the command line reads the clock."""

from __future__ import annotations

from pathlib import Path

import lapwright
from repo.sizes import clock_reads, long_files, long_functions, long_paths, many_parameters
from repo.tree import SRC, Module, all_files, python_files, source_modules, told


def test_the_installed_package_is_the_one_of_this_tree() -> None:
    assert Path(lapwright.__file__).parent == SRC


def test_no_file_is_longer_than_600_lines() -> None:
    offenders = long_files(python_files(), limit=600)
    assert not offenders, told(offenders, "Split these files (600 lines at most):")


def test_no_function_body_has_60_lines() -> None:
    offenders = long_functions(python_files(), limit=60)
    assert not offenders, told(offenders, "Split these functions (under 60 lines):")


def test_no_path_is_longer_than_120_characters() -> None:
    offenders = long_paths(all_files(), limit=120)
    assert not offenders, told(offenders, "Shorten these paths:")


def test_nothing_below_the_command_line_reads_the_clock() -> None:
    below = [m for m in source_modules() if not m.path.startswith("src/lapwright/cli/")]
    offenders = clock_reads(below)
    assert not offenders, told(offenders, "Take the date or instant as an argument:")


def test_the_size_checks_find_what_is_too_long() -> None:
    lines = "\n".join(f"    x = {n}" for n in range(60))
    module = Module("src/long.py", f'def f():\n    """Do."""\n{lines}\n')
    assert long_files([module], limit=61) == ["src/long.py: 62 lines"]
    assert long_functions([module], limit=60) == ["src/long.py:1 f: 60 lines"]
    assert long_functions([module], limit=61) == []
    taker = Module("m.py", "def f(self, a, *b, c, **d): ...\n")
    assert many_parameters([taker], limit=3) == ["m.py:1 f: 4 parameters"]
    assert long_paths(["abc", "abcd"], limit=3) == ["abcd: 4 characters"]


def test_the_clock_check_finds_every_way_of_reading_it() -> None:
    text = (
        "import datetime, time\nfrom time import time_ns\n"
        "a = datetime.datetime.now()\nb = datetime.date.today()\nc = time.time()\n"
        "d = datetime.datetime.fromisoformat('2026-01-01')\n"
    )
    found = [line.split(" ", 1)[1] for line in clock_reads([Module("m.py", text)])]
    assert sorted(found) == [
        "date.today",
        "datetime.now",
        "from time import time_ns",
        "time.time",
    ]
