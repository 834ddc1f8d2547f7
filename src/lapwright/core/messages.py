"""Messages as id and parameters; the catalogue turns them into sentences.

Judgement code never writes sentences. It returns ``Message("face.share",
share="18.2", limit="20.0")``; `lapwright.services.text` looks the id up in the
gettext catalogue and fills the parameters in.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Message:
    """A message id with its parameters, sorted by name; parameters are text."""

    id: str
    params: tuple[tuple[str, str], ...]

    def __init__(self, id: str, **params: str) -> None:
        object.__setattr__(self, "id", id)
        object.__setattr__(self, "params", tuple(sorted(params.items())))

    def as_dict(self) -> dict[str, object]:
        """Return id and parameters for JSON."""
        return {"id": self.id, "params": dict(self.params)}
