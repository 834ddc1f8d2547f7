"""The package and the help of the command line start without anything heavy."""

from __future__ import annotations

import json
import subprocess
import sys

from repo.tree import SRC, told

HEAVY = ["numpy", "cv2", "PIL", "typst", "pyhanko", "jsonschema", "cryptography", "django"]
REPORT = f"import json, sys; print(json.dumps([n for n in {HEAVY} if n in sys.modules]))"
HELP = f"""
import atexit, runpy, sys
sys.argv = ["lapwright", "--help"]
def report():
    {REPORT}
atexit.register(report)
runpy.run_module("lapwright", run_name="__main__")
"""


def loaded(code: str) -> list[str]:
    """Return the heavy packages that a fresh interpreter has loaded after ``code``."""
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60)
    assert done.returncode == 0, done.stderr
    answer: list[str] = json.loads(done.stdout.splitlines()[-1])
    return answer


def test_importing_the_package_loads_nothing_heavy() -> None:
    offenders = loaded(f"import lapwright\n{REPORT}")
    assert not offenders, told(offenders, "import lapwright loads these:")


def test_the_help_of_the_command_line_loads_nothing_heavy() -> None:
    started = HELP if (SRC / "cli" / "main.py").exists() else REPORT
    offenders = loaded(started)
    assert not offenders, told(offenders, "lapwright --help loads these:")


def test_the_start_check_sees_a_heavy_import() -> None:
    assert loaded(f"import numpy\n{REPORT}") == ["numpy"]
