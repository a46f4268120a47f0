"""From an entry of the table to everything needed to draw the clip and to read its truth."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from .body import make_body
from .camera import Camera
from .dress import dress
from .entry import ClipEntry
from .framing import camera_of, pulled_back, scene_of
from .hardships import Hardship, PasserBy
from .kinematics import Motion, move_body
from .lens import margin_for_lens, margin_for_turns, wider
from .moves.common import Choreography
from .paint import Drawn, Stage, with_furniture
from .passing import crossing_s, line_of_walk, plan_of_walk
from .people import Person
from .performance import Performance, perform
from .scene import Scene, background, standing_pieces
from .shaking import shake_of
from .tracks import GRID_HZ

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Staging:
    """One clip, worked out: choreography, motions by role (a passer-by too), the stage to draw.

    Attributes
    ----------
    camera : Camera
        That of the clip, at its first frame and without distortion. The stage's own camera is the
        same one, or sees more round about where pictures are bent or turned afterwards.
    turns : array (n_times, 3, 3), optional
        Of a hand-held camera on the motion grid: its axes from those of the first frame.
    """

    entry: ClipEntry
    performance: Performance
    choreography: Choreography
    motions: dict[str, Motion]
    stage: Stage
    camera: Camera
    turns: Floats | None = None


def build(entry: ClipEntry) -> Staging:
    """Work out one clip of the table."""
    performance = perform(entry)
    choreography, motions = performance.choreography, dict(performance.motions)
    people = {"athlete": entry.athlete, "defender": entry.defender}
    wearers = {role: p for role, p in people.items() if p is not None and role in motions}
    hardship = entry.hardship or Hardship(name="plain")
    camera = pulled_back(entry, _bodies(motions)) if hardship.stored_turn_deg else camera_of(entry)
    if hardship.passer_by is not None:
        wearers["passer_by"] = hardship.passer_by.person
        motions["passer_by"] = _walk(hardship.passer_by, camera, choreography, motions)
    turns = None
    if hardship.shaken:
        n_times = len(motions["athlete"].time_s)
        rng = np.random.default_rng(entry.order.seed + 13)
        turns = shake_of(n_times, hardship.drift_deg, hardship.tremor_deg, rng)
    return Staging(
        entry=entry,
        performance=performance,
        choreography=choreography,
        motions=motions,
        stage=_stage(entry, _drawing_camera(camera, hardship, turns), motions, wearers),
        camera=camera,
        turns=turns,
    )


def _bodies(motions: dict[str, Motion]) -> list[Floats]:
    """Return the joints of everybody, thinned in time, without the stick."""
    return [
        points[::8]
        for motion in motions.values()
        for name, points in motion.joints_m.items()
        if not name.startswith("stick")
    ]


def _walk(
    passer_by: PasserBy, camera: Camera, choreography: Choreography, motions: dict[str, Motion]
) -> Motion:
    cross_s = crossing_s(choreography.reps, before=passer_by.before)
    paths = {role: motion.joints_m["left_hip"][:, :2] for role, motion in motions.items()}
    row = min(round(cross_s * GRID_HZ), len(paths["athlete"]) - 1)
    spot, way = line_of_walk(
        passer_by, camera.position_m[:2], paths["athlete"][row], list(paths.values())
    )
    plan = plan_of_walk(passer_by, spot, way, cross_s, choreography.duration_s)
    person = passer_by.person
    return move_body(make_body(person.stature_m, person.shape), plan, choreography.duration_s)


def _drawing_camera(camera: Camera, hardship: Hardship, turns: Floats | None) -> Camera:
    if turns is not None:
        return wider(camera, margin_for_turns(camera, turns[::8]))
    if hardship.distorted:
        return wider(camera, margin_for_lens(camera, hardship.distortion))
    return camera


class _Backdrop:
    """Scene and camera as one key: clips of the same view share their background."""

    def __init__(self, scene: Scene, camera: Camera) -> None:
        self.scene, self.camera = scene, camera
        place = (camera.position_m.tobytes(), camera.rotation.tobytes())
        self._key = (scene, camera.size_px, camera.fov_long_side_deg, *place)

    def __hash__(self) -> int:
        return hash(self._key)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Backdrop) and self._key == other._key


@lru_cache(maxsize=4)
def _background(key: _Backdrop) -> NDArray[np.uint8]:
    return background(key.scene, key.camera)


def _stage(
    entry: ClipEntry, camera: Camera, motions: dict[str, Motion], wearers: dict[str, Person]
) -> Stage:
    scene = scene_of(entry)
    furniture = Drawn().add(standing_pieces(scene, camera), camera)
    return Stage(
        camera=camera,
        scene=scene,
        background=with_furniture(_background(_Backdrop(scene, camera)), furniture),
        furniture=furniture,
        figures=[
            dress(
                motions[role],
                wearers[role].clothes,
                with_stick=role != "passer_by",
                cells_m=entry.cells_m,
            )
            for role in motions
        ],
    )
