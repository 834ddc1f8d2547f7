"""The chart of sums is well-formed SVG by attributes alone, with every value where it belongs."""

from __future__ import annotations

from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapwright.documents.sumsplot import SumsPlot, sums_svg

SVG = "{http://www.w3.org/2000/svg}"
LABELS = ("upper", "decision", "lower", "signal")
TAGS = {"svg", "title", "desc", "rect", "line", "circle", "text", "polyline", "polygon"}


def _plot(high: list[float], low: list[float], signals: list[tuple[int, str]]) -> SumsPlot:
    days = [f"2026-01-{n + 1:02}" for n in range(len(high))]
    return SumsPlot("A & B", "x", "y", days, high, low, 5.0, signals, LABELS, "told <so>")


def _root(plot: SumsPlot) -> ElementTree.Element:
    return ElementTree.fromstring(sums_svg(plot))


def _texts(root: ElementTree.Element) -> list[str]:
    return [t.text or "" for t in root.iter(f"{SVG}text")]


def test_the_chart_carries_its_words_and_a_text_alternative() -> None:
    root = _root(_plot([0.0, 3.0, 6.0], [0.0, 0.0, 0.0], [(2, "high")]))
    assert (root.findtext(f"{SVG}title"), root.findtext(f"{SVG}desc")) == ("A & B", "told <so>")
    assert {"decision +5 s", "decision −5 s", "upper", "lower", "signal 2026-01-03"} <= {
        *_texts(root)
    }
    assert {e.tag.removeprefix(SVG) for e in root.iter()} <= TAGS
    assert not any("style" in e.attrib for e in root.iter())


def test_upper_sums_lie_over_zero_and_lower_sums_under_it() -> None:
    root = _root(_plot([0.0, 2.0, 4.0], [3.0, 0.0, 1.0], []))
    up = [float(c.get("cy", "")) for c in root.iter(f"{SVG}circle")]
    down = [float(r.get("y", "")) + 2.5 for r in root.iter(f"{SVG}rect") if r.get("width") == "5"]
    zero = up[0]
    assert zero - up[2] == pytest.approx(2 * (zero - up[1]), abs=0.2)
    assert down[0] - zero == pytest.approx(1.5 * (zero - up[1]), abs=0.2)
    assert down[1] == pytest.approx(zero, abs=0.11)


def test_a_signal_is_a_triangle_that_points_its_way() -> None:
    root = _root(_plot([6.0, 0.0], [0.0, 7.0], [(0, "high"), (1, "low")]))
    shapes = [
        [tuple(map(float, p.split(","))) for p in (e.get("points") or "").split()]
        for e in root.iter(f"{SVG}polygon")
    ]
    (up_tip, up_foot, _), (down_tip, down_foot, _) = shapes
    assert up_tip[1] < up_foot[1]
    assert down_tip[1] > down_foot[1]


@given(st.lists(st.tuples(st.floats(0, 200), st.floats(0, 200)), min_size=2, max_size=60))
def test_every_mark_stays_in_the_frame(sums: list[tuple[float, float]]) -> None:
    high, low = [a for a, _ in sums], [b for _, b in sums]
    days = [str(n) for n in range(len(sums))]
    plot = SumsPlot("t", "x", "y", days, high, low, 5.0, [], LABELS, "d")
    for circle in _root(plot).iter(f"{SVG}circle"):
        assert 76 <= float(circle.get("cx", "")) <= 468
        assert 56 <= float(circle.get("cy", "")) <= 354
