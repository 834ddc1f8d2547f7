"""Where a figure comes from, and how sure we are of it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum


class Basis(Enum):
    """How a figure is known: text read, public summary, memory, or set by the programme."""

    PRIMARY = "primary"
    SECONDARY = "secondary"
    MEMORY = "memory"
    PROGRAMME = "programme"
    COMMON_PRACTICE = "common-practice"


@dataclass(frozen=True)
class Citation:
    """A place in a published source, or a rule of the programme itself.

    ``source`` is an id of the source list (``asme-bpvc-ix-2023``), ``where``
    the paragraph or table, ``basis`` how the figure is known, ``confirmed_by``
    the person who compared it with their own copy (empty when nobody has).
    """

    source: str
    where: str
    basis: Basis
    title: str = ""
    confirmed_by: str = ""

    @property
    def needs_confirming(self) -> bool:
        """Whether the figure rests on memory alone and nobody has confirmed it."""
        return self.basis is Basis.MEMORY and not self.confirmed_by

    def __str__(self) -> str:
        name = self.title or self.source
        return f"{name}, {self.where}" if self.where else name
