"""Write the gallery of 30 drawn faces: ``docs/explanation/gallery.md`` and its pictures.

``python scripts/gallery.py`` draws 30 faces (testing stream, both styles, ends moved as in
``benchmarks/accuracy.py``), reads each, and writes pictures, records and page. No figure on the
page is typed by hand; a repository test fails when the page was made by another method version.
"""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(ROOT / "scripts"), str(ROOT / "benchmarks")]

from accuracy import jittered  # noqa: E402
from faceplate import Record, dump, figures, load, outcome_words, plate, read, write_jpeg  # noqa: E402

from lapwright.measure.synthetic import DrawnFace, draw_face  # noqa: E402

PAGE = ROOT / "docs" / "explanation" / "gallery.md"
PICTURES = ROOT / "docs" / "images" / "gallery"
RECORDS = PICTURES / "faces.json"
SEEDS = range(7500, 7515)
STYLES = ("field", "plate")
WIDTH_PX = 1600
RANKS = {"met": 0, "interval": 1}
INTRO = """# Gallery of drawn faces

<!-- Written by scripts/gallery.py (make gallery): change the script, then run it again. -->

**No accuracy on real coupons is claimed, and these are drawings.** They were made by the same
hands as the reader; a photograph of a real coupon may look like none of them. The gallery shows
how the program answers and how it fails. It shows all thirty faces of seeds {first} to {last} in
both drawing styles, as they came, worst first. Figures over many more faces are in
[](how-a-face-is-read.md), what no reading of a picture can tell is in
[](what-the-method-cannot-see.md).

Of these {faces}, {answered} were answered and {refused} refused. Of the answered, {wrong}
plainly wrong: {met} under 20 % by the interval but truly over it, {missed} with an interval that
misses the truth otherwise. The mean absolute error of the answered is {mean:.1f} points, the
largest {most:.1f}. Thirty faces are too few to give an accuracy.

**Order:** plainly wrong ones first, then refused ones, then by absolute error. The two styles
(`field`, `plate`) paint the same plans of a face differently, so each seed comes twice. They
belong to the testing stream, on which nothing is tuned; the ends given to the program are moved
by 0.25 % of the picture's longer side, as a hand would.

**How to look:** tube end left, mouth of the cup right, the true ends marked white at the edges.
Strokes beside the joint repeat the program's answer as its overlay does. Beneath stand two bars:

| bar | stretch | looks like |
|---|---|---|
| read | brazed, unbrazed, unsure | plain; hatched, letter U; dotted, sign ? |
| true | filled; a void | plain; hatched: open (O), residue (R), partial thickness (P) |

All were read with {methods}.
"""


def draw_and_read(seed: int, style: str) -> tuple[DrawnFace, Record, object]:
    face = draw_face(seed, stream="testing", style=style, width_px=WIDTH_PX)
    record, reading = read(face, jittered(face, seed), label=f"{style} {seed}")
    return face, record, reading


def rank(record: Record) -> tuple[float, float, str]:
    """Return the place in the order: plainly wrong, refused, then by absolute error."""
    if record.outcome == "refused":
        return 2, 0.0, record.label
    error = abs(record.error or 0.0)
    return RANKS.get(record.misses, 3), -error, record.label


def entry(number: int, record: Record) -> str:
    count = len(record.voids)
    voids = "no void" if not count else "one void" if count == 1 else f"{count} voids"
    alt = f"Drawn face {record.label} with {voids}; the bar that was read above the true one."
    return (
        f"## {number}. {record.label}: {outcome_words(record)}\n\n"
        f"![{alt}](../images/gallery/{record.picture})\n\n{figures(record)}\n"
    )


def written() -> list[Record]:
    """Return the records as they were last written."""
    return load(RECORDS)


def page(records: list[Record]) -> str:
    """Return the whole page from the records alone."""
    answered = [r for r in records if r.outcome == "measured"]
    errors = [abs(r.error or 0.0) for r in answered]
    wrong = [r.misses for r in answered if r.misses]
    head = INTRO.format(
        first=SEEDS[0],
        last=SEEDS[-1],
        faces=len(records),
        answered=len(answered),
        refused=len(records) - len(answered),
        wrong=f"{len(wrong)} {'was' if len(wrong) == 1 else 'were'}",
        met=wrong.count("met"),
        missed=wrong.count("interval"),
        mean=100 * sum(errors) / max(1, len(errors)),
        most=100 * max(errors, default=0.0),
        methods=" and ".join(f"`{m}`" for m in sorted({r.method for r in records})),
    )
    return "\n".join([head, *(entry(n, r) for n, r in enumerate(records, 1))])


def main() -> None:
    done = []
    for style in STYLES:
        for seed in SEEDS:
            face, record, reading = draw_and_read(seed, style)
            done.append((record, plate(face, record, reading)))
            print(record.label, record.code or figures(record))
    done.sort(key=lambda pair: rank(pair[0]))
    records = []
    for number, (record, picture) in enumerate(done, 1):
        name = f"{number:02d}.jpg"
        digest = write_jpeg(PICTURES / name, picture)
        records.append(replace(record, picture=name, sha256=digest))
    dump(RECORDS, records)
    PAGE.write_text(page(records), encoding="utf-8")
    print(f"wrote {PAGE.name} and {len(records)} pictures")


if __name__ == "__main__":
    main()
