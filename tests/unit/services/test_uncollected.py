"""The collector is left as it was found, whatever happens inside."""

from __future__ import annotations

import gc

import pytest

from lapwright.services.uncollected import uncollected


def _fail() -> None:
    with uncollected():
        assert not gc.isenabled()
        raise LookupError("inside")


def test_the_collector_rests_inside_and_is_back_after_a_fault() -> None:
    assert gc.isenabled()
    with pytest.raises(LookupError):
        _fail()
    assert gc.isenabled()


def test_a_collector_that_rested_before_rests_after() -> None:
    gc.disable()
    try:
        with uncollected():
            assert not gc.isenabled()
        assert not gc.isenabled()
    finally:
        gc.enable()
