"""Work for real processes: each function stands at the top of a module, as `map_over` wants."""

from __future__ import annotations

import os
import signal
import time
from pathlib import Path

from lapwright.services.errors import SidecarRefused


def square(item: int) -> int:
    return item * item


def pid(item: int) -> int:
    time.sleep(0.05)
    return os.getpid()


def touch(path: str) -> str:
    Path(path).touch()
    return path


def slow_when_even(item: int) -> int:
    time.sleep(0.4 if item % 2 == 0 else 0.0)
    return item


def refuse_odd(item: int) -> int:
    if item % 2:
        raise SidecarRefused("odd", got=item, expected="even", do="Double it.", where="here")
    return item


def break_on_three(item: int) -> float:
    return 1 / (item - 3)


def leave(item: int) -> int:
    raise SystemExit(item)


def unsendable(item: int) -> object:
    return lambda: item


class Shy:
    """Travels, and cannot be put together on arrival."""

    def __reduce__(self) -> tuple[object, ...]:
        return int, ("shy",)


def unreadable(item: int) -> Shy:
    return Shy()


def hang_on_two(item: int) -> int:
    if item == 2:
        time.sleep(600)
    return item


def sleep(seconds: float) -> float:
    time.sleep(seconds)
    return seconds


def die_on_two(item: int) -> int:
    if item == 2:
        os.kill(os.getpid(), signal.SIGKILL)
    return item


def die_once(place: str) -> str:
    """Die the first time, then answer: the file remembers."""
    mark = Path(place)
    if mark.exists():
        return "answered"
    mark.touch()
    os.kill(os.getpid(), signal.SIGKILL)
    return "never"


def threads(item: int) -> int:
    import cv2

    return int(cv2.getNumThreads())


def size(item: bytes) -> int:
    return len(item)
