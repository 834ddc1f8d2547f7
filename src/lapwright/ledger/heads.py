"""Signed tree heads: what the ledger was at a moment, under the token key.

The signature (Ed25519, RFC 8032) covers the canonical JSON of size, root and
time. A head that somebody else holds shows later whether the ledger has been
continued or rewritten.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from lapwright.core.acts import canonical_json

from .tree import TreeHead
from .trust import key_id

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import (
        Ed25519PrivateKey,
        Ed25519PublicKey,
    )


@dataclass(frozen=True)
class SignedHead:
    """Size and root of the tree at a moment (UTC), the key's id and the signature, in hex."""

    size: int
    root: str
    at: str
    key: str
    signature: str

    @property
    def head(self) -> TreeHead:
        """Size and root as a tree head."""
        return TreeHead(self.size, bytes.fromhex(self.root))

    def signed_bytes(self) -> bytes:
        """Return the bytes that the signature covers."""
        return canonical_json(
            {"at": self.at, "key": self.key, "root": self.root, "size": str(self.size)}
        )

    def as_dict(self) -> dict[str, str]:
        """Return the JSON document."""
        return {
            "size": str(self.size),
            "root": self.root,
            "at": self.at,
            "key": self.key,
            "signature": self.signature,
        }

    @classmethod
    def from_dict(cls, parts: Mapping[str, Any]) -> SignedHead:
        """Read the JSON document back; `ValueError` or `KeyError` where it is none."""
        return cls(
            int(parts["size"]),
            str(parts["root"]),
            str(parts["at"]),
            str(parts["key"]),
            str(parts["signature"]),
        )

    def holds(self, public_key: Ed25519PublicKey) -> str:
        """Return ``yes`` where the signature is that of ``public_key``, else ``no``."""
        from cryptography.exceptions import InvalidSignature

        try:
            public_key.verify(bytes.fromhex(self.signature), self.signed_bytes())
        except (InvalidSignature, ValueError):
            return "no"
        return "yes" if self.key == key_id(public_key) else "no"


def sign_head(head: TreeHead, key: Ed25519PrivateKey, *, at: datetime) -> SignedHead:
    """Sign a tree head.

    Parameters
    ----------
    head : TreeHead
        Size and root.
    key : Ed25519PrivateKey
        The token key of the programme.
    at : datetime
        The moment, with its offset.
    """
    bare = SignedHead(
        head.size,
        head.root_hex,
        at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ"),
        key_id(key.public_key()),
        "",
    )
    signature = key.sign(bare.signed_bytes()).hex()
    return SignedHead(bare.size, bare.root, bare.at, bare.key, signature)
