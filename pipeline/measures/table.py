"""The table of measures: the unit of each, its decimals, and the moves it belongs to.

Adding a measure is one function in a module beside this one and one row here; its title and what is
said of it stand in the catalogues of texts.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from pipeline.message import shipped

Unit = Literal["m", "s", "deg", "m/s", "deg/s", "1"]
UnitWord = Literal["m", "s", "deg", "mps", "dps", "ratio", "count"]

UNIT_WORDS: dict[Unit, tuple[UnitWord, ...]] = {
    "m": ("m",),
    "s": ("s",),
    "deg": ("deg",),
    "m/s": ("mps",),
    "deg/s": ("dps",),
    "1": ("ratio", "count"),
}
"""How each unit symbol is written as the last word of a name."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasureInfo:
    """What is fixed about one measure.

    Attributes
    ----------
    key
        Name of the measure; its last word is the unit, except for counts.
    unit
        Unit symbol: m, s, deg, m/s, deg/s or 1.
    decimals
        Decimals that are shown to people; 0 with unit 1 is a count.
    moves
        Keys of the moves it is measured in.
    """

    key: str
    unit: Unit
    decimals: int
    moves: tuple[str, ...]

    @property
    def title(self) -> str:
        """Name in plain English, as a row heading; it stands in the catalogue of texts."""
        return shipped().title(self.key)

    @property
    def unit_word(self) -> UnitWord:
        """The unit as the last word of a name: m, s, deg, mps, dps, ratio or count.

        Examples
        --------
        >>> MEASURES["top_hand_speed_mps"].unit_word
        'mps'
        >>> MEASURES["steps_back"].unit_word
        'count'
        """
        if self.unit == "1":
            return "count" if self.decimals == 0 else "ratio"
        return UNIT_WORDS[self.unit][0]

    @property
    def is_count(self) -> bool:
        """Whether the value is a whole number of things."""
        return self.unit_word == "count"


_SHOT = "high_to_low_shot"
_THROWBACK = "throwback_pass"
_DODGE = "close_gap_dodge"
_LOW_TO_HIGH = "low_to_high_shot"
_ON_THE_RUN = "on_the_run_shot"
_STEP_DOWN = "step_down_shot"
_PIVOT = "pivot_throwback_pass"
_FAKES = (_SHOT, _LOW_TO_HIGH)
_PASSES = (_THROWBACK, _PIVOT)
_SHOTS = (_SHOT, _LOW_TO_HIGH, _ON_THE_RUN, _STEP_DOWN)
_THROWS = (*_SHOTS, *_PASSES)
_SPLIT, _ANGLE_CUT = "split_dodge", "angle_cut_dodge"
_ROLL, _HESITATION = "roll_dodge", "hesitation_dodge"
_DODGES = (_DODGE, _SPLIT, _ANGLE_CUT, _ROLL, _HESITATION)
_ALL = (*_THROWS, *_DODGES)


def _row(key: str, unit: Unit, decimals: int, *moves: str) -> MeasureInfo:
    return MeasureInfo(key=key, unit=unit, decimals=decimals, moves=moves)


_ROWS = (
    _row("hand_height_before_release_m", "m", 2, _SHOT),
    _row("hands_high_hold_s", "s", 2, _SHOT),
    _row("hand_drop_m", "m", 2, _SHOT),
    _row("fake_to_release_s", "s", 2, *_FAKES),
    _row("head_pitch_at_fake_deg", "deg", 0, *_FAKES),
    _row("step_back_m", "m", 2, *_PASSES),
    _row("step_back_sideways_m", "m", 2, *_PASSES),
    _row("steps_back", "1", 0, *_PASSES),
    _row("turn_away_deg", "deg", 0, *_PASSES),
    _row("plant_to_release_s", "s", 2, *_PASSES),
    _row("cushion_m", "m", 2, *_DODGES),
    _row("cushion_gap_m", "m", 2, *_DODGES),
    _row("cushion_arm_ratio", "1", 2, *_DODGES),
    _row("defender_arm_length_m", "m", 2, *_DODGES),
    _row("approach_speed_mps", "m/s", 1, *_DODGES),
    _row("exit_speed_mps", "m/s", 1, *_DODGES),
    _row("speed_kept_ratio", "1", 2, *_DODGES),
    _row("release_height_m", "m", 2, *_THROWS),
    _row("top_hand_speed_mps", "m/s", 1, *_THROWS),
    _row("separation_deg", "deg", 0, *_SHOTS),
    _row("hands_from_body_m", "m", 2, *_SHOTS),
    _row("elbow_at_release_deg", "deg", 0, *_THROWS),
    _row(
        "front_knee_at_plant_deg",
        "deg",
        0,
        *_PASSES,
        _ON_THE_RUN,
        _STEP_DOWN,
        *_DODGES,
    ),
    _row("trunk_lean_deg", "deg", 0, *_ALL),
    _row("hand_dip_m", "m", 2, _LOW_TO_HIGH),
    _row("hand_lift_m", "m", 2, _LOW_TO_HIGH),
    _row("pelvis_turn_speed_dps", "deg/s", 0, *_SHOTS),
    _row("trunk_turn_speed_dps", "deg/s", 0, *_SHOTS),
    _row("pelvis_to_trunk_s", "s", 2, *_SHOTS),
    _row("trunk_to_hand_s", "s", 2, *_SHOTS),
    _row("pivot_line_offset_m", "m", 2, _PIVOT),
    _row("shot_angle_deg", "deg", 0, *_SHOTS),
    _row("cut_angle_deg", "deg", 0, _SPLIT, _ANGLE_CUT),
    _row("jab_width_m", "m", 2, _SPLIT),
    _row("hand_switch_s", "s", 2, _SPLIT),
    _row("roll_turn_deg", "deg", 0, _ROLL),
    _row("roll_time_s", "s", 2, _ROLL),
    _row("pivot_drift_m", "m", 2, _ROLL),
    _row("hitch_drop_ratio", "1", 2, _HESITATION),
    _row("hitch_s", "s", 2, _HESITATION),
    _row("knee_in_deg", "deg", 0, *_DODGES),
    _row("trunk_over_plant_deg", "deg", 0, *_DODGES),
)

MEASURES: dict[str, MeasureInfo] = {row.key: row for row in _ROWS}
"""Every measure by its key, in the order in which they are shown."""


def measures_of(move: str) -> tuple[MeasureInfo, ...]:
    """Measures of one move, in the order in which they are shown; empty for an unknown move.

    Parameters
    ----------
    move
        Key of a move, such as ``throwback_pass``.

    Returns
    -------
    tuple of MeasureInfo
        Rows of the table.
    """
    return tuple(row for row in _ROWS if move in row.moves)


def measures_with_range(move: str) -> tuple[MeasureInfo, ...]:
    """Measures that a range may be set for: those of a move; any of all, for a taught drill."""
    return measures_of(move) or _ROWS


def unit_word_of(key: str) -> str:
    """Give the unit word of a measure; of one not in the table, the last word of its key."""
    if key in MEASURES:
        return MEASURES[key].unit_word
    last = key.rpartition("_")[2]
    return last if last in {word for words in UNIT_WORDS.values() for word in words} else "ratio"
