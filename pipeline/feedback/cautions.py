"""Cautions for a clip: contact, rules of youth play, prompts where to look, how many reps."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

from calibration.anthropometry import arm_length_m
from pipeline.core.move_table import kind_of
from pipeline.core.results import Caution, Measurement, RepResult, SessionSummary
from pipeline.feedback.words import Words, listed, load_words, mean_text, number_text
from pipeline.measures import MEASURES


def prompts() -> dict[str, str]:
    """Give the key of the measure that each prompt to look rests on, by the prompt's name."""
    return {info.prompt: info.key for info in MEASURES.values() if info.prompt is not None}


def raised_flags(measurements: Mapping[str, Measurement], words: Words) -> dict[str, Measurement]:
    """Say which prompts to look a rep gives.

    A number is a prompt when its best estimate has reached the value from which on a coach wants
    to look (``look_from`` in the file of words), and it is surely on that side at all: the whole
    95 % interval is above zero. A number without an interval prompts nothing.

    Parameters
    ----------
    measurements
        Of one rep, by measure key.
    words
        For the values to look from.

    Returns
    -------
    dict of str to Measurement
        By the name of the prompt, what it rests on.
    """
    raised = {}
    for flag, key in prompts().items():
        measurement = measurements.get(key)
        if measurement is None or measurement.value is None or measurement.interval95 is None:
            continue
        if measurement.value >= words.look_from[key] and measurement.interval95[0] > 0.0:
            raised[flag] = measurement
    return raised


def flag_cautions(
    index: int, measurements: Mapping[str, Measurement], words: Words
) -> tuple[Caution, ...]:
    """Put the prompts of one rep into words.

    Parameters
    ----------
    index
        Of the rep.
    measurements, words
        As for `raised_flags`.

    Returns
    -------
    tuple of Caution
        One for each prompt.
    """
    return tuple(
        Caution(
            key=flag,
            text=words.cautions[f"{flag}_here"].format(number=number_text(words, measurement)),
            reps=(index,),
            numbers={measurement.key: float(measurement.value or 0.0)},
        )
        for flag, measurement in raised_flags(measurements, words).items()
    )


NO_CHECKS_UP_TO_YEARS = 12
"""Age up to which body checks are not permitted (US Lacrosse Boys' Youth Rules 2017, 12U)."""


def find_cautions(
    reps: Sequence[RepResult],
    *,
    stature_m: float,
    defender_in_view: bool,
    level: str = "any",
    age_years: float | None = None,
    session: SessionSummary | None = None,
    words: Words | None = None,
) -> tuple[Caution, ...]:
    """Give a clip's cautions on load, contact and where to look, once per clip.

    Nothing here is a diagnosis. Contact is named when the 95 % interval of the distance reaches
    below an arm's length, because a caution too many costs little; when a defender is in view and
    the distance could not be measured, that is named too.

    Parameters
    ----------
    reps
        In the order of the clip, of one move or of several.
    stature_m
        The athlete's stature in metres, for the defender's arm where it was not measured.
    defender_in_view
        Whether a second person was followed.
    level, age_years
        Level of play, and the athlete's age; None = unknown.
    session
        For what changed from the first reps to the last.
    words
        Sentences; the shipped ones by default.

    Returns
    -------
    tuple of Caution
        None for a clip without reps; what concerns contact comes first.
    """
    words = words or load_words()
    if not reps:
        return ()
    return (
        *_contact(
            reps,
            words,
            stature_m=stature_m,
            defender_in_view=defender_in_view,
            level=level,
            age_years=age_years,
        ),
        *_looks(reps, words),
        *_dropping(session, words),
        _load(reps, words),
    )


def not_scorable(moves: Sequence[str], words: Words | None = None) -> tuple[str, ...]:
    """Say once for a clip with dodges which published score a single camera cannot give.

    The Cutting Movement Assessment Score needs three cameras (Dos'Santos et al. 2019, Physical
    Therapy in Sport 38:152-161), so nothing like it is made up from one.
    """
    words = words or load_words()
    dodges = any(kind_of(move) == "dodge" for move in moves)
    return (words.notes["cutting_score"],) if dodges else ()


