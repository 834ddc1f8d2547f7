"""The numbers of the face reader that were weighed against each other, with a digest.

Plain numbers of geometry (windows, reaches) stand in the modules that use them;
like these they are our own choice on the tuning stream, no source. A change of
any of them raises ``VERSION``, so that a method check of before no longer counts.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, dataclass

VERSION = "5"


@dataclass(frozen=True)
class FaceSettings:
    """Numbers of the face reader; chosen on the ``tuning`` stream of drawn faces.

    Shares are of the overlap unless the name says otherwise. ``filler_*`` and
    ``residue_*`` say what these materials may look like beside copper: centre
    and spread of lightness, blueness and greenness, each as a share of copper's
    own brightness.
    """

    trace_columns: int = 640
    band_share: float = 0.045
    margin_share: float = 0.035
    end_slack_share: float = 0.008
    bow_share: float = 0.03
    step_cost: float = 0.35
    arc_slack_share: float = 0.006
    most_positions: int = 1200
    core_of_gap: float = 0.5
    min_overlap_px: int = 150
    min_gap_px: float = 2.6
    max_blur_of_overlap: float = 0.004
    flat_levels: float = 2.5
    max_clipped: float = 0.5
    min_copper_share: float = 0.8
    max_wall_difference: float = 0.35
    max_wall_hue: float = 0.15
    max_wall_unevenness: float = 0.12
    min_visibility: float = 2.6
    max_finish: float = 0.75
    default_ends_of_picture: float = 0.0025
    snap_of_picture: float = 0.025
    max_interval: float = 0.25
    likely_joint: float = 0.3
    plain_joint: float = 0.6
    filler_centre: tuple[float, float, float] = (0.04, 0.6, 0.02)
    filler_spread: tuple[float, float, float] = (0.28, 0.25, 0.06)
    filler_evenness: tuple[float, ...] = (0.4, 1.0)
    filler_phases: tuple[float, ...] = (0.55, 0.7, 0.85, 1.0, 1.15)
    filler_foot: float = 0.02
    fillet_likeness: tuple[float, float, float] = (0.06, 0.06, 0.03)
    darkest_filler: float = -0.5
    fillet_nearness: tuple[float, float, float] = (0.08, 0.08, 0.03)
    fillet_far: float = 6.0
    fillet_hardly: float = 3.0
    least_doubt: float = 0.25
    fillet_alike: float = 0.5
    fillet_other: float = 0.01
    partly_open: tuple[tuple[float, ...], tuple[float, ...]] = (
        (0.15, 0.3, 0.42),
        (0.58, 0.7, 0.85),
    )
    pore_piece: float = 0.03
    partly_weight: float = 0.08
    smear_share: float = 0.035
    smear_weight: float = 0.12
    narrower_of_blur: tuple[tuple[float, float], ...] = (
        (0.0, 0.3),
        (0.8, 0.3),
        (1.6, 0.3),
        (2.8, 0.1),
    )
    sharpened: float = 0.15
    coded_blur_px: tuple[float, ...] = (0.5, 1.4, 3.0)
    residue_evenness: tuple[float, ...] = (0.05, 0.2, 0.5)
    residue_centre: tuple[float, float, float] = (-0.1, -0.02, 0.13)
    residue_spread: tuple[float, float, float] = (0.38, 0.32, 0.13)
    open_spread: tuple[float, float, float] = (0.07, 0.045, 0.025)
    class_floor: tuple[float, float, float] = (0.05, 0.04, 0.022)
    prior_brazed: float = 0.6
    prior_no_filler: float = 0.04
    dark_fill: float = -0.22
    prior_no_filler_if_dark: float = 0.3
    prior_no_filler_by_fillet: float = 0.003
    prior_open: float = 0.22
    prior_residue: float = 0.18
    cut_price: float = 3.0
    mottle_share: float = 0.03
    mottle_pieces: int = 3
    known_share: float = 0.1
    known_hue: tuple[float, float] = (0.06, 0.033)
    mottle_hue: tuple[float, float] = (0.09, 0.06)
    hue_gap_px: float = 6.0
    slight_void: tuple[float, float, float] = (0.2, 0.15, 0.08)
    max_unseen: float = 0.03
    mottle_light: float = 0.55
    grain_hue: tuple[float, float] = (0.035, 0.022)
    grain_light: float = 0.2
    texture_weight: float = 1.5
    evidence_power: float = 0.7
    pocket_spreads: tuple[tuple[float, float, float], ...] = (
        (0.09, 0.06, 0.035),
        (0.2, 0.12, 0.04),
    )
    pocket_piece: float = 0.06
    open_if_empty: float = 0.3
    open_in_pieces: float = 0.7
    filler_in_pieces: float = 0.5
    residue_in_pieces: float = 0.6
    ending_rates: tuple[float, float, float] = (4.0, 9.0, 9.0)
    sure_brazed: float = 0.15
    sure_unbrazed: float = 0.85
    boundary_px: float = 0.5
    boundary_of_gap: float = 0.05
    stub_of_edge: float = 0.45
    boundary_of_blur: float = 0.2
    reader_rivalry: float = 0.05
    reader_unsure_share: float = 0.05
    reader_unlike_share: float = 0.05
    reader_flat_share: float = 0.6

    def digest(self) -> str:
        """Return the first twelve digits of the SHA-256 of the settings."""
        text = json.dumps(asdict(self), sort_keys=True)
        return hashlib.sha256(text.encode()).hexdigest()[:12]

    def method(self) -> str:
        """Return the name of the method with its version and settings."""
        return f"face-trace/{VERSION}+{self.digest()}"


DEFAULT = FaceSettings()
