"""All feedback of a clip once its reps are measured and judged: reps, session, cautions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from pipeline.core.results import Caution, RepResult, SessionSummary
from pipeline.feedback.cautions import find_cautions, flag_cautions, not_scorable, raised_flags
from pipeline.feedback.rep_feedback import rep_sentences
from pipeline.feedback.session_feedback import session_sentences
from pipeline.feedback.words import Words, load_words
from pipeline.measures.advice import Advice


@dataclass(frozen=True, slots=True, kw_only=True)
class ClipFeedback:
    """Feedback of a clip.

    Attributes
    ----------
    reps
        The reps with their feedback and their prompts to look.
    session
        Over all of them.
    cautions, notes
        Once for the clip.
    """

    reps: tuple[RepResult, ...]
    session: SessionSummary
    cautions: tuple[Caution, ...]
    notes: tuple[str, ...]


def clip_feedback(
    reps: Sequence[RepResult],
    *,
    stature_m: float,
    defender_in_view: bool,
    level: str = "any",
    age_years: float | None = None,
    words: Words | None = None,
) -> ClipFeedback:
    """Write the feedback for the reps of a clip, of one move or of several.

    The session comes first: advice for a rep does not pull against that for the session.

    Parameters
    ----------
    reps
        Measured and judged, in the order of the clip; feedback and cautions are written anew.
    stature_m
        The athlete's stature.
    defender_in_view
        Whether a second person was followed.
    level, age_years
        Level of play, and the athlete's age if known.
    words
        Sentences; the shipped ones by default.
    """
    words = words or load_words()
    session = session_sentences(reps, words)
    cautions = find_cautions(
        reps,
        stature_m=stature_m,
        defender_in_view=defender_in_view,
        level=level,
        age_years=age_years,
        session=session,
        words=words,
    )
    return ClipFeedback(
        reps=tuple(_with_feedback(result, session, words) for result in reps),
        session=session,
        cautions=cautions,
        notes=not_scorable([result.rep.move for result in reps], words),
    )


def _with_feedback(result: RepResult, session: SessionSummary, words: Words) -> RepResult:
    rep, leading = result.rep, _leading(session, result.rep.move)
    feedback = rep_sentences(
        rep.move,
        result.measurements,
        result.verdicts,
        words,
        flags=tuple(raised_flags(result.measurements, words)),
        leading=leading,
    )
    cautions = flag_cautions(rep.index, result.measurements, words)
    return replace(result, feedback=feedback, cautions=cautions)


def _leading(session: SessionSummary, move: str) -> Advice | None:
    """Return what the session advises to do better in this move."""
    work_on = session.work_on
    if work_on is None or work_on.side is None or work_on.move != move:
        return None
    return work_on.key, work_on.side
