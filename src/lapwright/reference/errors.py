"""Refusals of the reference tables and of the strict YAML reader (REF-0xx)."""

from __future__ import annotations

from lapwright.core.errors import LapwrightError, SizeRefused


class YamlRefused(LapwrightError):
    """Text that is not YAML."""

    code = "REF-001"


class YamlTooLarge(YamlRefused):
    """A YAML text above the size limit."""

    code = "REF-002"


class YamlTooDeep(YamlRefused):
    """A YAML text nested deeper than the limit."""

    code = "REF-003"


class KeyTwice(YamlRefused):
    """A mapping that has the same key twice."""

    code = "REF-004"


class YamlFeatureRefused(YamlRefused):
    """An anchor, alias, tag, merge key or directive."""

    code = "REF-005"


class SeveralDocuments(YamlRefused):
    """A YAML text with more than one document."""

    code = "REF-006"


class EmptyDocument(YamlRefused):
    """A YAML text without content."""

    code = "REF-007"


class KeyNotText(YamlRefused):
    """A mapping key that is empty, a list or a mapping."""

    code = "REF-008"


class FileUnreadable(LapwrightError):
    """A file that is missing, not a plain file, or not UTF-8 text."""

    code = "REF-009"


class UnknownStandard(LapwrightError):
    """A designation that no table knows, or that is of another kind."""

    code = "REF-010"


class StandardWithdrawn(LapwrightError):
    """A designation that was withdrawn; a person must confirm its successor."""

    code = "REF-011"


class SizeWithoutSystem(SizeRefused):
    """A size without the standard that says what it means."""

    code = "REF-012"


class DnOnCopperTube(SizeRefused):
    """A DN size: copper tube is not sized by DN."""

    code = "REF-013"


class UnknownSize(SizeRefused):
    """A size that is not written as designated, or not in the table."""

    code = "REF-014"


class UnknownType(LapwrightError):
    """A tube type that the standard does not have, or none where one is needed."""

    code = "REF-015"


class TemperRefused(LapwrightError):
    """A temper that the standard does not have, or none where one is needed."""

    code = "REF-016"


class SeveralRows(LapwrightError):
    """A question that more than one row answers, differently."""

    code = "REF-017"


class UnknownEnd(LapwrightError):
    """A fitting end or quantity that the table does not have."""

    code = "REF-018"


class UnknownFiller(LapwrightError):
    """A filler designation that the table does not have."""

    code = "REF-019"


class UnknownMetal(LapwrightError):
    """A base metal or form that the table does not have."""

    code = "REF-020"


class UnknownProperty(LapwrightError):
    """A property, condition or practice that the table does not have."""

    code = "REF-021"


class TableRefused(LapwrightError):
    """A table file that is damaged: unknown source, unknown column, not a number."""

    code = "REF-022"
