"""The summary page of a batch: one HTML file that needs no script and no network.

One row a photograph: a small overlay, an outcome as word and shape, the share
with its 95 % interval as a bar, and why a person must look or why it was
refused. It prints, and it folds on a phone. It judges nothing: a limit belongs
to an adopted code, which a folder of photographs does not name.
"""

from __future__ import annotations

import html
import math
import re
from collections.abc import Collection, Sequence
from typing import Any
from urllib.parse import quote

from .text import word

Line = dict[str, Any]
STATES = ("read", "reader", "refused", "unfinished")
SHAPES = {
    "read": '<path d="M7 .8 13.2 7 7 13.2 .8 7Z"/>',
    "reader": '<path d="M7 1.2 13.2 12.8H.8Z" class="open"/>',
    "refused": '<rect x="1.3" y="1.3" width="11.4" height="11.4" class="open"/>',
    "unfinished": '<path d="M2 2 12 12M12 2 2 12" class="open"/>',
}
LOOSE = re.compile(
    r"(?<=\d) ?%(?=$|[\s,;:)]|\.(?:\s|$))"
)  # a number's per cent sign, with a space or without
BAR_W, BAR_H, PAD = 220, 34, 8

STYLE = """
:root { --ink: #1b2328; --soft: #59656c; --rule: #d5dbde; --paper: #fff; --tint: #f4f6f7;
  --read: #1d5c73; --reader: #8a5a00; --refused: #5b4a6b; --unfinished: #96271f; }
* { box-sizing: border-box; }
body { margin: 0; background: var(--paper); color: var(--ink);
  font: 16px/1.45 system-ui, -apple-system, "Segoe UI", "Liberation Sans", sans-serif; }
main { max-width: 76rem; margin: 0 auto; padding: 1.6rem 1.2rem 3rem; }
h1 { font-size: 1.5rem; margin: 0 0 .5rem; font-weight: 600; }
p { margin: 0 0 .6rem; max-width: 52rem; }
.claim { border-left: 4px solid var(--ink); background: var(--tint); padding: .55rem .8rem; }
.soft { color: var(--soft); font-size: .875rem; }
.tally { display: flex; flex-wrap: wrap; gap: .4rem 1.6rem; margin: 1rem 0 1.1rem; padding: 0;
  list-style: none; }
.tally li { display: flex; align-items: center; gap: .5em; }
.tally b { font-variant-numeric: tabular-nums; }
.state { display: inline-flex; align-items: center; gap: .45em; font-weight: 600; }
.state svg { width: .9em; height: .9em; flex: none; fill: currentColor; overflow: visible; }
.state .open { fill: none; stroke: currentColor; stroke-width: 2; }
.read { color: var(--read); } .reader { color: var(--reader); }
.refused { color: var(--refused); } .unfinished { color: var(--unfinished); }
table { border-collapse: collapse; width: 100%; }
th { text-align: left; font-size: .8125rem; font-weight: 600; color: var(--soft);
  border-bottom: 2px solid var(--ink); padding: .3rem .9rem .3rem 0; vertical-align: bottom; }
td { border-bottom: 1px solid var(--rule); padding: .7rem .9rem .7rem 0; vertical-align: top; }
th:last-child, td:last-child { padding-right: 0; }
td.photo { width: 17rem; overflow-wrap: anywhere; }
td.photo a { color: inherit; }
td.photo img { display: block; max-width: 100%; max-height: 14rem; height: auto;
  margin-bottom: .35rem; border: 1px solid var(--rule); }
td.outcome { white-space: nowrap; }
td.share { width: 15rem; font-variant-numeric: tabular-nums; }
td.share strong { font-size: 1.0625rem; }
td.share span { white-space: nowrap; }
table + p { margin-top: .9rem; }
td.why { overflow-wrap: anywhere; }
td.why p { margin: 0 0 .35rem; }
.bar { display: block; width: 100%; max-width: 15rem; height: auto; margin-top: .2rem; }
.bar text { font-size: 10px; fill: var(--soft); }
@media screen and (max-width: 47rem) {
  main { padding: 1rem .9rem 2rem; }
  thead { position: absolute; width: 1px; height: 1px; overflow: hidden; clip-path: inset(50%); }
  table, tbody, tr, td { display: block; }
  tr { border-bottom: 1px solid var(--rule); padding: .9rem 0; }
  td, td.photo, td.share { border: 0; padding: 0 0 .45rem; width: auto; }
  td:empty { display: none; }
}
@media print {
  @page { margin: 14mm; }
  body { font-size: 10pt; }
  main { max-width: none; padding: 0; }
  tr { break-inside: avoid; }
  td.photo { width: 46mm; } td.share { width: 42mm; }
  td.outcome { white-space: normal; width: 26mm; } td.why, td.share { font-size: 9pt; }
  td.photo img { max-height: 42mm; }
  a { text-decoration: none; }
  * { print-color-adjust: exact; -webkit-print-color-adjust: exact; }
}
"""


