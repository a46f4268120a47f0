"""The reps of a clip: of the move or drill that was asked for, or of any move where none was."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from models.moves.classifier import MoveClassifier
from pipeline.core.types import Clip, Rep, Scene
from pipeline.moves.body_frame import body_frame
from pipeline.moves.finders import FINDERS
from pipeline.moves.signals import signals_of
from pipeline.scene.depth import Placed
from pipeline.scene.motion import motion_of
from pipeline.settings.settings import AnalysisSettings
from pipeline.teaching.drill_reps import find_drill_reps
from pipeline.teaching.drills import Drill


def find_reps(
    clip: Clip,
    people: Sequence[Placed],
    scene: Scene,
    settings: AnalysisSettings,
    drill: Drill | None = None,
    classifier: MoveClassifier | None = None,
) -> list[Rep]:
    """Find the reps of the move that was asked for, or of any move where none was.

    Parameters
    ----------
    clip
        For the times.
    people
        The athlete, and the defender if there is one, placed over the clip.
    scene
        The camera.
    settings
        For the move, and the hand if it was told.
    drill
        The move that was asked for, where it is one that was taught.
    classifier
        Names the moves where none was asked for; None = the shipped one.

    Returns
    -------
    list of Rep
        Empty when the athlete was hardly seen.
    """
    if clip.n_frames < 8 or np.isfinite(people[0].depth_m[:, 0]).sum() < 8:
        return []
    motions = [
        motion_of(person, clip.time_s, scene, 0, clip.n_frames, n_draws=1) for person in people
    ]
    if settings.move is None:
        # Here, not above: a clip whose move was told needs no classifier.
        from pipeline.moves.naming.find_all import find_all_reps

        other = motions[1] if len(motions) > 1 else None
        return find_all_reps(motions[0], other, settings.stick_hand, classifier=classifier)
    signals = [signals_of(motion) for motion in motions]
    defender = signals[1] if len(signals) > 1 else None
    if drill is not None:
        frame = body_frame(motions[0], signals[0])
        return find_drill_reps(drill, frame, signals[0], defender, settings.stick_hand)
    return FINDERS[settings.move].find_reps(signals[0], defender, settings.stick_hand)
