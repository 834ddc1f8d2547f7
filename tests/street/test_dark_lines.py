"""A photograph with a crack-like line in a case folder: somebody must look before it is met."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import yaml

from lapwright.core.outcomes import Finding, Why
from lapwright.services.judging import judge_case

from .building import AS_OF, case_folder, confirm_all, edit


def cracked(parent: Path) -> Path:
    """Draw a kinked dark line from the joint of the first face into its copper."""
    folder = case_folder(parent, photos=(0,))
    confirm_all(folder)
    case = yaml.load((folder / "case.yaml").read_text("utf-8"), Loader=yaml.BaseLoader)
    reading = first_photo(case)
    path = folder / reading["photo"]
    picture = cv2.imread(str(path))
    ends = np.array([[float(v) for v in reading[k]] for k in ("tube_end", "cup_face")])
    chord = ends[1] - ends[0]
    along, across = chord, np.array([-chord[1], chord[0]])
    steps = [(0.6, 0.0), (0.605, 0.02), (0.6, 0.035), (0.615, 0.06)]
    points = np.array([ends[0] + a * along + b * across for a, b in steps])
    cv2.polylines(picture, [np.round(points * 16).astype(np.int32)], False, (25, 30, 40), 4, 16, 4)
    cv2.imwrite(str(path), picture, [cv2.IMWRITE_JPEG_QUALITY, 95])
    return folder


def first_photo(case: dict[str, Any]) -> dict[str, Any]:
    joints = [j for c in case["coupons"] for j in c["joints"]]
    readings = [r for j in joints for f in j["faces"] for r in f["readings"]]
    return next(r for r in readings if "photo" in r)


def lines_of(folder: Path) -> list[Finding]:
    found = judge_case(folder, as_of=date.fromisoformat(AS_OF)).judged.judgement.findings
    return [f for f in found if f.message.id.startswith("crack.l")]


def test_a_crack_like_line_is_held_until_somebody_says_what_it_is(tmp_path: Path) -> None:
    folder = cracked(tmp_path)
    (held,) = lines_of(folder)
    assert (held.message.id, held.why) == ("crack.look", Why.HOLD)
    edit(
        folder,
        lambda d: first_photo(d).update(
            dark_line="scratch", dark_line_reason="gone after a turn of the light"
        ),
    )
    (settled,) = lines_of(folder)
    assert settled.message.id == "crack.line_is"
