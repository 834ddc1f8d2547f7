"""The states of runs in a row: forward-backward over brazed, open and residue-filled."""

from __future__ import annotations

import numpy as np

from .settings import FaceSettings


def run_chain(
    likely: np.ndarray,
    together: np.ndarray,
    ending: np.ndarray,
    settings: FaceSettings,
    *,
    filler: str = "some",
) -> tuple[np.ndarray, np.ndarray]:
    """Return state probabilities (h, k, 3) and log evidence (h,) under every supposition.

    Parameters
    ----------
    likely : ndarray of float, shape (h, k, 3)
        Densities of the runs in the states brazed, open, residue.
    together : ndarray of float, shape (k,)
        Density of a run as a further piece of the residue before it.
    ending : ndarray of float, shape (k, 3)
        How often each state would have ended over the run: longer voids are rarer
        than longer brazed runs, mildly.
    settings : FaceSettings
        Numbers of the method.
    filler : str, optional
        ``some``, or ``none``: then residue takes the place that filler has, so that one even
        look of a whole line is no evidence for either.
    """
    prior = np.array([settings.prior_brazed, settings.prior_open, settings.prior_residue])
    if filler == "none":
        prior = np.array([0.0, settings.open_if_empty, 1 - settings.open_if_empty])
    fade = np.exp(-ending)
    residue = 2  # the last of the three states
    likely = np.maximum(likely, 1e-12) * fade
    stay = 0.25
    move = (1 - stay) * prior[None, :] / prior.sum() + stay * np.eye(3)
    for main in (0,) if filler == "some" else (1, residue):
        move[main, main] *= settings.filler_in_pieces if main != 1 else settings.open_in_pieces
    steps = move * likely[:, :, None, :]
    pocket = (filler == "some") * settings.residue_in_pieces * together * fade[:, residue]
    kept = 0.5 if filler == "some" else 1.0
    steps[..., residue, residue] = kept * steps[..., residue, residue] + pocket
    ahead = np.zeros_like(likely)
    evidence = np.zeros(likely.shape[0])
    for k in range(likely.shape[1]):
        if k == 0:
            joint = prior * likely[:, 0]
        else:
            joint = np.einsum("hi,hij->hj", ahead[:, k - 1], steps[:, k])
        scale = joint.sum(axis=1, keepdims=True)
        ahead[:, k] = joint / scale
        evidence += np.log(scale[:, 0])
    back = np.ones_like(likely)
    for k in range(likely.shape[1] - 2, -1, -1):
        past = np.einsum("hij,hj->hi", steps[:, k + 1], back[:, k + 1])
        back[:, k] = past / past.sum(axis=1, keepdims=True)
    both = ahead * back
    return both / both.sum(axis=2, keepdims=True), evidence