def _contact(
    reps: Sequence[RepResult],
    words: Words,
    *,
    stature_m: float,
    defender_in_view: bool,
    level: str,
    age_years: float | None,
) -> list[Caution]:
    found = [(result.rep.index, _within_reach(result.measurements, stature_m)) for result in reps]
    near = tuple(index for index, within in found if within is True)
    unknown = tuple(index for index, within in found if within is None)
    if not near and not (unknown and defender_in_view):
        return []
    spoken_of = near or unknown
    key = "contact" if near else "contact_unknown"
    cautions = [_caution(words, key, spoken_of)]
    young = age_years is not None and age_years < NO_CHECKS_UP_TO_YEARS + 1
    if young:
        numbers = {"age_years": float(age_years or 0.0)}
        cautions.append(_caution(words, "no_checks", spoken_of, numbers))
    elif age_years is None and level == "youth":
        cautions.append(_caution(words, "no_checks_if", spoken_of))
    if near and not young:
        cautions.append(_caution(words, "checks", near))
    if near:
        cautions.append(_caution(words, "warding", near))
    return cautions


def _caution(
    words: Words, key: str, indices: tuple[int, ...], numbers: Mapping[str, float] | None = None
) -> Caution:
    text = words.cautions[key].format(reps=_reps_text(words, indices))
    return Caution(key=key, text=text, reps=indices, numbers=dict(numbers or {}))


def _looks(reps: Sequence[RepResult], words: Words) -> list[Caution]:
    """Prompts to look, each once with the reps that gave it and the greatest number."""
    by_rep = [(result.rep.index, raised_flags(result.measurements, words)) for result in reps]
    cautions = []
    for flag, key in prompts().items():
        found = [(index, raised[flag]) for index, raised in by_rep if flag in raised]
        if found:
            greatest = max((m for _, m in found), key=lambda m: m.value or 0.0)
            indices = tuple(index for index, _ in found)
            text = words.cautions[flag].format(
                reps=_reps_text(words, indices), number=number_text(words, greatest)
            )
            numbers = {key: float(greatest.value or 0.0)}
            cautions.append(Caution(key=flag, text=text, reps=indices, numbers=numbers))
    return cautions


def _dropping(session: SessionSummary | None, words: Words) -> list[Caution]:
    """Say what came down from the first reps to the last: once for a clip, the surest."""
    found = [
        (measure.key, measure.trend)
        for move in (session.moves if session is not None else ())
        for measure in move.measures
        if measure.trend is not None
        and measure.trend.word == "fell"
        and _mentions_fatigue(measure.key, move.move)
    ]
    if not found:
        return []
    key, trend = min(found, key=lambda pair: pair[1].probability_by_chance)
    text = words.cautions["dropping_late"].format(
        name=words.measure[key]["name"],
        k=trend.n_third,
        early=mean_text(words, key, trend.early),
        late=mean_text(words, key, trend.late),
    )
    numbers = {f"early_{key}": trend.early, f"late_{key}": trend.late}
    return [Caution(key="dropping_late", text=text, numbers=numbers)]


def _mentions_fatigue(key: str, move: str) -> bool:
    """Whether a measure that comes down in a move may indicate a tired arm."""
    info = MEASURES.get(key)
    return info is not None and info.falls_when_tired and move not in info.may_fall_in


def _load(reps: Sequence[RepResult], words: Words) -> Caution:
    """Count what is in the clip, by what it is counted as: throws, dodges, other reps."""
    kinds = Counter(
        tuple(words.moves.get(result.rep.move, words.moves["unknown"])[n] for n in ("one", "many"))
        for result in reps
    )
    counts = [f"{n} {one if n == 1 else many}" for (one, many), n in kinds.items()]
    text = words.cautions["load"].format(count=listed(words, counts))
    return Caution(key="load", text=text, numbers={"n_reps": float(len(reps))})


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


def _reps_text(words: Words, indices: Sequence[int]) -> str:
    name = "one_rep" if len(indices) == 1 else "many_reps"
    return words.cautions[name].format(list=listed(words, indices))
