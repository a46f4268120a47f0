"""Which function measures what; the rest about a measure is its row in ``table``."""

from __future__ import annotations

from pipeline.measures import (
    angles,
    dodging,
    goal,
    hands,
    plant_leg,
    spacing,
    steps,
    turns,
)
from pipeline.measures.view import MeasureFunction

FUNCTIONS: dict[str, MeasureFunction] = {
    "hand_height_before_release_m": hands.hand_height_before_release,
    "hands_high_hold_s": hands.hands_high_hold,
    "hand_drop_m": hands.hand_drop,
    "fake_to_release_s": hands.fake_to_release,
    "head_pitch_at_fake_deg": hands.head_pitch_at_fake,
    "release_height_m": hands.release_height,
    "top_hand_speed_mps": hands.top_hand_speed,
    "hands_from_body_m": hands.hands_from_body,
    "step_back_m": steps.step_back,
    "step_back_sideways_m": steps.step_back_sideways,
    "steps_back": steps.steps_back,
    "plant_to_release_s": steps.plant_to_release,
    "turn_away_deg": angles.turn_away,
    "separation_deg": angles.separation,
    "elbow_at_release_deg": angles.elbow_at_release,
    "front_knee_at_plant_deg": angles.front_knee_at_plant,
    "trunk_lean_deg": angles.trunk_lean,
    "cushion_m": spacing.cushion,
    "cushion_gap_m": spacing.cushion_gap,
    "cushion_arm_ratio": spacing.cushion_arm_ratio,
    "defender_arm_length_m": spacing.defender_arm_length,
    "approach_speed_mps": spacing.approach_speed,
    "exit_speed_mps": spacing.exit_speed,
    "speed_kept_ratio": spacing.speed_kept,
    "cut_angle_deg": dodging.cut_angle,
    "jab_width_m": dodging.jab_width,
    "hand_switch_s": dodging.hand_switch,
    "roll_turn_deg": dodging.roll_turn,
    "roll_time_s": dodging.roll_time,
    "pivot_drift_m": dodging.pivot_drift,
    "hitch_drop_ratio": dodging.hitch_drop,
    "hitch_s": dodging.hitch_time,
    "knee_in_deg": plant_leg.knee_in,
    "trunk_over_plant_deg": plant_leg.trunk_over_plant,
    "hand_dip_m": hands.hand_dip,
    "hand_lift_m": hands.hand_lift,
    "pelvis_turn_speed_dps": turns.pelvis_turn_speed,
    "trunk_turn_speed_dps": turns.trunk_turn_speed,
    "pelvis_to_trunk_s": turns.pelvis_to_trunk,
    "trunk_to_hand_s": turns.trunk_to_hand,
    "pivot_line_offset_m": steps.pivot_line_offset,
    "shot_angle_deg": goal.shot_angle,
}

NEEDS_NO_GROUND = {
    "hands_high_hold_s",
    "fake_to_release_s",
    "separation_deg",
    "turn_away_deg",
    "elbow_at_release_deg",
    "pelvis_turn_speed_dps",
    "trunk_turn_speed_dps",
    "pelvis_to_trunk_s",
    "trunk_to_hand_s",
}
"""Times between movements of the hands, and angles that hold in any frame of reference: also to be
had in grade C. The plant is told by the way on the ground; without it, it was up to 0.4 s off."""

FROM_OWN_FOOT = {
    "hand_height_before_release_m",
    "hand_drop_m",
    "release_height_m",
    "hand_dip_m",
    "hand_lift_m",
}
"""Heights above the foot that one stands on: in grade C where the feet are seen to stand."""
