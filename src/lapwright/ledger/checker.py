"""Check an export of a Lapwright ledger: ``python3 check.py [FOLDER or ZIP] [--trust trust.pem]``.

Every export carries this file as ``check.py``. It needs Python 3.9 or later, no
package and no network, and changes nothing: hence one long file. It checks, in this order:

1. the list of files (manifest.json) is signed, no file is missing, none is extra;
2. every file has the size and the SHA-256 of the list;
3. every entry is in canonical form, in order, chained to the one before it,
   numbered without a gap in its stream, of no earlier moment, and its files are there;
4. every signed tree head fits the entries (tree of RFC 9162, Ed25519 of RFC 8032);
5. every name opens its commitment, where names are part of the export.

Exit status 0: no check failed. 1: one failed, or nothing could be checked.
It is one file, though long, so that one copy of it is a whole checker.
"""

from __future__ import annotations

import argparse
import base64
import contextlib
import hashlib
import json
import os
import re
import sys
import zlib
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from pathlib import Path
from typing import IO, Any
from zipfile import BadZipFile, ZipFile

FORMAT = "lapwright-ledger/1"
ACTS, HEADS, SIDE, TRUST = "acts.jsonl", "heads.jsonl", "side.jsonl", "trust.pem"
MANIFEST, CHECKER, NOTE = "manifest.json", "check.py", "READ-ME-FIRST.md"
NEEDED = (ACTS, HEADS, TRUST, CHECKER, NOTE)
_MANIFEST_TEXTS = ("acts", "at", "format", "made_by", "names", "public_key", "signature")
_HEAD_TEXTS = ("at", "key", "root", "signature", "size")
_FILE_TEXTS, _SIDE_TEXTS = ("name", "sha256", "size"), ("commitment", "salt", "value")
_ACT_TEXTS = ("type", "version", "happened_on", "recorded_by", "recorded_at")
_HASH, _COUNT = re.compile(r"[0-9a-f]{64}"), re.compile(r"0|[1-9][0-9]{0,14}")
_INNER = re.compile(r"files/[0-9a-f]{2}/[0-9a-f]{64}|keys/[a-z0-9][a-z0-9.-]{0,63}")
_PLAIN = re.compile(rb'(?:[][{},:]|"[^"\\]*(?:\\.[^"\\]*)*")*')  # JSON of texts alone
_MOST_LINE, _MOST_LIST = 1 << 26, 1 << 28  # bytes: a hostile file must not fill the memory
_DECODE = json.JSONDecoder().decode
_ENCODE = json.JSONEncoder(sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode
# What reading a damaged folder or zip can raise; RuntimeError: a locked zip, brackets too deep.
_RAISED = (OSError, EOFError, KeyError, RuntimeError, ValueError, zlib.error, BadZipFile)
Tell = Callable[[str], object]


@dataclass(frozen=True)
class Fault:
    """What is wrong: the file, the number of the first bad entry (from 0, if any), a sentence."""

    file: str
    entry: int | None
    says: str


class Wrong(Exception):
    """A part that does not hold; carries its fault."""

    def __init__(self, file: str, says: str, entry: int | None = None) -> None:
        super().__init__(says)
        self.fault = Fault(file, entry, says)


@dataclass
class Step:
    """One question: its name, ``met``, ``not met`` or ``open``, a sentence, the faults."""

    name: str
    outcome: str
    says: str
    faults: list[Fault] = field(default_factory=list)


@dataclass
class Checked:
    """The answers, and what the export says of itself (empty where it could not be read)."""

    steps: list[Step] = field(default_factory=list)
    acts: int = 0
    root: str = ""
    key: str = ""

    @property
    def faults(self) -> list[Fault]:
        """Every fault, in the order of the questions."""
        return [fault for step in self.steps for fault in step.faults]

    @property
    def outcome(self) -> str:
        """``not met`` if one check failed, ``open`` if one is open, else ``met``."""
        kinds = {step.outcome for step in self.steps}
        return "not met" if "not met" in kinds else "open" if "open" in kinds else "met"

    def lines(self) -> Iterator[str]:
        """Yield the answers as lines of plain ASCII."""
        for step in self.steps:
            yield f"{step.outcome.capitalize()}: {step.says}"
            yield from (f"    {fault.file}: {fault.says}" for fault in step.faults[:20])
            if len(step.faults) > 20:
                yield f"    and {len(step.faults) - 20} more"
        yield {
            "met": "Every check holds.",
            "open": "No check failed; look at what is open before you rely on this export.",
            "not met": "At least one check failed: do not rely on this export.",
        }[self.outcome]


def check(source: Path, *, keys: Sequence[bytes] = (), tell: Tell | None = None) -> Checked:
    """Check an export.

    Parameters
    ----------
    source : Path
        The folder, or a ``.zip`` of it.
    keys : sequence of bytes, optional
        Ed25519 public keys (32 bytes each) got from the programme by another way; one of them
        must have signed the list of files. Without any, the key inside the export is taken and
        the answer stays open.
    tell : callable, optional
        Told how far the check has come.
    """
    done = Checked()
    try:
        with contextlib.closing(Source(source)) as opened:
            _Check(opened, done, list(keys), tell or (lambda _: None)).run()
    except _RAISED as error:
        wrong = Fault(str(source), None, f"cannot be read as a folder or a zip: {_short(error)}")
        done.steps.append(Step("source", "not met", "The export can be read.", [wrong]))
    return done


class Source:
    """The files of a folder or of a zip; one folder around all that a zip holds is left aside."""

    def __init__(self, path: Path) -> None:
        self.root, self.top = path, ""
        self.unread: list[OSError] = []
        self.zip = None if path.is_dir() else ZipFile(path)
        self.names = list(self._walked() if self.zip is None else self._zipped(self.zip))

    def close(self) -> None:
        """Close the zip."""
        if self.zip:
            self.zip.close()

    def open(self, name: str) -> IO[bytes]:
        """Open a file to read."""
        if not self.zip and (self.root / name).exists() and not (self.root / name).is_file():
            raise Wrong(name, "is no file with bytes of its own, so it is not read")
        try:
            return self.zip.open(self.top + name) if self.zip else (self.root / name).open("rb")
        except _RAISED as error:
            raise Wrong(name, f"cannot be read: {_short(error)}") from None

    def lines(self, name: str) -> Iterator[bytes]:
        """Yield the lines of a file."""
        with self.open(name) as stream:
            yield from iter(lambda: stream.readline(_MOST_LINE), b"")

    def rows(self, name: str, texts: Sequence[str]) -> Iterator[tuple[int, dict[str, str]]]:
        """Yield the number of each line, from 1, and its row of the texts named."""
        for number, line in enumerate(self.lines(name), start=1):
            row = _canonical(line)
            if not isinstance(row, dict) or set(row) != set(texts) or not _texts(row, texts):
                raise Wrong(name, f"line {number} is not a row of this file in canonical form")
            yield number, row

    def digest(self, name: str) -> tuple[int, str]:
        """Return size and SHA-256 of a file."""
        hashed, size = hashlib.sha256(), 0
        with self.open(name) as stream:
            for chunk in iter(lambda: stream.read(1 << 20), b""):
                hashed.update(chunk)
                size += len(chunk)
        return size, hashed.hexdigest()

    def _walked(self) -> Iterator[str]:
        for place, folders, files in os.walk(self.root, onerror=self.unread.append):
            links = [name for name in folders if os.path.islink(os.path.join(place, name))]
            for name in files + links:
                yield Path(place, name).relative_to(self.root).as_posix()

    def _zipped(self, packed: ZipFile) -> list[str]:
        items = packed.infolist()  # a folder holds nothing: 2 bytes when that is deflated
        found = [i.filename for i in items if not i.is_dir() or i.file_size or i.compress_size > 2]
        tops = {name.partition("/")[0] for name in found}
        self.top = f"{tops.pop()}/" if len(tops) == 1 and MANIFEST not in found else ""
        return [name[len(self.top) :] for name in found]


class _Check:
    """One run over one export; the answers go into ``done``."""

    def __init__(self, source: Source, done: Checked, given: list[bytes], tell: Tell) -> None:
        self.source, self.done, self.given, self.tell = source, done, given, tell
        self.keys = {key_id(key): key for key in given}
        self.manifest: dict[str, Any] = {}
        self.listed: dict[str, tuple[int, str]] = {}
        self.named: dict[str, int] = {}  # SHA-256 of a file -> first entry that names it
        self.heads: list[dict[str, str]] = []
        self.roots: dict[int, str] = {}  # size of a head -> root of the entries as they are
        # the latest moment; entries of an earlier one; entries listed, and those that hold first
        self.latest, self.back, self.count, self.whole = "", list[int](), 0, 0

    def run(self) -> None:
        if not self._ask("manifest", "The list of files can be read.", self._read_manifest):
            return
        self._ask("signature", "The list of files is signed by the programme.", self._signature)
        self._ask("complete", "No file is missing, none is extra.", self._complete)
        self._ask("files", "Every file holds what the list says.", self._files)
        readable = self._ask("heads-read", "The tree heads can be read.", self._read_heads)
        if self._ask("entries", "The entries are whole, in order and chained.", self._entries):
            self._ask("evidence", "The files that entries name are there.", self._evidence)
            self._ask("clock", "No entry is of an earlier moment than one before it.", self._clock)
        if readable:
            self._ask("heads", "The signed tree heads fit the entries.", self._fit_heads)
        if self.manifest["names"] == "yes":
            self._ask("names", "Every name opens its commitment.", self._names)

    def _ask(self, name: str, question: str, answer: Callable[[Step], str]) -> bool:
        """Put a question; its sentence is replaced by the answer unless it fails."""
        step = Step(name, "met", question)
        try:
            told = answer(step)
        except Wrong as wrong:
            step.faults.append(wrong.fault)
        except _RAISED as error:
            step.faults.append(Fault(name, None, f"cannot be read: {_short(error)}"))
        step.outcome, step.says = ("not met", step.says) if step.faults else (step.outcome, told)
        self.done.steps.append(step)
        return not step.faults

    def _read_manifest(self, _: Step) -> str:
        with self.source.open(MANIFEST) as stream:
            found = _canonical(stream.read(_MOST_LIST))
        if not isinstance(found, dict):
            raise Wrong(MANIFEST, "is not one line of canonical JSON")
        if found.get("format") != FORMAT:
            told = _short(found.get("format"))
            raise Wrong(MANIFEST, f"names the format {told}; this checker reads {FORMAT}")
        formed = set(found) == {*_MANIFEST_TEXTS, "files"} and _texts(found, _MANIFEST_TEXTS)
        if not formed or not _COUNT.fullmatch(found["acts"]) or found["names"] not in ("yes", "no"):
            raise Wrong(MANIFEST, "has other keys or values than the format")
        self.listed = _listed(found["files"])
        self.manifest, self.count = found, int(found["acts"])
        return f"Export of {_short(found['at'])} by {_short(found['made_by'])}."

    def _signature(self, step: Step) -> str:
        public = _hex(MANIFEST, self.manifest["public_key"], 64)
        with self.source.open(TRUST) as stream:
            if public_key(stream.read(1 << 16)) != public:
                raise Wrong(TRUST, "holds another key than the list of files")
        if self.given and public not in self.given:
            theirs = ", ".join(self.keys)
            raise Wrong(MANIFEST, f"signed by key {key_id(public)}, not by the one given: {theirs}")
        if not _signed(self.manifest, public, MANIFEST):
            raise Wrong(MANIFEST, "was changed after signing: the signature does not fit")
        self.keys[key_id(public)], self.done.key = public, key_id(public)
        told = f"The list of files is signed by key {self.done.key}"
        step.outcome = step.outcome if self.given else "open"
        advice = "get trust.pem from the programme by another way and give it with --trust."
        return f"{told}." if self.given else f"{told}, taken from the export itself: {advice}"

    def _complete(self, step: Step) -> str:
        there, wanted = Counter(self.source.names), {*self.listed, MANIFEST}
        step.faults += [Fault(_short(e.filename), None, _short(e)) for e in self.source.unread]
        step.faults += [Fault(n, None, "is missing") for n in sorted(wanted - set(there))]
        extra, twice = sorted(set(there) - wanted), sorted(n for n in there if there[n] > 1)
        step.faults += [
            Fault(_short(n), None, "is extra: the list does not name it") for n in extra
        ]
        step.faults += [Fault(_short(n), None, "is there twice") for n in twice]
        return f"Files: {len(wanted)}, none missing, none extra."

    def _files(self, step: Step) -> str:
        for number, (name, (size, digest)) in enumerate(self.listed.items(), start=1):
            try:
                told = "has {} bytes with SHA-256 {}".format(*self.source.digest(name))
            except (Wrong, *_RAISED) as error:
                told = _short(error)
            if told != f"has {size} bytes with SHA-256 {digest}":
                step.faults.append(Fault(name, None, f"is not what was exported: {told}"))
            if number % 1000 == 0:
                self.tell(f"{number} of {len(self.listed)} files")
        return f"Files of the list: {len(self.listed)}, each with its size and SHA-256."

    def _entries(self, _: Step) -> str:
        tree, prev = Tree(), bytes(32)
        versions: dict[str, int] = {}
        for seq, line in enumerate(self.source.lines(ACTS)):
            if seq in self.roots:
                self.roots[seq] = tree.root().hex()
            if seq >= self.count:
                raise Wrong(ACTS, f"has more lines than the {self.count} entries listed", seq)
            raw, prev = self._entry(line, seq, prev, versions)
            tree.add(raw)
            self.whole = seq + 1
            if self.whole % 100_000 == 0:
                self.tell(f"{self.whole} of {self.count} entries")
        self.done.acts, self.done.root = self.whole, tree.root().hex()
        self.roots[self.whole] = self.done.root
        if self.whole < self.count:
            told = f"ends early: entry {self.whole} is missing, {self.count} are listed"
            raise Wrong(ACTS, told, self.whole)
        return f"Entries: {self.count}, whole, in order, chained; tree root {self.done.root}."

    def _entry(
        self, line: bytes, seq: int, prev: bytes, versions: dict[str, int]
    ) -> tuple[bytes, bytes]:
        """Return the bytes of the act of a line, and its chain digest."""
        cut = line.rfind(b',"prev":"')
        raw = line[7:cut]
        try:
            act = _DECODE(raw.decode())
            if _ENCODE(act).encode() != raw or not _PLAIN.fullmatch(raw) or not _is_act(act):
                raise _bad(seq, line, "is not an act in canonical form")
        except (ValueError, RecursionError):
            raise _bad(seq, line, "cannot be read") from None
        version = versions.get(act.get("stream", ""), 0)
        digest = hashlib.sha256(prev + raw).digest()
        tail = f',"prev":"{prev.hex()}","seq":"{seq}","sha256":"{digest.hex()}"'
        tail += f',"version":"{version}"}}'
        if line[:7] != b'{"act":' or line[cut:] != tail.encode() + b"\n":
            raise _bad(seq, line, _why(line, cut, tail))
        versions[act.get("stream", "")] = version + 1
        self.back += [seq] if act["recorded_at"] < self.latest else []
        self.latest = max(self.latest, act["recorded_at"])
        for name in act.get("files", ()):
            self.named.setdefault(name, seq)
        return raw, digest

    def _evidence(self, step: Step) -> str:
        kept = {name[9:] for name in self.listed if name.startswith("files/")}
        for name in sorted(set(self.named) - kept, key=lambda n: (self.named[n], n)):
            told = f"is missing: entry {self.named[name]} names it"
            step.faults.append(Fault(f"files/{name[:2]}/{name}", self.named[name], told))
        extra = (f"files/{name[:2]}/{name}" for name in sorted(kept - set(self.named)))
        step.faults += [Fault(name, None, "is extra: no entry names it") for name in extra]
        return f"Files that entries name: {len(kept)}, all there."

    def _clock(self, step: Step) -> str:
        step.outcome = "open" if self.back else "met"
        told = "is of an earlier moment than one before it: answers about a day may have changed."
        return f"Entry {self.back[0]} {told}" if self.back else step.says

    def _read_heads(self, _: Step) -> str:
        for number, head in self.source.rows(HEADS, _HEAD_TEXTS):
            if not _COUNT.fullmatch(head["size"]) or not _HASH.fullmatch(head["root"]):
                raise Wrong(HEADS, f"line {number} has no size or no root")
            self.heads.append(head)
        sizes = [int(head["size"]) for head in self.heads]
        if not sizes or sizes != sorted(sizes) or sizes[-1] != self.count:
            raise Wrong(HEADS, f"the heads do not grow up to the {self.count} entries listed")
        self.roots = dict.fromkeys(sizes, "")
        return f"Tree heads: {len(sizes)}, all can be read."

    def _fit_heads(self, step: Step) -> str:
        good = others = 0
        for number, head in enumerate(self.heads, start=1):
            size = int(head["size"])
            if size > self.whole:
                raise Wrong(HEADS, f"line {number}: its {size} entries are not there", self.whole)
            if head["root"] != self.roots[size]:
                told = f"line {number}: not the root of the first {size} entries: one from"
                raise Wrong(HEADS, f"{told} entry {good} on was changed, or this head", good)
            public, good = self.keys.get(head["key"]), size
            if public is None:
                others += 1
            elif not _signed(head, public, HEADS):
                raise Wrong(HEADS, f"line {number}: was changed after signing")
        if not others:
            return f"Signed tree heads: {len(self.heads)}, all fit the entries."
        step.outcome = "open"
        return f"The tree heads fit; {others} are signed by other keys: give their trust files too."

    def _names(self, _: Step) -> str:
        number, before = 0, ""
        for number, row in self.source.rows(SIDE, _SIDE_TEXTS):
            salt = _hex(SIDE, row["salt"])
            if hashlib.sha256(salt + row["value"].encode()).hexdigest() != row["commitment"]:
                raise Wrong(SIDE, f"line {number}: the value does not open its commitment")
            if row["commitment"] <= before:
                raise Wrong(SIDE, f"line {number}: out of order")
            before = row["commitment"]
        return f"Names and other personal values: {number}, all open their commitments."


def _canonical(line: bytes) -> object:
    """Return the value of a line of canonical JSON, or None for any other bytes."""
    with contextlib.suppress(ValueError, RecursionError):
        value: object = _DECODE(line.decode())
        return value if _ENCODE(value).encode() + b"\n" == line else None
    return None


def _texts(row: dict[str, Any], names: Sequence[str]) -> bool:
    return all(isinstance(row[name], str) for name in names)


def _is_act(act: Any) -> bool:
    """Say whether a value has the parts of an act: plain texts, days that exist, files by name."""
    if not isinstance(act, dict) or not isinstance(act.get("body"), dict):
        return False
    texts: list[Any] = [*(act.get(name) for name in _ACT_TEXTS), act.get("stream", "-")]
    files, at = act.get("files", ["0" * 64]), act.get("happened_at", "2000-01-01T00:00:00")
    if not all(isinstance(t, str) for t in texts) or not isinstance(files, list) or not files:
        return False
    named = all(isinstance(f, str) and _HASH.fullmatch(f) for f in files) and texts[5] != ""
    numbered = _COUNT.fullmatch(texts[1]) is not None and texts[1] != "0"
    return named and numbered and _timed(texts[2], texts[4], at)


def _timed(day: str, recorded: str, happened: Any) -> bool:
    """Say whether a day, a second of UTC and a moment exist, each in its one form."""
    try:
        utc, at = (datetime.fromisoformat(text).isoformat() for text in (recorded[:-1], happened))
        return (date.fromisoformat(day).isoformat(), f"{utc:.19}Z", at) == (day, recorded, happened)
    except (TypeError, ValueError):
        return False


def _listed(rows: object) -> dict[str, tuple[int, str]]:
    """Return name -> size and SHA-256 of the list of files."""
    found: dict[str, tuple[int, str]] = {}
    for row in rows if isinstance(rows, list) else [{}]:
        formed = isinstance(row, dict) and set(row) == set(_FILE_TEXTS) and _texts(row, _FILE_TEXTS)
        if not formed or not _COUNT.fullmatch(row["size"]):
            raise Wrong(MANIFEST, "a row of the list is not name, sha256 and size")
        name, digest = row["name"], row["sha256"]
        known = name in (*NEEDED, SIDE) or _INNER.fullmatch(name)
        if not known or not _HASH.fullmatch(digest) or name in found:
            raise Wrong(MANIFEST, f"lists a file twice, or one no export has: {_short(name)}")
        if name.startswith("files/") and name != f"files/{digest[:2]}/{digest}":
            raise Wrong(MANIFEST, f"lists {name} under another SHA-256")
        found[name] = (int(row["size"]), digest)
    if not found.keys() >= set(NEEDED):
        raise Wrong(MANIFEST, f"does not list {', '.join(sorted(set(NEEDED) - set(found)))}")
    return found


def _signed(row: dict[str, Any], public: bytes, file: str) -> bool:
    """Say whether the signature in a row covers all else in it."""
    bare = {key: row[key] for key in row if key != "signature"}
    return verifies(public, _ENCODE(bare).encode(), _hex(file, row["signature"], 128))


def _hex(file: str, text: str, digits: int = 0) -> bytes:
    if not re.fullmatch("(?:[0-9a-f]{2})+", text) or digits not in (0, len(text)):
        raise Wrong(file, "a key, salt or signature is not in lower-case hexadecimal digits")
    return bytes.fromhex(text)


def _bad(seq: int, line: bytes, says: str) -> Wrong:
    kinds = re.findall(rb'"type":\s*"([A-Za-z]{1,40})"', line) or [b"of unknown type"]
    return Wrong(ACTS, f"entry {seq} ({kinds[-1].decode()}) {says}", seq)


def _why(line: bytes, cut: int, tail: str) -> str:
    """Say which part of a line is not what the entries before it demand."""
    form = rb',"prev":"([^"]*)","seq":"([^"]*)","sha256":"([^"]*)","version":"([^"]*)"}\n'
    parts = re.fullmatch(form, line[cut:])
    wanted = re.findall(r'":"([^"]*)"', tail)
    if parts is None or line[:7] != b'{"act":':
        return "is not in the form of a line" if line.endswith(b"\n") else "is cut off"
    if parts[1] != wanted[0].encode():
        return "does not follow the entry before it"
    if parts[3] != wanted[2].encode():
        return "is not what was chained: it was changed"
    return "is numbered out of order"


def _short(value: object) -> str:
    text = ascii(str(value))[1:-1]
    return text if len(text) <= 80 else f"{text[:77]}..."


def public_key(pem: bytes) -> bytes:
    """Return the Ed25519 key of a trust file (RFC 8410 puts 12 fixed bytes before its 32)."""
    form = rb"-----BEGIN PUBLIC KEY-----([A-Za-z0-9+/=\s]*)-----END PUBLIC KEY-----"
    found = re.findall(form, pem)
    try:
        der = base64.b64decode(b"".join(found[0].split()), validate=True) if found else b""
    except ValueError:
        der = b""
    if len(found) != 1 or len(der) != 44 or der[:12].hex() != "302a300506032b6570032100":
        raise Wrong(TRUST, "does not hold one Ed25519 public key")
    return der[12:]


def key_id(public: bytes) -> str:
    """Return the name of a key: the first 16 hexadecimal digits of its SHA-256."""
    return hashlib.sha256(public).hexdigest()[:16]


class Tree:
    """The Merkle tree of RFC 9162, section 2.1, grown leaf by leaf; keeps one hash a level."""

    def __init__(self) -> None:
        self.size = 0
        self._peaks: list[bytes] = []

    def add(self, leaf: bytes) -> None:
        """Add a leaf."""
        node, size = hashlib.sha256(b"\0" + leaf).digest(), self.size
        while size & 1:
            node = hashlib.sha256(b"\1" + self._peaks.pop() + node).digest()
            size >>= 1
        self._peaks.append(node)
        self.size += 1

    def root(self) -> bytes:
        """Return the root of what was added so far."""
        node = self._peaks[-1] if self._peaks else hashlib.sha256().digest()
        for peak in reversed(self._peaks[:-1]):
            node = hashlib.sha256(b"\1" + peak + node).digest()
        return node


# Ed25519 as in RFC 8032, section 5.1: the field, the order of the base point, d, a root of -1.
_P, _L = 2**255 - 19, 2**252 + 27742317777372353535851937790883648493
_D, _I = -121665 * pow(121666, _P - 2, _P) % _P, pow(2, (_P - 1) // 4, _P)
Point = Sequence[int]  # extended coordinates X, Y, Z, T: x = X/Z, y = Y/Z, xy = T/Z


def verifies(public: bytes, message: bytes, signature: bytes) -> bool:
    """Say whether a signature holds: [S]B = R + [k]A, each part in its one canonical form."""
    point, scalar = _point(public), int.from_bytes(signature[32:], "little")
    if point is None or len(signature) != 64 or scalar >= _L or _point(signature[:32]) is None:
        return False
    hashed = hashlib.sha512(signature[:32] + public + message).digest()
    minus = (_P - point[0], point[1], point[2], _P - point[3])
    found = _multiples(scalar, _BASE, int.from_bytes(hashed, "little") % _L, minus)
    x, y = (part * pow(found[2], _P - 2, _P) % _P for part in found[:2])
    return (y | (x & 1) << 255).to_bytes(32, "little") == signature[:32]


def _point(data: bytes) -> Point | None:
    """Return the point of 32 bytes, or None unless they are the one way to write it."""
    number = int.from_bytes(data, "little")
    sign, y = number >> 255, number & ((1 << 255) - 1)
    if len(data) != 32 or y >= _P:
        return None
    square = (y * y - 1) * pow(_D * y * y + 1, _P - 2, _P) % _P
    x = pow(square, (_P + 3) // 8, _P)
    if (x * x - square) % _P:
        x = x * _I % _P
    if (x * x - square) % _P or (x == 0 and sign):
        return None
    x = x if x & 1 == sign else _P - x
    return (x, y, 1, x * y % _P)


def _plus(p: Point, q: Point) -> Point:
    a, b = (p[1] - p[0]) * (q[1] - q[0]), (p[1] + p[0]) * (q[1] + q[0])
    c, d = 2 * p[3] * q[3] * _D, 2 * p[2] * q[2]
    e, f, g, h = (b - a) % _P, (d - c) % _P, (d + c) % _P, (b + a) % _P
    return (e * f % _P, g * h % _P, f * g % _P, e * h % _P)


def _multiples(a: int, p: Point, b: int, q: Point) -> Point:
    """Return [a]p + [b]q, both scalars walked together, bit by bit."""
    found: Point = (0, 1, 1, 0)
    steps = (None, p, q, _plus(p, q))
    for bit in range(max(a.bit_length(), b.bit_length()) - 1, -1, -1):
        found, step = _plus(found, found), steps[(a >> bit & 1) | (b >> bit & 1) << 1]
        found = _plus(found, step) if step else found
    return found


_BASE = _point((4 * pow(5, _P - 2, _P) % _P).to_bytes(32, "little")) or (0, 1, 1, 0)


def main(arguments: Sequence[str] | None = None) -> int:
    """Check an export from the command line; return the exit status."""
    parser = argparse.ArgumentParser(description="Check an export of a Lapwright ledger.")
    parser.add_argument("export", nargs="?", help="the folder, or a zip of it [this folder]")
    told = "trust.pem of the programme, got by another way than the export; may be repeated"
    parser.add_argument("--trust", action="append", default=[], metavar="FILE", help=told)
    asked = parser.parse_args(arguments)
    try:
        keys = [public_key(Path(name).read_bytes()[: 1 << 16]) for name in asked.trust]
    except (OSError, Wrong) as error:
        sys.stderr.write(f"The trust file cannot be used: {_short(error)}\n")
        return 1
    source = Path(asked.export) if asked.export else Path(__file__).resolve().parent
    done = check(source, keys=keys, tell=lambda text: sys.stderr.write(f"  ... {text}\n"))
    sys.stdout.writelines(f"{line}\n" for line in done.lines())
    return 1 if done.outcome == "not met" else 0


if __name__ == "__main__":
    sys.exit(main())
