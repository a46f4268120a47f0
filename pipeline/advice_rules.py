"""Which advice pulls against which, or against a prompt to look, and which is never given alone."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from pipeline.session_types import Side

Advice = tuple[str, Side]
"""Measure and the side on which it was wrong: ("jab_width_m", "low") asks for a wider plant."""

_LOADS_THE_KNEE: frozenset[Advice] = frozenset(
    {
        ("jab_width_m", "low"),
        ("cut_angle_deg", "low"),
        ("approach_speed_mps", "low"),
        ("exit_speed_mps", "low"),
        ("speed_kept_ratio", "low"),
    }
)
"""Advice that makes a cut quicker and loads the knee more.

A wider and a faster cut are quicker, and the same traits raise the load on the knee (Dos'Santos et
al. 2021, Sports Medicine 51); width, speed and angle of a cut each raise it by 12 to 19 % for one
standard deviation (Kristianslund et al. 2014, British Journal of Sports Medicine).
"""

_TURNS_FASTER: frozenset[Advice] = frozenset(
    {
        ("separation_deg", "low"),
        ("trunk_turn_speed_dps", "low"),
        ("pelvis_turn_speed_dps", "low"),
        ("top_hand_speed_mps", "low"),
    }
)
"""Advice to turn further or faster.

Players with a painful back turned 14 to 23 % slower (Wasser et al. 2024, Orthopaedic Journal of
Sports Medicine 12(3)): slow can follow pain, so that this is never all that is said.
"""

RIDERS: Mapping[Advice, str] = {
    **dict.fromkeys(_LOADS_THE_KNEE, "knee"),
    **dict.fromkeys(_TURNS_FASTER, "pain"),
}
"""Name of the sentence that goes with an advice wherever it is given."""

AGAINST_FLAG: Mapping[str, frozenset[Advice]] = {
    # A stiff knee goes with a knee that drifts in: neither is a straighter leg asked for.
    "knee_in": _LOADS_THE_KNEE | {("front_knee_at_plant_deg", "low")},
    "trunk_over_plant": _LOADS_THE_KNEE | {("trunk_lean_deg", "low")},
}
"""Advice that is not given, nor the same praised, while there is a prompt to look at that."""

AGAINST_EACH_OTHER: frozenset[frozenset[Advice]] = frozenset(
    frozenset(pair)
    for pair in (
        # Longer or further, and quicker at the same time.
        (("hands_high_hold_s", "low"), ("fake_to_release_s", "high")),
        (("hands_high_hold_s", "high"), ("fake_to_release_s", "low")),
        (("step_back_m", "low"), ("plant_to_release_s", "high")),
        (("steps_back", "low"), ("plant_to_release_s", "high")),
        (("hand_lift_m", "low"), ("fake_to_release_s", "high")),
        (("hand_dip_m", "low"), ("fake_to_release_s", "high")),
        # Down and up with the same hand.
        (("hand_drop_m", "low"), ("release_height_m", "low")),
        (("hand_drop_m", "low"), ("hand_height_before_release_m", "high")),
        (("hand_drop_m", "high"), ("release_height_m", "high")),
        (("hand_drop_m", "high"), ("hand_height_before_release_m", "low")),
        # Faster in, and turn harder: what is faster turns less.
        (("approach_speed_mps", "low"), ("cut_angle_deg", "low")),
        (("approach_speed_mps", "low"), ("speed_kept_ratio", "low")),
        # Further from the defender, and closer to him.
        (("cushion_arm_ratio", "low"), ("cushion_gap_m", "high")),
        (("cushion_arm_ratio", "high"), ("cushion_gap_m", "low")),
        (("cushion_m", "low"), ("cushion_gap_m", "high")),
        (("cushion_m", "high"), ("cushion_gap_m", "low")),
        (("cushion_m", "low"), ("cushion_arm_ratio", "high")),
        (("cushion_m", "high"), ("cushion_arm_ratio", "low")),
        # Slow down for the hitch, and keep the speed.
        (("hitch_drop_ratio", "high"), ("speed_kept_ratio", "low")),
        (("hitch_s", "low"), ("speed_kept_ratio", "low")),
        # Stay open, and wind up further.
        (("turn_away_deg", "high"), ("separation_deg", "low")),
        (("hands_from_body_m", "low"), ("elbow_at_release_deg", "high")),
    )
)
"""Pairs of advice that cannot be followed at the same time, or each make the other harder."""


def held_back(advice: Advice, flags: Collection[str]) -> bool:
    """Whether an advice pulls against a prompt to look, and is therefore not given.

    Examples
    --------
    >>> held_back(("jab_width_m", "low"), {"knee_in"})
    True
    >>> held_back(("jab_width_m", "high"), {"knee_in"})
    False
    """
    return any(advice in AGAINST_FLAG.get(flag, frozenset()) for flag in flags)


def praise_held_back(key: str, flags: Collection[str]) -> bool:
    """Whether a measure is not praised, because more of it pulls against a prompt to look."""
    return any(key == held for flag in flags for held, _ in AGAINST_FLAG.get(flag, frozenset()))


def pull_apart(one: Advice, other: Advice) -> bool:
    """Whether two pieces of advice pull against each other; the same measure is not asked here."""
    return frozenset((one, other)) in AGAINST_EACH_OTHER
