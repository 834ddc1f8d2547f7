"""Refusals of the document makers and readers (prefix DOC)."""

from __future__ import annotations

from lapwright.core.errors import LapwrightError


class LabelsMissing(LapwrightError):
    """The text catalogue lacks a label that a template prints."""

    code = "DOC-001"


class GlyphMissing(LapwrightError):
    """A text holds a character that the shipped fonts cannot show."""

    code = "DOC-002"


class TypesettingRefused(LapwrightError):
    """The typesetter refused the page, or would have warned about it."""

    code = "DOC-003"


class AttachmentRefused(LapwrightError):
    """An attachment without a usable name, with a name used twice, or of an unknown kind."""

    code = "DOC-004"


class PictureRefused(LapwrightError):
    """A picture that is no PNG, JPEG or SVG, or has no text alternative."""

    code = "DOC-005"


class CodeTooLong(LapwrightError):
    """More text than a QR code of the printed size may hold."""

    code = "DOC-006"


class TokenRefused(LapwrightError):
    """A token that is not ours, was changed, or was signed by another key."""

    code = "DOC-007"


class ClaimsRefused(LapwrightError):
    """Claims that may not stand in a token: missing, of another form, or too many."""

    code = "DOC-008"


class SigningRefused(LapwrightError):
    """A PDF that cannot be signed as a record."""

    code = "DOC-009"


class ContainerUnreadable(LapwrightError):
    """Bytes that are no readable PDF: garbage, cut off, encrypted or too large."""

    code = "DOC-010"


class TimeRefused(LapwrightError):
    """A time without an offset, where a fixed instant is needed."""

    code = "DOC-011"


class JointMapRefused(LapwrightError):
    """Values that make no map of a joint: no face, or a stretch or angle that cannot be."""

    code = "DOC-031"
