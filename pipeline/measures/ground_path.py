"""Where people went in a rep, seen from above: the way of the hips and where the feet stood."""

from __future__ import annotations

import numpy as np

from pipeline.core.arrays import runs
from pipeline.core.results import FootContact, GroundPath, Walk
from pipeline.core.types import FloatArray, Hand, Motion, Rep, Scene
from pipeline.scene.depth import Placed
from pipeline.scene.motion import motion_of

_FEET: tuple[Hand, Hand] = ("left", "right")


def ground_path(
    rep: Rep, *, athlete: Placed, defender: Placed | None, scene: Scene, time_s: FloatArray
) -> GroundPath | None:
    """Give the ways of the people of a rep by the best estimate.

    Parameters
    ----------
    rep
        For its window.
    athlete, defender
        Placed over the whole clip.
    scene
        The camera.
    time_s
        (n_frames,) times of the clip.

    Returns
    -------
    GroundPath or None
        None where the scene has no ground (grade C) or the rep has no frames.
    """
    if scene.grade == "C" or rep.stop_frame <= rep.start_frame:
        return None

    def walk(person: Placed) -> Walk:
        motion = motion_of(person, time_s, scene, rep.start_frame, rep.stop_frame, n_draws=1)
        return walk_of(motion)

    return GroundPath(
        athlete=walk(athlete),
        defender=None if defender is None else walk(defender),
    )


def walk_of(motion: Motion) -> Walk:
    """Give the way of one person over a motion.

    Parameters
    ----------
    motion
        Of which the best estimate (draw 0) is used.

    Returns
    -------
    Walk
        A contact during which heel or toe was never known is left out.
    """
    contacts = []
    for i_foot, foot in enumerate(_FEET):
        heel_m, toe_m = (motion.joint(f"{foot}_{part}")[0, :, :2] for part in ("heel", "toe"))
        for start, stop in runs(motion.contact[:, i_foot]):
            heel, toe = _mean(heel_m[start:stop]), _mean(toe_m[start:stop])
            if heel is None or toe is None:
                continue
            contacts.append(
                FootContact(
                    foot=foot,
                    start_s=float(motion.time_s[start]),
                    stop_s=float(motion.time_s[stop - 1]),
                    heel_m=heel,
                    toe_m=toe,
                )
            )
    return Walk(
        time_s=motion.time_s,
        hips_m=np.asarray(motion.middle("hip")[0, :, :2], float),
        contacts=tuple(sorted(contacts, key=lambda contact: contact.start_s)),
    )


def _mean(places_m: FloatArray) -> tuple[float, float] | None:
    known = places_m[np.isfinite(places_m).all(axis=1)]
    if known.size == 0:
        return None
    x_m, y_m = known.mean(axis=0)
    return float(x_m), float(y_m)
