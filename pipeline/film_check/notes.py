"""Notes on what limits a film: what all its frames tell, and the findings of the film check."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from pipeline.core.messages import in_a_row, message
from pipeline.core.types import Clip, Tracks
from pipeline.film_check.finding import Finding

POINTED_OUT_MARGIN = 0.3
"""How far beside a body one may point and still mean it, in parts of its height."""


def film_notes(
    clip: Clip,
    tracks: Tracks,
    findings: Sequence[Finding] = (),
    *,
    n_reps: int,
    no_ground: str | None = None,
    athlete_at: tuple[float, float] | None = None,
) -> tuple[str, ...]:
    """Say in plain words what limits this film.

    Parameters
    ----------
    clip, tracks
        What is known of the film and of the people in it.
    findings
        Of the film check. What all frames tell better than a few looks is left out of them.
    n_reps
        Number of reps that were found.
    no_ground
        Why the scene is without a ground; None if it has one.
    athlete_at
        Where the athlete was said to stand in the first frame, px; None if nothing was said.

    Returns
    -------
    tuple of str
    """
    notes: list[str] = []
    found = float(tracks.found[0].mean()) if clip.n_frames else 0.0
    if found == 0.0:
        advice = [finding.what_to_do for finding in findings if finding.key == "person"]
        notes.append(in_a_row(message("film.nobody"), *advice))
    elif n_reps == 0:
        notes.append(message("film.no_rep"))
    if found and no_ground is not None:
        notes.append(message("film.no_ground", why=no_ground))
    if found and athlete_at is not None and _is_beside(tracks, athlete_at):
        notes.append(message("film.nobody_there"))
    if 0.0 < found < 0.9:
        notes.append(message("film.seldom_found", share=found))
    if clip.n_undecoded:
        notes.append(message("film.undecoded", n=clip.n_undecoded))
    told_better = {"person", "camera_still"}
    if no_ground is not None:
        told_better.add("feet_in_view")
    return (*notes, *(f.note for f in findings if f.limits and f.key not in told_better))


def _is_beside(tracks: Tracks, place_px: tuple[float, float]) -> bool:
    """Tell whether a place lies beside the athlete's body as first seen."""
    first = int(np.argmax(tracks.found[0]))
    body = tracks.image_px[0, first]
    low, high = np.nanmin(body, axis=0), np.nanmax(body, axis=0)
    margin = POINTED_OUT_MARGIN * float(high[1] - low[1])
    place = np.asarray(place_px)
    return bool(np.any(place < low - margin) or np.any(place > high + margin))
