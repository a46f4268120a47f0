"""Cautions for a whole clip: the count for the training log, and contact with a defender."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from calibration.anthropometry import arm_length_m
from pipeline.types import Measurement
from pipeline.words import Words, load_words


def find_cautions(
    move: str,
    reps: Sequence[Mapping[str, Measurement]],
    *,
    stature_m: float,
    defender_in_view: bool,
    words: Words | None = None,
) -> tuple[str, ...]:
    """Say once per clip what a careful coach would say about load and contact.

    Nothing here is a diagnosis. Contact is named when the 95 % interval of the distance reaches
    below an arm's length, because a caution too many costs little; when a defender is in view and
    the distance could not be measured, that is named too.

    Parameters
    ----------
    move
        Key of the move.
    reps
        Measurements of each rep, by measure key, in the order of the clip.
    stature_m
        The athlete's stature in metres, for the defender's arm where it was not measured.
    defender_in_view
        Whether a second person was followed.
    words
        Sentences; the shipped ones by default.

    Returns
    -------
    tuple of str
        No sentence for a clip without reps.
    """
    words = words or load_words()
    if not reps:
        return ()
    counted = words.moves.get(move, words.moves["unknown"])
    count = f"{len(reps)} {counted['one' if len(reps) == 1 else 'many']}"
    cautions = [words.cautions["load"].format(count=count)]
    found = [_within_reach(measurements, stature_m) for measurements in reps]
    near = [index for index, within in enumerate(found, start=1) if within is True]
    unknown = [index for index, within in enumerate(found, start=1) if within is None]
    if near:
        cautions.append(words.cautions["contact"].format(reps=_say_reps(words, near)))
    elif unknown and defender_in_view:
        reps_said = _say_reps(words, unknown)
        cautions.append(words.cautions["contact_unknown"].format(reps=reps_said))
    return tuple(cautions)


def _within_reach(measurements: Mapping[str, Measurement], stature_m: float) -> bool | None:
    """Whether the defender may have been closer than an arm; None if nothing was measured."""
    known = []
    ratio = _lowest(measurements.get("cushion_arm_ratio"))
    if ratio is not None:
        known.append(ratio < 1.0)
    gap_m = _lowest(measurements.get("cushion_gap_m"))
    if gap_m is not None:
        known.append(gap_m < _arm_length_m(measurements, stature_m))
    return any(known) if known else None


def _arm_length_m(measurements: Mapping[str, Measurement], stature_m: float) -> float:
    """Length of the defender's arm: as it was used for the ratio, else by body proportion."""
    cushion = measurements.get("cushion_m")
    ratio = measurements.get("cushion_arm_ratio")
    if cushion is not None and ratio is not None and cushion.value and ratio.value:
        return cushion.value / ratio.value
    return float(arm_length_m(stature_m).value_m)


def _lowest(measurement: Measurement | None) -> float | None:
    """Lower end of the 95 % interval, or the value where there is no interval."""
    if measurement is None or measurement.value is None:
        return None
    return measurement.value if measurement.interval95 is None else measurement.interval95[0]


def _say_reps(words: Words, indices: Sequence[int]) -> str:
    if len(indices) == 1:
        return words.cautions["one_rep"].format(list=indices[0])
    listed = f"{', '.join(map(str, indices[:-1]))} and {indices[-1]}"
    return words.cautions["many_reps"].format(list=listed)
