"""YAML read strictly: every scalar stays the text that was written.

``14:59`` stays ``"14:59"``, ``007`` stays ``"007"``, ``NO`` stays ``"NO"``,
``null`` and ``~`` stay those words; types come from the schema of the reader.
Refused, each with file, line and column: a key written twice, anchors and
aliases, tags, merge keys, directives, several documents, an empty document,
nesting deeper than `MAX_DEPTH`, text larger than `MAX_BYTES`, tabs.
The text is read as a stream of events; no object is ever constructed from it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NoReturn

import yaml

from .errors import (
    EmptyDocument,
    FileUnreadable,
    KeyNotText,
    KeyTwice,
    SeveralDocuments,
    YamlFeatureRefused,
    YamlRefused,
    YamlTooDeep,
    YamlTooLarge,
)

MAX_BYTES = 1024 * 1024
MAX_DEPTH = 32
_GLUED = re.compile(r"[|>][-+0-9]*#")
_KEY_WORDS = {
    yaml.ScalarEvent: "nothing",
    yaml.SequenceStartEvent: "a list",
    yaml.MappingStartEvent: "a mapping",
}
# The C parser gives the same events about ten times faster; wheels carry it.
_LOADER: Any = getattr(yaml, "CBaseLoader", yaml.BaseLoader)


def load_yaml(text: str, *, where: str) -> object:
    """Read one YAML document; mappings become dict, sequences list, scalars str.

    Parameters
    ----------
    text : str
        The document.
    where : str
        Name of the file, put before line and column in refusals.

    Returns
    -------
    object
        ``dict``, ``list`` or ``str``; an empty scalar is ``""``.

    Raises
    ------
    YamlRefused
        Or one of its subclasses, REF-001 to REF-008.

    Examples
    --------
    >>> load_yaml("cleaned: 14:59", where="case.yaml")
    {'cleaned': '14:59'}
    """
    size = len(text.encode("utf-8", "surrogatepass"))
    if size > MAX_BYTES:
        raise YamlTooLarge(
            "too large for a YAML file",
            got=f"{size} bytes",
            where=where,
            expected=f"at most {MAX_BYTES} bytes",
            do="Split the file, or keep pictures beside it.",
        )
    _refuse_tabs(text, where)
    return _Reader(text, where).document()


def read_yaml(path: Path) -> object:
    """Read one YAML file as `load_yaml` does.

    Raises
    ------
    FileUnreadable
        If the file is missing, not a plain file, or not UTF-8.
    YamlRefused
        As `load_yaml`.
    """
    where = str(path)
    try:
        if not path.is_file():
            raise FileUnreadable(
                "no such file",
                got=path.name,
                where=where,
                expected="a YAML file",
                do="Check the name and the folder.",
            )
        with path.open("rb") as file:
            raw = file.read(MAX_BYTES + 1)
    except (OSError, ValueError) as error:
        raise FileUnreadable(
            "cannot be read",
            got=getattr(error, "strerror", None) or "a name that no file can have",
            where=where,
            expected="a readable file",
            do="Check its name and permissions.",
        ) from error
    if len(raw) > MAX_BYTES:
        raise YamlTooLarge(
            "too large for a YAML file",
            got=f"over {MAX_BYTES} bytes",
            where=where,
            expected=f"at most {MAX_BYTES} bytes",
            do="Split the file, or keep pictures beside it.",
        )
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise FileUnreadable(
            "not UTF-8 text",
            got=f"byte {raw[error.start]:#04x}",
            where=f"{where}: byte {error.start}",
            expected="UTF-8",
            do="Save the file as UTF-8.",
        ) from error
    return load_yaml(text, where=where)


def _refuse_tabs(text: str, where: str) -> None:
    """Refuse every tab: the two parsers differ on where they allow one."""
    at = text.find("\t")
    if at >= 0:
        line, column = text.count("\n", 0, at) + 1, at - text.rfind("\n", 0, at)
        raise YamlRefused(
            "not readable as YAML",
            got="a tab",
            where=f"{where}: line {line}, column {column}",
            expected="spaces",
            do='Use spaces; inside text write "\\t".',
        )


class _Reader:
    """Builds dict, list and str from the events of one document."""

    def __init__(self, text: str, where: str) -> None:
        self.text = text
        self.where = where
        self.events: Iterator[Any] = self._guarded(text)

    def _guarded(self, text: str) -> Iterator[Any]:
        try:
            yield from yaml.parse(text, Loader=_LOADER)
        except yaml.YAMLError as error:
            mark = getattr(error, "problem_mark", None)
            problem = getattr(error, "problem", None) or getattr(error, "reason", None)
            if "nesting depth" in str(problem):  # the C parser looks ahead before it answers
                self._refuse_depth("more levels than the parser takes", mark)
            raise YamlRefused(
                "not readable as YAML",
                got=str(problem or error),
                where=self._place(mark),
                expected="plain YAML, indented with spaces",
                do="Correct this line or the one above it.",
            ) from error
        except UnicodeEncodeError as error:
            raise YamlRefused(
                "not readable as YAML",
                got="a lone surrogate",
                where=self.where,
                expected="UTF-8 text",
                do="Save the file as UTF-8.",
            ) from error

    def document(self) -> object:
        next(self.events)  # start of the stream
        start = next(self.events)
        if isinstance(start, yaml.StreamEndEvent):
            self._refuse_empty(start)
        if start.version or start.tags:
            self._refuse_feature("a directive", start)
        first = next(self.events)
        if isinstance(first, yaml.ScalarEvent) and first.value == "" and first.implicit[0]:
            self._refuse_empty(first)
        value = self._value(first, 1)
        next(self.events)  # end of the document
        after = next(self.events)
        if not isinstance(after, yaml.StreamEndEvent):
            raise SeveralDocuments(
                "more than one document",
                got="'---'",
                where=self._place(after.start_mark),
                expected="one document a file",
                do="Put the second document into a file of its own.",
            )
        return value

    def _value(self, event: Any, depth: int) -> object:
        self._check_plain(event)
        if isinstance(event, yaml.ScalarEvent):
            return self._scalar(event)
        if depth > MAX_DEPTH:
            self._refuse_depth(f"level {depth}", event.start_mark)
        if isinstance(event, yaml.SequenceStartEvent):
            return self._sequence(depth)
        return self._mapping(depth)

    def _scalar(self, event: Any) -> str:
        if event.style in ("|", ">") and _GLUED.match(self.text, event.start_mark.index):
            raise YamlRefused(
                "not readable as YAML",
                got="a comment glued to a block mark",
                where=self._place(event.start_mark),
                expected="a space before #",
                do="Put the comment on a line of its own.",
            )
        return str(event.value)

    def _sequence(self, depth: int) -> list[object]:
        items: list[object] = []
        while not isinstance(event := next(self.events), yaml.SequenceEndEvent):
            items.append(self._value(event, depth + 1))
        return items

    def _mapping(self, depth: int) -> dict[str, object]:
        pairs: dict[str, object] = {}
        while not isinstance(event := next(self.events), yaml.MappingEndEvent):
            key = self._key(event)
            if key in pairs:
                raise KeyTwice(
                    "key written twice",
                    got=key,
                    expected="each key once",
                    where=self._place(event.start_mark),
                    do="Remove one of the two.",
                )
            pairs[key] = self._value(next(self.events), depth + 1)
        return pairs

    def _key(self, event: Any) -> str:
        self._check_plain(event)
        if not isinstance(event, yaml.ScalarEvent) or event.value == "":
            raise KeyNotText(
                "key is not a word",
                got=_KEY_WORDS.get(type(event), "nothing"),
                expected="text before the colon",
                where=self._place(event.start_mark),
                do="Write the key as a word.",
            )
        if event.value == "<<":
            self._refuse_feature("a merge key", event)
        return str(event.value)

    def _check_plain(self, event: Any) -> None:
        if isinstance(event, yaml.AliasEvent):
            self._refuse_feature("an alias", event)
        if event.anchor is not None:
            self._refuse_feature("an anchor", event)
        if event.tag is not None:
            self._refuse_feature("a tag", event)

    def _refuse_feature(self, what: str, event: Any) -> NoReturn:
        raise YamlFeatureRefused(
            "YAML feature not accepted here",
            got=what,
            where=self._place(event.start_mark),
            expected="plain keys, lists and text",
            do="Write the value out; put text that starts with & * ! or < in quotes.",
        )

    def _refuse_depth(self, got: str, mark: Any) -> NoReturn:
        raise YamlTooDeep(
            "nested too deep",
            got=got,
            expected=f"at most {MAX_DEPTH} levels",
            where=self._place(mark),
            do="Flatten the file.",
        )

    def _refuse_empty(self, event: Any) -> NoReturn:
        raise EmptyDocument(
            "empty document",
            got="nothing",
            expected="keys and values",
            where=self._place(event.start_mark),
            do="Fill the file in.",
        )

    def _place(self, mark: Any) -> str:
        if mark is None:
            return self.where
        return f"{self.where}: line {mark.line + 1}, column {mark.column + 1}"
