"""Words that no file of the repository may hold.

Every word is written here in two halves, so that this file does not hold it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

FORBIDDEN = {
    "a path of somebody's machine": [
        r"/wor" + r"k/",
        r"/ro" + r"ot/",
        r"/ho" + r"me/\w",
        r"/tm" + r"p/probe",
    ],
    "a registry's host": [
        r"pyp" + r"i\.org",
        r"python" + r"hosted\.org",
        r"npm" + r"js\.(?:org|com)",
        r"deb\.deb" + r"ian\.org",
        r"ind" + r"ex-url",
    ],
    "work left over": [
        r"\bTO" + r"DO\b",
        r"\bFIX" + r"ME\b",
        r"\bXX" + r"X\b",
        "NotImplemented" + "Error",
    ],
    "a check left out": [
        r"pytest\.sk" + r"ip",
        r"mark\.sk" + r"ip",
        r"import" + r"orskip",
        r"\bxf" + r"ail",
        r"pragma: no co" + r"ver",
        r"unittest\.sk" + r"ip",
    ],
}


def forbidden_words(texts: Iterable[tuple[str, str]]) -> Iterator[str]:
    """Yield ``path:line kind: word`` for every forbidden word of the texts."""
    for path, text in texts:
        for kind, patterns in FORBIDDEN.items():
            for match in re.finditer("|".join(patterns), text):
                line = text.count("\n", 0, match.start()) + 1
                yield f"{path}:{line} {kind}: {match[0]}"
