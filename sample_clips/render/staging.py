"""From an entry of the table to everything needed to draw the clip and to read its truth."""

from __future__ import annotations

from dataclasses import dataclass

from .body import make_body
from .camera import look
from .clips import ClipEntry
from .dress import dress
from .kinematics import Motion, move_body
from .moves import close_gap_dodge, high_to_low_shot, throwback_pass
from .moves.common import Choreography
from .paint import Drawn, Stage, with_furniture
from .scene import Scene, background, standing_pieces

_MOVES = {
    "high_to_low_shot": high_to_low_shot.choreograph,
    "throwback_pass": throwback_pass.choreograph,
    "close_gap_dodge": close_gap_dodge.choreograph,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Staging:
    """One clip, worked out: choreography, motions by role, and the stage to draw."""

    entry: ClipEntry
    choreography: Choreography
    motions: dict[str, Motion]
    stage: Stage


def build(entry: ClipEntry) -> Staging:
    """Work out one clip of the table."""
    choreography = _MOVES[entry.move](entry.order)
    people = {"athlete": (entry.athlete, choreography.athlete)}
    if entry.defender is not None and choreography.defender is not None:
        people["defender"] = (entry.defender, choreography.defender)
    motions = {
        role: move_body(make_body(p.stature_m, p.shape), plan, choreography.duration_s)
        for role, (p, plan) in people.items()
    }
    camera = look(
        size_px=entry.size_px,
        fov_long_side_deg=entry.view.fov_deg,
        position_m=entry.camera_m(),
        target_m=(*entry.centre_m(), entry.view.aim_height_m),
        roll_deg=entry.view.roll_deg,
    )
    scene = Scene(
        goal=entry.goal,
        crease=entry.crease,
        cones_m=entry.cones_m(),
        sun=entry.sun,
        grass=entry.grass,
        seed=entry.order.seed,
    )
    furniture = Drawn().add(standing_pieces(scene, camera), camera)
    stage = Stage(
        camera=camera,
        scene=scene,
        background=with_furniture(background(scene, camera), furniture),
        furniture=furniture,
        figures=[dress(motions[role], people[role][0].clothes) for role in motions],
    )
    return Staging(entry=entry, choreography=choreography, motions=motions, stage=stage)
