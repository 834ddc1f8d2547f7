"""The salt of a person's name commitment."""

from __future__ import annotations

import hashlib
import hmac


def salt_of(secret: bytes, person: str) -> bytes:
    """Return the salt of a person's name, derived from the installation's secret.

    One id has one salt in every case, so that two cases with one person agree.
    Whoever holds the secret can make it again after a name was removed, and then
    test guesses of that name; nobody else can.
    """
    return hmac.new(secret, f"person/{person}".encode(), hashlib.sha256).digest()
