"""Cover of 2,000 joint classes by 500 people, every cell judged, and reasons beside it.

``python benchmarks/cover.py [--classes 2000] [--people 500]`` makes invented people with two
records each (overlaps all different in the worst case, ``--overlaps 60`` different ones else) and
different joint classes, and prints the time of the whole matrix, of the counts behind it, and of
a sample of reasons (nearest qualification and what it lacks). The qualifications' standing on the
day is reckoned before; it is another measure. Times are of one process on one core.
"""

from __future__ import annotations

import argparse
import random
import sys
import time
from fractions import Fraction
from pathlib import Path

from run import say, seconds

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

SAMPLE = 2000


def made(classes: int, people: int, overlaps: int) -> tuple[object, ...]:
    """Return invented classes and qualifications; the same for the same figures."""
    from unit.rules.covering import held_on, joint_class
    from unit.rules.coverplain import MET, NOT, OPEN, PlainJoint, PlainRecord, PlainTest

    chance = random.Random(7)
    walls = [Fraction(n, 1000) for n in (30, 35, 40, 42, 45, 50, 55, 60, 70, 80, 90, 110, 125)]
    depths = [Fraction(chance.randrange(200, 1600), 1000) for _ in range(overlaps)]
    joints = [
        PlainJoint(
            chance.choice("BCD"),
            ("107", "107"),
            chance.choice(("103", "103", "101")),
            "rod",
            "none",
            Fraction(chance.randrange(200, 1600), 1000) if chance.random() < 0.5 else None,
            Fraction(chance.randrange(200, 1200, 25), 1000),
            chance.choice(walls),
            chance.choice(walls),
        )
        for _ in range(classes)
    ]
    held = []
    window = ((Fraction(1, 5), Fraction(60, 1000), "CD"),)
    for person in range(people):
        for number in (1, 2):
            tests = tuple(
                PlainTest(
                    position,
                    ("107", "107"),
                    "103" if number == 1 else "101",
                    "rod",
                    "none",
                    chance.choice(depths),
                    chance.choice(walls),
                )
                for position in chance.choice(("C", "D", "CD"))
            )
            gate = chance.choice((MET, MET, MET, OPEN, NOT))
            held.append(held_on(PlainRecord(gate, tests, window), f"p{person}", number))
    return tuple(joint_class(j, n) for n, j in enumerate(joints)), tuple(held)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--classes", type=int, default=2000)
    parser.add_argument("--people", type=int, default=500)
    parser.add_argument("--overlaps", type=int, default=60)
    given = parser.parse_args()
    from lapwright.rules.cover import Cover

    best = 1e9
    for _ in range(3):
        classes, held = made(given.classes, given.people, given.overlaps)
        cover = Cover(classes, held)  # type: ignore[arg-type]
        people = [f"p{n}" for n in range(given.people)]
        own = time.process_time()
        wall = seconds(lambda c=cover, p=people: [c.states(person) for person in p])
        best = min(best, wall)
        told = f"{wall:.2f} s ({time.process_time() - own:.2f} s of the process)"
        say(f"cover {given.classes} classes x {given.people} people", told, "under 1 s")
    met = sum(given.classes - cover.states(p)[0].bit_count() for p in people)
    cells = given.classes * given.people
    say("cells covered", f"{met} of {cells} ({100 * met / cells:.0f} %)", "-")
    chance = random.Random(11)
    picks = [(chance.choice(people), chance.randrange(given.classes)) for _ in range(SAMPLE)]
    each = seconds(lambda: [cover.answer(*pick) for pick in picks]) / SAMPLE
    say("one reason (nearest, what it lacks)", f"{1e3 * each:.2f} ms", "-")
    say("best of three", f"{best:.2f} s", "under 1 s")


if __name__ == "__main__":
    main()
