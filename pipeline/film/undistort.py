"""Straight lines made straight: tracks without the lens's distortion, and back onto the film."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from calibration.lens_file import read_lens_profile
from calibration.lens_profile import distort_px, for_picture, undistort_px
from pipeline.core.types import Clip, LensProfile, SmoothTracks, Tracks
from pipeline.film.clip import open_clip


def read_lens(path: Path | None, clip_path: Path) -> LensProfile | None:
    """Read a lens profile, and make sure before any long work that it is for this clip's picture.

    Parameters
    ----------
    path
        The profile, or None.
    clip_path
        The film.

    Returns
    -------
    LensProfile or None
        As it was measured.

    Raises
    ------
    LensProfileError
        It cannot be used, or is of another picture.
    ClipError
        The film cannot be used.
    """
    if path is None:
        return None
    profile = read_lens_profile(path)
    with open_clip(clip_path) as reader:
        for_picture(profile, width_px=reader.width_px, height_px=reader.height_px)
    return profile


def lens_of(clip: Clip, profile: LensProfile | None) -> LensProfile | None:
    """Give the lens for a clip's picture, scaled and turned; raises `LensProfileError`."""
    if profile is None:
        return None
    return for_picture(
        profile,
        width_px=clip.width_px,
        height_px=clip.height_px,
        rotation_deg=clip.rotation_deg,
    )


def undistort(tracks: Tracks, lens: LensProfile | None) -> Tracks:
    """Move landmarks to where a lens without distortion would have put them.

    Parameters
    ----------
    tracks
        Raw tracks, as seen on the film.
    lens
        Of the clip's picture (`calibration.lens_profile.for_picture`); None = not known.

    Returns
    -------
    Tracks
        The same people; a landmark where the lens model puts nothing is NaN.
    """
    if lens is None:
        return tracks
    straight_px = undistort_px(lens, tracks.image_px)
    return replace(tracks, image_px=straight_px.astype(tracks.image_px.dtype))


def distort(tracks: SmoothTracks, lens: LensProfile | None) -> SmoothTracks:
    """Move clean joints back to where they are seen on the film, for pictures.

    Parameters
    ----------
    tracks
        Made from `undistort` tracks.
    lens
        The same lens.

    Returns
    -------
    SmoothTracks
    """
    if lens is None:
        return tracks
    film_px = distort_px(lens, tracks.image_px)
    return replace(tracks, image_px=film_px.astype(tracks.image_px.dtype))
