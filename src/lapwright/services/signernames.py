"""The name in a signer's certificate against the name of the person it stands for.

A certificate that its holder made says what its holder typed, so another name proves
nothing by itself: people marry, and firms issue certificates to offices. It is told, kept
in the entry, and left open in every check until somebody has asked.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from lapwright.core.messages import Message
from lapwright.core.names import folded, same_name
from lapwright.core.outcomes import Finding, Outcome, Subject, Why

from .signaturewords import role_of
from .text import word

if TYPE_CHECKING:
    from cryptography.x509 import Certificate

    from lapwright.documents.report import SignatureSeen

KEY, OTHER = "certificate_name", "other"
_LATER = ("certification", "acceptance")


def holder_of(certificate: Certificate) -> str:
    """Return the common name of a certificate's subject, or the whole subject without one."""
    from cryptography.x509.oid import NameOID

    found = certificate.subject.get_attributes_for_oid(NameOID.COMMON_NAME)
    return str(found[0].value) if found else certificate.subject.rfc4514_string()


def name_in_act(certificate: Certificate, name: str) -> dict[str, str]:
    """Return what the entry keeps: that the names differ, never a name.

    Parameters
    ----------
    certificate : Certificate
        The signer's.
    name : str
        The name of the person for whom the signature stands.
    """
    return {} if same_name(holder_of(certificate), name) else {KEY: OTHER}


def names_that_differ(signatures: Sequence[SignatureSeen]) -> Iterator[Finding]:
    """Yield an open finding for each later signature whose certificate bears another name.

    Parameters
    ----------
    signatures : sequence of SignatureSeen
        As read from a record, in the order they were made.
    """
    for place, seen in enumerate(signatures):
        holder = holder_of(seen.certificate)
        start = word("record.sign.for", name=holder, employer="|").partition("|")[0]
        if role_of(seen, place) in _LATER and not folded(seen.name).startswith(folded(start) + " "):
            told = Message(
                "verify.signature.name.other", number=str(place + 1), name=seen.name, holder=holder
            )
            yield Finding(
                "signature.name", Subject("record", ""), Outcome.UNDETERMINED, told, Why.HOLD
            )
