"""Every public name is documented, and what it documents is what it takes."""

from __future__ import annotations

from repo.docstrings import docstring_offenders
from repo.tree import Module, modules_of, told

PACKAGES = (
    "core",
    "reference",
    "rules",
    "joints",
    "measure",
    "ledger",
    "documents",
    "services",
)

BAD = '''
def shown(a, *, b):
    """Show.

    Parameters
    ----------
    a : int
        One, [mm].
    c : int
        Two.

    Returns
    -------
    int
        Three.
    """

def bare(): ...

class Kept:
    """Keep.

    Parameters
    ----------
    x, y : int
        Both.
    """

    x: int
    y: int
    z: int = field(init=False)

    def silent(self): ...

def _private(): ...

def turned(a, b):
    """Turn.

    Parameters
    ----------
    b, a : int
        Both.
    """
'''


def test_every_public_name_is_documented_as_it_is() -> None:
    offenders = docstring_offenders(modules_of(*PACKAGES))
    assert not offenders, told(offenders, "Document these as they are (numpydoc):")


def test_the_docstring_check_finds_missing_and_false_ones() -> None:
    assert docstring_offenders([Module("m.py", BAD)]) == [
        "m.py:2 shown: does not document ['b']",
        "m.py:2 shown: documents ['c'], which it does not take",
        "m.py:18 bare: has no docstring",
        "m.py:33 Kept.silent: has no docstring",
        "m.py:37 turned: documents ['b', 'a'] in another order than it takes ['a', 'b']",
    ]
