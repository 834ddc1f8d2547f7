"""The frame of a joint map: where every column stands, in drawing units."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from .jointlayout import along, cut_angle, spread
from .jointvalues import MapFace

LEFT = 96.0  # room for the words at the depth axis
PITCH = 142.0  # one column: strip, words beside it, mark of a possible continuation
STRIP = 30.0
BESIDE = 145.0  # from the middle of the last strip to the edge of the drawing
BEYOND = 74.0  # from the end of the roll to the edge
LEAST_COLUMNS = 4
PANEL_LEAD = 26.0  # from the edge of the roll to the first strip without a position
LABEL_STEP = 13.0
LEAST_HEIGHT = 240.0
MARGIN = 16.0


@dataclass(frozen=True)
class Frame:
    """Places of a map, drawing units; x to the right, y downwards.

    ``order`` lists the faces from left to right by their index, the first ``known`` of
    them at recorded positions; ``places`` are the middles of their strips and
    ``targets`` the true positions on the roll, both in that order. ``cut_deg`` is where
    the roll is cut open, [deg].
    """

    width: float
    top: float
    height: float
    axis_start: float
    axis_end: float
    roll_end: float
    cut_deg: float
    order: tuple[int, ...]
    known: int
    places: tuple[float, ...]
    targets: tuple[float, ...]

    def y(self, depth: float) -> float:
        """Return the height on the drawing of a depth, 0 at the mouth to 1 at the tube end."""
        return self.top + depth * self.height

    def x(self, angle_deg: float) -> float:
        """Return the place of an angle on the roll."""
        return self.axis_start + along(angle_deg, self.cut_deg) * (self.axis_end - self.axis_start)

    @property
    def bottom(self) -> float:
        """The line of the tube end."""
        return self.top + self.height


def plot_frame(faces: Sequence[MapFace], *, top: float) -> Frame:
    """Place the faces of one joint.

    Parameters
    ----------
    faces : sequence of MapFace
        At least one; in any order.
    top : float
        The line of the mouth, drawing units.
    """
    angles = {i: f.angle_deg for i, f in enumerate(faces) if f.angle_deg is not None}
    rest = [i for i in range(len(faces)) if i not in angles]
    cut = cut_angle(list(angles.values())) if angles else 0.0
    order = sorted(angles, key=lambda i: along(angles[i], cut))
    columns = max(len(order), 2 if order and rest else LEAST_COLUMNS)
    end = LEFT + columns * PITCH
    roll_end = end + BEYOND if order else LEFT
    targets = [LEFT + along(angles[i], cut) * (end - LEFT) for i in order]
    places = spread(targets, PITCH, LEFT + STRIP / 2 + 6, roll_end - BESIDE)
    panel = [roll_end + PANEL_LEAD + n * PITCH for n in range(len(rest))]
    if not order:
        panel = [LEFT + (end - LEFT) * (n + 0.5) / columns - 20 for n in range(len(rest))]
        columns_end = max(end + BEYOND, panel[-1] + BESIDE)
    else:
        columns_end = panel[-1] + BESIDE if panel else roll_end
    most = max(len(f.stretches) for f in faces)
    return Frame(
        width=columns_end,
        top=top,
        height=max(LEAST_HEIGHT, (most + 1) * LABEL_STEP),
        axis_start=LEFT,
        axis_end=end,
        roll_end=roll_end,
        cut_deg=cut,
        order=(*order, *rest),
        known=len(order),
        places=(*places, *panel),
        targets=(*targets, *panel),
    )
