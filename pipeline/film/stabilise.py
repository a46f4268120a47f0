"""Steadies the picture of a phone held in the hand: landmarks carried into the first picture."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from calibration.lens_profile import undistort_px
from calibration.turned_view import homography_of, moved_points
from pipeline.core.types import Clip, FloatArray, LensProfile, SmoothTracks, Tracks
from pipeline.film.camera_motion import Stillness, anchors_px

LONGEST_GAP_S = 0.3
"""Most frames without a measured camera movement that are bridged."""
BRIDGED_SHARE = 0.004
"""... and if the picture moved no further over the gap than this, in parts of its longer side."""
FEWEST_KNOWN = 0.9
"""The picture is stabilised only if the camera's movement is known in this share of frames."""
FURTHEST_SHARE = 0.35
"""How far the picture may turn away from the first one, in parts of its longer side: about 22
degrees. Errors of the focal length grow with it, and little of the first picture is left."""
MOST_MISFIT_SHARE = 0.0015
"""How far the background may be off that of a camera that only turns, in parts of the longer side:
more shows that the camera was carried along."""
LEAST_UNSTEADY_SHARE = 0.0003
"""What is left of the movement at best, in parts of the longer side: 0.4 px of 1280."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stabilised:
    """Tracks in the picture of a camera that stands still, and how they came there.

    Attributes
    ----------
    tracks
        In the first picture of the film, or as they were when it could not be steadied.
    camera
        What is known of the camera now.
    to_film
        (n_frames, 3, 3) homographies from the first picture to each frame; None = not steadied.
    """

    tracks: Tracks
    camera: Stillness
    to_film: FloatArray | None


def stabilise(
    tracks: Tracks, clip: Clip, camera: Stillness, lens: LensProfile | None
) -> Stabilised:
    """Carry landmarks into the picture of the first frame, if the camera moved.

    Parameters
    ----------
    tracks
        Raw tracks, without the distortion of the lens if that is known (`straight.straightened`).
    clip
        For times and size.
    camera
        What was judged of the camera.
    lens
        The lens as measured, for this picture.

    Returns
    -------
    Steadied
        Where the movement is known but a turn does not explain it, the tracks are steadied all the
        same, and the camera counts as moved: that is good enough to find reps.
    """
    if camera.state != "moved":
        return Stabilised(tracks=tracks, camera=camera, to_film=None)
    if not np.isfinite(camera.moved_px):
        return _as_it_was(tracks, camera, "out_of_sight")
    size_px = (clip.width_px, clip.height_px)
    side_px = max(size_px)
    shift_px = bridged(tracks.camera_shift_px.astype(float), clip.time_s, BRIDGED_SHARE * side_px)
    known = np.isfinite(shift_px).all(axis=(1, 2))
    if known.mean() < FEWEST_KNOWN:
        return _as_it_was(tracks, camera, "not_followed")
    if np.linalg.norm(shift_px[known].mean(axis=1), axis=-1).max() > FURTHEST_SHARE * side_px:
        return _as_it_was(tracks, camera, "turned_far")
    anchors: FloatArray = anchors_px(size_px)
    now: FloatArray = anchors + shift_px
    if lens is not None:
        anchors, now = undistort_px(lens, anchors), undistort_px(lens, now)
    to_film = homography_of(anchors, now)
    to_first = np.full_like(to_film, np.nan)
    to_first[known] = np.linalg.inv(to_film[known])
    image_px = moved_points(to_first[None], tracks.image_px.astype(float))
    lost = ~np.isfinite(image_px).all(axis=(2, 3))
    world_m, visibility = tracks.world_m.copy(), tracks.visibility.copy()
    image_px[lost], world_m[lost], visibility[lost] = np.nan, np.nan, np.nan
    steady = replace(
        tracks,
        image_px=image_px.astype(tracks.image_px.dtype),
        world_m=world_m,
        visibility=visibility,
    )
    misfit_px = float(np.nanquantile(tracks.camera_misfit_px, 0.9))
    if misfit_px > MOST_MISFIT_SHARE * side_px:
        camera = replace(camera, why_unsteady="carried")
    else:
        unsteady_px = max(misfit_px, LEAST_UNSTEADY_SHARE * side_px)
        camera = replace(camera, state="steadied", unsteady_px=unsteady_px)
    return Stabilised(tracks=steady, camera=camera, to_film=to_film)


def unstabilise(tracks: SmoothTracks, to_film: FloatArray | None) -> SmoothTracks:
    """Carry clean joints back to where each frame shows them, for pictures.

    Parameters
    ----------
    tracks
        Made from steadied tracks.
    to_film
        As from `stabilise`.

    Returns
    -------
    SmoothTracks
    """
    if to_film is None:
        return tracks
    return replace(tracks, image_px=moved_points(to_film[None], tracks.image_px))


def bridged(shift_px: FloatArray, time_s: FloatArray, most_px: float) -> FloatArray:
    """Fill frames without a measured movement from their neighbours, where that is safe.

    Parameters
    ----------
    shift_px
        (n_frames, 4, 2); NaN where unknown.
    time_s
        (n_frames,).
    most_px
        How far the picture may move over a gap that is filled.

    Returns
    -------
    numpy.ndarray
        (n_frames, 4, 2); gaps that are too long or over which too much happened stay NaN.
    """
    known = np.flatnonzero(np.isfinite(shift_px).all(axis=(1, 2)))
    filled = shift_px.copy()
    for before, after in pairwise(known):
        apart_s = time_s[after] - time_s[before]
        apart_px = np.linalg.norm(shift_px[after] - shift_px[before], axis=-1).max()
        if after - before < 2 or apart_s > LONGEST_GAP_S or apart_px > most_px:
            continue
        part = ((time_s[before + 1 : after] - time_s[before]) / apart_s)[:, None, None]
        filled[before + 1 : after] = (1 - part) * shift_px[before] + part * shift_px[after]
    return filled


def _as_it_was(tracks: Tracks, camera: Stillness, why: str) -> Stabilised:
    return Stabilised(tracks=tracks, camera=replace(camera, why_unsteady=why), to_film=None)
