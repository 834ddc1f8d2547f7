"""Make a great many small values without the collector walking through all of them again.

Values of this program hold no cycles, so that counting references frees them; what the
collector is for waits until the work is done.
"""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def uncollected() -> Iterator[None]:
    """Leave cycles alone inside; the collector is afterwards as it was before."""
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was:
            gc.enable()