def draw_page(lines: Sequence[Line], *, drawn: Collection[str], elsewhere: int, method: str) -> str:
    """Return the page.

    Parameters
    ----------
    lines : sequence of dict
        Lines of ``faces.jsonl`` in the order to show.
    drawn : collection of str
        Overlay pictures that are there, as named in the lines.
    elsewhere : int
        Number of lines in the file that this run did not ask for.
    method : str
        Name of the method.
    """
    top = _top(lines)
    body = "\n".join(_row(line, top, drawn) for line in lines)
    heads = "".join(
        f'<th scope="col">{_safe(word(f"batch.head.{name}"))}</th>'
        for name in ("photo", "outcome", "share", "why")
    )
    left = f"<p>{_safe(word('batch.elsewhere', count=str(elsewhere)))}</p>" if elsewhere else ""
    title = _safe(word("batch.title"))
    return f"""<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{title}</title>
<style>{STYLE}</style>
</head>
<body>
<main>
<h1>{title}</h1>
<p class="claim">{_safe(word("face.claim"))}</p>
<p>{_safe(word("batch.no_verdict"))}</p>
{_tally(lines)}
{left}
<table>
<thead><tr>{heads}</tr></thead>
<tbody>
{body}
</tbody>
</table>
<p class="soft">{_safe(word("batch.made", method=method))}</p>
</main>
</body>
</html>
"""


def state_of(line: Line) -> str:
    """Return ``read``, ``reader`` (read, but a person must look), ``refused`` or ``unfinished``."""
    if line["outcome"] == "measured":
        return "reader" if line["needs_reader"] else "read"
    return "unfinished" if line["outcome"] == "unfinished" else "refused"


def _safe(text: str) -> str:
    """Return text for the page; a number and its per cent sign stay on one line."""
    return html.escape(LOOSE.sub("\u00a0%", text), quote=True)


def _mark(state: str) -> str:
    name = _safe(word(f"batch.state.{state}"))
    shape = f'<svg viewBox="0 0 14 14" aria-hidden="true">{SHAPES[state]}</svg>'
    return f'<span class="state {state}">{shape}{name}</span>'


def _tally(lines: Sequence[Line]) -> str:
    counts = {state: sum(state_of(line) == state for line in lines) for state in STATES}
    items = "".join(f"<li><b>{counts[s]}</b> {_mark(s)}</li>" for s in STATES if counts[s])
    return f'<ul class="tally">{items}</ul>'


def _row(line: Line, top: float, drawn: Collection[str]) -> str:
    cells = (
        ("photo", _photo(line, drawn)),
        ("outcome", _mark(state_of(line))),
        ("share", _share(line, top) if line["unbrazed_share"] is not None else ""),
        ("why", _why(line)),
    )
    return "<tr>" + "".join(f'<td class="{name}">{cell}</td>' for name, cell in cells) + "</tr>"


def _photo(line: Line, drawn: Collection[str]) -> str:
    name = _safe(line["photo"].removeprefix("../"))
    picture = ""
    if line["overlay"] in drawn:
        words = _safe(word("batch.overlay", photo=line["photo"]))
        way = quote(line["overlay"])
        picture = f'<a href="{way}"><img src="{way}" alt="{words}" loading="lazy"></a>'
    label = f"<strong>{_safe(line['id'])}</strong><br>" if line["id"] else ""
    return f'{picture}{label}<a href="{quote(line["photo"])}">{name}</a>'


def _why(line: Line) -> str:
    said = []
    if line["needs_reader"]:
        said.append(word(f"needs_reader.{line['needs_reader']}"))
    if line["outcome"] != "measured":
        said.append(line["message"])
    if line["same_as"]:
        said.append(word("batch.same_as", photo=line["same_as"].removeprefix("../")))
    said += line.get("warnings", [])
    return "".join(f"<p>{_safe(text)}</p>" for text in said)


# ------------------------------------------------------------------ the bar
def _top(lines: Sequence[Line]) -> float:
    """Return the end of the axis shared by all bars, a full 20 %, at least 40 %."""
    highs = [line["interval95"][1] for line in lines if line["interval95"]]
    return min(1.0, max(0.4, math.ceil(max(highs, default=0.0) * 5) / 5))


def _share(line: Line, top: float) -> str:
    low, high = line["interval95"]
    share = line["unbrazed_share"]
    text = word("batch.interval", low=f"{100 * low:.1f}", high=f"{100 * high:.1f}")
    bar = _bar(share, low, high, top)
    return f"<strong>{100 * share:.1f}&nbsp;%</strong> <span>{_safe(text)}</span>{bar}"


def _bar(share: float, low: float, high: float, top: float) -> str:
    def x(value: float) -> str:
        return f"{PAD + (BAR_W - 2 * PAD) * min(value, top) / top:.1f}"

    steps = [n / 5 for n in range(round(top * 5) + 1)]
    lines = "".join(
        f'<path d="M{x(s)} 3V20" stroke="#d5dbde"/>'
        f'<text x="{x(s)}" y="31" text-anchor="middle">{100 * s:.0f}</text>'
        for s in steps
    )
    width = max(1.0, float(x(high)) - float(x(low)))
    return (
        f'<svg class="bar" viewBox="0 0 {BAR_W} {BAR_H}" aria-hidden="true">{lines}'
        f'<path d="M{x(0)} 11.5H{x(top)}" stroke="#8b979d"/>'
        f'<rect x="{x(low)}" y="7.5" width="{width:.1f}" height="8" fill="#8fb4c2"/>'
        f'<path d="M{x(share)} 4.5V18.5" stroke="#1b2328" stroke-width="2"/></svg>'
    )
