"""The plain data of results: measurements, ranges, verdicts, sessions, the whole analysis."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from pipeline.core.catalogue import ENGLISH, METRIC, Language, Units
from pipeline.core.messages import message
from pipeline.core.types import Clip, FloatArray, Hand, Rep, Scene, SmoothTracks
from pipeline.core.written_range import WrittenRange

Side = Literal["low", "high"]
TrendWord = Literal["rose", "fell", "no clear change"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """A prompt to take care, to look, or to ask; never a diagnosis.

    Attributes
    ----------
    key
        Which caution it is; its sentence stands under this name in the file of words.
    text
        The text.
    reps
        Indices of the reps that it is about; empty for the whole clip.
    numbers
        What it rests on, by name, in the unit that the name ends with.
    """

    key: str
    text: str
    reps: tuple[int, ...] = ()
    numbers: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionPoint:
    """One sentence or two about one measure of one move.

    Attributes
    ----------
    move, key
        What it is about.
    side
        Side of the range on which it was wrong; None for praise, for a change, and for both sides.
    text
        The text.
    """

    move: str
    key: str
    side: Side | None
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Trend:
    """The last third of the reps against the first, in the unit of the measure.

    Attributes
    ----------
    n_third
        Reps in each of the two.
    early, late
        Their means.
    u_change
        Standard uncertainty of the difference of the two means.
    smallest_real_change
        Smallest difference of two such means that is more than chance (95 %).
    probability_by_chance
        Of so large a difference where nothing changed.
    word
        Whether it rose, fell, or showed no clear change.
    """

    n_third: int
    early: float
    late: float
    u_change: float
    smallest_real_change: float
    probability_by_chance: float
    word: TrendWord


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasureSummary:
    """One measure over all reps of one move, in its own unit.

    Attributes
    ----------
    key, unit
        As in `Measurement`.
    n_measured
        Reps in which it was measured.
    mean, u_mean
        Mean over those reps, and what the measuring alone leaves open in it; None if unknown.
    spread
        Standard deviation from rep to rep as measured; None for fewer than three reps.
    noise
        Root mean square of what the measuring adds to that spread; None if unknown.
    own_spread
        The player's own: the spread with the noise taken off in quadrature; None where the noise is
        unknown or as large as the spread.
    typical_error
        Spread within parts of the session, so without a drift over it; None as for the spread.
    smallest_real_change
        Smallest difference of two single reps that is more than chance (95 %).
    n_in, n_low, n_high, n_close
        Reps in range, out of it on either side, and too close to call.
    trend
        None for fewer than six reps.
    """

    key: str
    unit: str
    n_measured: int
    mean: float
    u_mean: float | None
    spread: float | None
    noise: float | None
    own_spread: float | None
    typical_error: float | None
    smallest_real_change: float | None
    n_in: int
    n_low: int
    n_high: int
    n_close: int
    trend: Trend | None


@dataclass(frozen=True, slots=True, kw_only=True)
class MoveSummary:
    """All reps of one move in a clip: how many, and each measure that was had in one of them."""

    move: str
    n_reps: int
    measures: tuple[MeasureSummary, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionSummary:
    """All reps of a clip.

    Attributes
    ----------
    went_well, work_on
        One thing that went well and one thing to work on; None where nothing qualifies.
    trend
        What changed from the first reps to the last, or that no clear change is seen.
    moves
        Numbers per move, in the order in which the moves first appear.
    """

    went_well: SessionPoint | None = None
    work_on: SessionPoint | None = None
    trend: SessionPoint | None = None
    moves: tuple[MoveSummary, ...] = ()

    @property
    def sentences(self) -> tuple[str, ...]:
        """All sentences about the session, in order."""
        parts = (self.went_well, self.work_on, self.trend)
        return tuple(part.text for part in parts if part is not None)


VerdictWord = Literal["in range", "out of range", "too close to call", "not measured"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Measurement:
    """One measured value with its standard uncertainty, or the reason why it is missing.

    Attributes
    ----------
    key, unit
        Key in the measure table; unit symbol (m, s, deg, m/s, 1).
    value, u
        Best estimate and standard uncertainty (k = 1); None when not measured.
    interval95
        95 % interval; None when not measured.
    draws
        (n_draws - 1,) Monte Carlo values; None when not measured. Not written to files.
    frames
        Indices of the frames it was read from.
    reason
        Why there is no value, as a `Message`; None when there is one.
    ends_m
        (2, 3) the two ends of the measured line in the field frame, for the picture; None when it
        is no line. Not written to files.
    sources
        By source of uncertainty, the standard uncertainty that it makes alone (NaN where it could
        not be found); None when it was not requested.
    """

    key: str
    unit: str
    value: float | None = None
    u: float | None = None
    interval95: tuple[float, float] | None = None
    draws: FloatArray | None = None
    frames: tuple[int, ...] = ()
    reason: str | None = None
    ends_m: FloatArray | None = None
    sources: Mapping[str, float] | None = None

    def __post_init__(self) -> None:
        if (self.value is None) == (self.reason is None):
            raise ValueError(f"{self.key}: a measurement has either a value or a reason")


@dataclass(frozen=True, slots=True, kw_only=True)
class TargetRange:
    """A coach's range for one measure, bounds already in the measure's own unit.

    Attributes
    ----------
    key, unit
        As in `Measurement`.
    low, high
        Bounds; None = open on that side.
    words
        The range as the coach wrote it, e.g. ``0.94 to 1.20 of stature``.
    set_by, why
        Who set it and on what ground ("common practice, no source" for shipped defaults).
    written
        The bounds as the coach wrote them, of which `words` are made; None where only the words
        are known.
    u_low, u_high
        Standard uncertainty of a bound that is a fraction of a length which was measured.
    """

    key: str
    unit: str
    low: float | None
    high: float | None
    words: str
    set_by: str
    why: str
    written: WrittenRange | None = None
    u_low: float = 0.0
    u_high: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """A measurement compared with a range.

    Attributes
    ----------
    key
        Measure key.
    word
        One of the four words.
    side
        "low" or "high" when out of range (the side on which it lies), else None.
    probability_inside
        Probability that the true value lies inside the range; None when not measured.
    target
        The range; None when the coach set none.
    """

    key: str
    word: VerdictWord
    side: Literal["low", "high"] | None
    probability_inside: float | None
    target: TargetRange | None


@dataclass(frozen=True, slots=True)
class FieldSide:
    """Side of the field on which a rep took place, for the hand that was on top, or why not known.

    Attributes
    ----------
    side
        ``natural``: the stick hand is the one towards the middle of the field, for a right-hander
        the left side when facing the goal; else ``other``. None when it is not known.
    reason
        Why it is not known; None when it is.
    """

    side: Literal["natural", "other"] | None = None
    reason: str | None = field(default_factory=lambda: message("reasons.no_goal"))


@dataclass(frozen=True, slots=True, kw_only=True)
class FootContact:
    """One foot standing on the ground, seen from above.

    Attributes
    ----------
    foot
        Left or right.
    start_s, stop_s
        From its landing, or from where the rep starts, until it is lifted, in clip time.
    heel_m, toe_m
        x and y in the field frame, by the best estimate, mean over that time.
    """

    foot: Hand
    start_s: float
    stop_s: float
    heel_m: tuple[float, float]
    toe_m: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Walk:
    """Where one person went in a rep, seen from above.

    Attributes
    ----------
    time_s
        (n,) times from the clip's first frame.
    hips_m
        (n, 2) mid-hip in the field frame by the best estimate; NaN where unknown.
    contacts
        In the order in which the feet landed.
    """

    time_s: FloatArray
    hips_m: FloatArray
    contacts: tuple[FootContact, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class GroundPath:
    """The ground of one rep seen from above; for drawing, not written to files.

    Attributes
    ----------
    athlete, defender
        Their ways; no defender where none was followed.
    camera_m
        x and y of the camera in the field frame.
    """

    athlete: Walk
    defender: Walk | None = None
    camera_m: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class RepResult:
    """Everything that is reported about one rep; `ground` is None where the scene has no ground."""

    rep: Rep
    measurements: Mapping[str, Measurement]
    verdicts: tuple[Verdict, ...]
    feedback: tuple[str, ...]
    cautions: tuple[Caution, ...]
    field_side: FieldSide = field(default_factory=FieldSide)
    ground: GroundPath | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RangesUsed:
    """Which version of the target ranges an analysis used.

    Attributes
    ----------
    source
        Whose ranges are the strongest: the coach's or the shipped ones.
    digest
        First 12 digits of the SHA-256 of that file.
    changed
        When it was last changed, UTC, ISO 8601; None for the shipped ones, which change with the
        program's version.
    """

    source: Literal["coach", "shipped"]
    digest: str
    changed: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Analysis:
    """The result for one clip: what the report, the tables and the log are made from.

    Attributes
    ----------
    clip
        Facts of the file.
    level, move
        Level of play and move that were requested; no move where the program finds it.
    stature_m
        As given.
    scene
        How pixels became metres.
    tracks
        Clean image joints of the followed people as seen on the film, for pictures.
    reps
        In the order of the clip.
    cautions
        Cautions for the whole clip (load, contact).
    notes
        Plain sentences on what limits this film (few pixels, low frame rate, lost frames).
    to_film
        (n_frames, 3, 3) homographies from the steadied picture, in which the scene is, to each
        frame, both without the lens's distortion; None where the camera stood still.
    athlete
        Who it is, as it was written; None if unknown.
    ranges
        Which target ranges were used; None if that is not known.
    session
        Over all reps; None where it was not summed up.
    share_computed
        Share of the film's frames in which the pose model ran, 0 to 1.
    language, units
        Of the reader: feedback and cautions are in them; `words.Words.translate` gives reasons and
        notes in them.
    """

    clip: Clip
    level: str
    move: str | None
    stature_m: float
    scene: Scene
    tracks: SmoothTracks
    reps: tuple[RepResult, ...]
    cautions: tuple[Caution, ...]
    notes: tuple[str, ...]
    to_film: FloatArray | None = None
    athlete: str | None = None
    ranges: RangesUsed | None = None
    session: SessionSummary | None = None
    share_computed: float = 1.0
    language: Language = ENGLISH
    units: Units = METRIC
