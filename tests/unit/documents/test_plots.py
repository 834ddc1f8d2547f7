"""Plots are well-formed SVG by attributes alone, with every value where it belongs."""

from __future__ import annotations

import itertools
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapwright.documents.plotparts import signed, ticks
from lapwright.documents.plots import Curve, DifferencePlot, Level, difference_svg

SVG = "{http://www.w3.org/2000/svg}"
LEVELS = (
    Level(0.03, 0.025, 0.035, "upper limit", "7 4"),
    Level(0.001, -0.001, 0.003, "bias"),
    Level(-0.028, -0.033, -0.023, "lower limit", "7 4"),
)
POINTS = [(0.05, 0.01), (0.20, -0.02), (0.35, 0.0)]
PLOT = DifferencePlot("A & B <first>", "mean", "difference", POINTS, LEVELS, "told")


def _root(plot: DifferencePlot = PLOT) -> ElementTree.Element:
    return ElementTree.fromstring(difference_svg(plot))


def test_texts_are_escaped_and_described() -> None:
    root = _root()
    assert root.findtext(f"{SVG}title") == "A & B <first>"
    assert root.findtext(f"{SVG}desc") == "told"


def test_no_element_carries_a_style_and_none_a_script() -> None:
    for element in _root().iter():
        assert "style" not in element.attrib
        assert not any(name.startswith("on") for name in element.attrib)
        assert element.tag.removeprefix(SVG) in {
            "svg", "title", "desc", "rect", "line", "circle", "text",
        }  # fmt: skip


def test_points_keep_their_proportions() -> None:
    places = [
        (float(c.get("cx", "")), float(c.get("cy", ""))) for c in _root().iter(f"{SVG}circle")
    ]
    (x1, y1), (x2, y2), (x3, y3) = places
    assert (x2 - x1) == pytest.approx(x3 - x2, abs=0.11)
    assert (y2 - y1) / (y3 - y1) == pytest.approx(0.03 / 0.01, rel=0.02)
    assert y2 > y1  # lower on the page


def test_each_level_carries_its_word_and_figure() -> None:
    texts = [t.text or "" for t in _root().iter(f"{SVG}text")]
    assert "upper limit +3.00" in texts
    assert "bias +0.10" in texts
    assert "lower limit −2.80" in texts
    assert "−0.10 to +0.30 (95 %)" in texts


@given(
    st.lists(st.tuples(st.floats(0, 1), st.floats(-1, 1)), min_size=1, max_size=40),
    st.floats(0, 0.5),
    st.floats(-0.5, 0.5),
)
def test_everything_stays_on_the_page(
    points: list[tuple[float, float]], half: float, bias: float
) -> None:
    levels = [Level(bias + k * half, bias + k * half, bias + k * half, "x") for k in (1, 0, -1)]
    root = _root(DifferencePlot("t", "x", "y", points, levels, "d"))
    for circle in root.iter(f"{SVG}circle"):
        assert 76 <= float(circle.get("cx", "")) <= 468
        assert 56 <= float(circle.get("cy", "")) <= 354
    labels = sorted(
        float(t.get("y", "")) for t in root.iter(f"{SVG}text") if (t.text or "").startswith("x ")
    )
    assert all(b - a >= 29.8 for a, b in itertools.pairwise(labels))
    assert labels[0] >= 40
    assert labels[-1] <= 360


@given(st.floats(-1e4, 1e4), st.floats(1e-3, 1e4))
def test_ticks_enclose_and_are_few(low: float, span: float) -> None:
    found = ticks(low, low + span)
    slack = 1e-6 * (abs(low) + span)
    assert found[0] <= low + slack
    assert found[-1] >= low + span - slack
    assert 2 <= len(found) <= 8


def test_signs_are_shown_and_zero_has_none() -> None:
    assert [signed(v) for v in (0.0123, -0.0123, -0.000001)] == ["+1.23", "−1.23", "0.00"]


def test_curves_carry_their_word_and_run_from_left_to_right() -> None:
    bias = Curve([(0.05, 0.0, -0.01, 0.01), (0.35, 0.02, 0.01, 0.03)], "bias", "0.00 at 5 %")
    upper = Curve([(0.05, 0.03, 0.03, 0.03), (0.35, 0.06, 0.06, 0.06)], "upper", "more", "7 4")
    root = _root(DifferencePlot("t", "x", "y", POINTS, (), "d", (upper, bias)))
    lines = [
        [tuple(map(float, p.split(","))) for p in (e.get("points") or "").split()]
        for e in root.iter(f"{SVG}polyline")
    ]
    assert [e.get("stroke-dasharray") for e in root.iter(f"{SVG}polyline")] == ["7 4", None]
    for line in lines:
        assert line[0][0] < line[-1][0]
        assert line[0][1] > line[-1][1]  # rising, so further up the page
    rises = [line[0][1] - line[-1][1] for line in lines]
    assert rises[0] == pytest.approx(1.5 * rises[1], abs=0.3)
    assert {"bias", "upper", "0.00 at 5 %", "more"} <= {
        t.text or "" for t in root.iter(f"{SVG}text")
    }
    assert len(list(root.iter(f"{SVG}polygon"))) == 2
