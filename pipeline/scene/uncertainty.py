"""What makes a number unsure: sources that are switched one by one, and their parts of a scene."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace

import numpy as np

from pipeline.core.types import FloatArray, Scene


@dataclass(frozen=True, slots=True, kw_only=True)
class Sources:
    """Which sources of uncertainty are drawn; one that is not stays at the best estimate.

    Attributes
    ----------
    keypoints
        Where the joints are: their lasting offsets, their wander and the noise of the picture, and
        the same in depth.
    lens
        The focal length.
    scene
        Tilt and height of the camera over the ground.
    stature
        The athlete's size in metres, and that of the other person.
    timing
        The instants of the events.
    own
        What a measure adds of its own: the spreads that stand beside its function.
    """

    keypoints: bool = True
    lens: bool = True
    scene: bool = True
    stature: bool = True
    timing: bool = True
    own: bool = True

    @classmethod
    def only(cls, *names: str) -> Sources:
        """Switch on the named sources and no other.

        Examples
        --------
        >>> Sources.only("lens").lens, Sources.only("lens").timing
        (True, False)
        """
        return cls(**{name: name in names for name in SOURCE_NAMES})


SOURCE_NAMES = tuple(field.name for field in fields(Sources))
"""Every source, in the order in which they are written."""

ALL_SOURCES = Sources()


def scene_drawn(scene: Scene, sources: Sources) -> Scene:
    """Hold the parts of a scene's draws that come from switched-off sources at the best estimate.

    Tilt and height were fitted to the film together with the focal length and the athlete's size,
    and go along with them: another lens would have given another height. So the draws are split in
    this order, each part being what is left by the one before: the *lens* takes the focal length
    with all that goes along with it; the *stature* takes the size of the body with what goes along
    with that; the *scene* keeps what is left of tilt and height. The parts are uncorrelated over
    the draws and sum to them. To vary the focal length alone while the camera keeps its height
    would draw cameras under which the feet leave the ground.

    Parameters
    ----------
    scene
        With (n_draws,) draws; draw 0 is the best estimate.
    sources
        What is drawn.

    Returns
    -------
    Scene
        The very same one when all its sources are on, or when none of its draws is known.
    """
    switched_on = (sources.lens, sources.stature, sources.scene)
    if all(switched_on) or not np.isfinite(scene.height_m + scene.body_scale).all():
        return scene
    left = np.column_stack(
        [
            np.log(scene.focal_px / scene.focal_px[0]),
            np.log(scene.body_scale / scene.body_scale[0]),
            scene.pitch_deg - scene.pitch_deg[0],
            scene.roll_deg - scene.roll_deg[0],
            np.log(scene.height_m / scene.height_m[0]),
        ]
    )
    if scene.goal_m is not None:
        from_goal = (scene.goal_m - scene.goal_m[0]).reshape(scene.n_draws, -1)
        left = np.concatenate([left, from_goal], axis=1)
    by_lens = _along_with(left, 0)
    by_stature = _along_with(left - by_lens, 1)
    parts = (by_lens, by_stature, left - by_lens - by_stature)
    change = np.zeros_like(left)
    for part, is_on in zip(parts, switched_on, strict=True):
        if is_on:
            change += part
    return replace(
        scene,
        focal_px=scene.focal_px[0] * np.exp(change[:, 0]),
        body_scale=scene.body_scale[0] * np.exp(change[:, 1]),
        pitch_deg=scene.pitch_deg[0] + change[:, 2],
        roll_deg=scene.roll_deg[0] + change[:, 3],
        height_m=scene.height_m[0] * np.exp(change[:, 4]),
        goal_m=None
        if scene.goal_m is None
        else scene.goal_m[0] + change[:, 5:].reshape(scene.goal_m.shape),
    )


def _along_with(changes: FloatArray, column: int) -> FloatArray:
    """Part of (n_draws, d) changes that is proportional to one of their columns (least squares)."""
    leader = changes[:, column]
    squared = float(leader @ leader)
    if squared == 0.0:
        return np.zeros_like(changes)
    part = np.outer(leader, leader @ changes / squared)
    part[:, column] = leader  # to the last bit, so that nothing of it is left for the next source
    return part


def dominant_source(u_by_source: Mapping[str, float]) -> str | None:
    """Give the source with the greatest standard uncertainty; None if none adds any.

    Examples
    --------
    >>> dominant_source({"keypoints": 0.02, "timing": 0.03, "lens": float("nan")})
    'timing'
    >>> dominant_source({"keypoints": 0.0})
    """
    known = {name: u for name, u in u_by_source.items() if math.isfinite(u) and u > 0.0}
    return max(known, key=known.__getitem__, default=None)


def root_sum_of_squares(u_by_source: Mapping[str, float]) -> float:
    """Combine the sources as if each acted alone and in proportion (GUM, JCGM 100:2008, 5.1.2).

    It need not equal the `u` of a measurement, in which all act at once: a greatest value over
    noisy frames or an angle near its end is not proportional to its causes.

    Examples
    --------
    >>> root_sum_of_squares({"keypoints": 0.03, "timing": 0.04})
    0.05
    """
    return math.hypot(*(u for u in u_by_source.values() if math.isfinite(u)))
