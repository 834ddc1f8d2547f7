"""The scripts of the repository as modules."""

from __future__ import annotations

import importlib.util
from types import ModuleType

from repo.tree import ROOT


def script(name: str) -> ModuleType:
    """Return ``scripts/<name>.py`` as a module."""
    spec = importlib.util.spec_from_file_location(name, ROOT / "scripts" / f"{name}.py")
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module
