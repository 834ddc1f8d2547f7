"""Write the skeleton of a rule and of its published case.

The rule is valid at once and answers "no text known"; the case fails until somebody has said
which check runs it and what an outside witness answers. Nothing that exists is overwritten.
"""

from __future__ import annotations

import argparse
import re
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
RULES = Path("src/lapwright/rules/data")
CASES = Path("tests/published/vectors")
ID_FORM = re.compile(r"^[a-z][a-z0-9_]*(\.[a-z][a-z0-9_]*)+$")

RULE = """\
id: {id}
title: Say in your own words what is asked
unit: "-"
kind: demand                 # upper_limit lower_limit count factor choice list table demand
values:
  - from: "{published}"
    unread: nobody has read this yet   # or value: "0.20"
    cite: {{source: {source}, where: "paragraph", basis: memory, sure: L}}
notes: ""
"""

CASE = """\
# The witness: which text, which place, who read it and when.
- id: {code}-{edition}-{id}
  says: Say the expected answer in one sentence
  check: name-one            # a name of CHECKS in tests/published/checks
  adopted: ["{code} {edition}"]
  given: {{}}
  expect:
    outcome: undetermined
"""


class Refused(Exception):
    """The skeleton cannot be written."""


def edition_value(folder: Path, key: str) -> str:
    """Return one value of ``edition.yaml``."""
    found = re.search(rf'^{key}: *"?([^"\n]+?)"? *$', (folder / "edition.yaml").read_text(), re.M)
    if found is None:
        raise Refused(f"{folder.name}/edition.yaml has no '{key}'")
    return found[1]


def write_skeletons(root: Path, code: str, *, edition: str, rule_id: str) -> list[Path]:
    """Write rule, case and index; return their paths."""
    if not ID_FORM.match(rule_id):
        raise Refused(f"ID: got {rule_id!r}, expected topic.name like section.max_unbrazed_share")
    folder = root / RULES / code / edition
    if not (folder / "edition.yaml").is_file():
        known = sorted(p.parent for p in (root / RULES).glob("*/*/edition.yaml"))
        names = ", ".join(f"{p.parent.name} {p.name}" for p in known)
        raise Refused(f"CODE and EDITION: got {code!r} {edition!r}, expected one of: {names}")
    texts = {
        folder / f"{rule_id}.yaml": RULE.format(
            id=rule_id,
            published=edition_value(folder, "published"),
            source=edition_value(folder, "source"),
        ),
        root / CASES / f"{code}-{edition}-{rule_id}.yaml": CASE.format(
            code=code, edition=edition, id=rule_id
        ),
        root / CASES / f"index-{code}-{edition}-{rule_id}.yaml": f"- {code}-{edition}-{rule_id}\n",
    }
    if taken := [path for path in texts if path.exists()]:
        raise Refused(f"{taken[0].relative_to(root)} is there already")
    for path, text in texts.items():
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return list(texts)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--code", required=True, help="for example asme-bpvc-ix")
    parser.add_argument("--edition", required=True, help="for example 2023")
    parser.add_argument("--id", required=True, help="for example section.max_unbrazed_share")
    given = parser.parse_args()
    try:
        made = write_skeletons(ROOT, given.code, edition=given.edition, rule_id=given.id)
    except Refused as refusal:
        print(refusal, file=sys.stderr)
        return 1
    for path in made:
        print(path.relative_to(ROOT))
    print("Fill in the first two, add a fragment to changelog.d/, then: make test")
    return 0


if __name__ == "__main__":
    sys.exit(main())
