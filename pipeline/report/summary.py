"""The head of the report: facts about the film, what went well, one thing to work on."""

from __future__ import annotations

import math
from dataclasses import dataclass

from pipeline.core.results import Analysis, RangesUsed, SessionPoint
from pipeline.feedback.words import Words, raised


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """One block of the report's summary.

    Attributes
    ----------
    style
        Class in the style sheet: well, work, trend or rep.
    label
        Kind of block, as text.
    headline
        The point in a few words; may be empty.
    text
        The point in full, with its number and target range.
    """

    style: str
    label: str
    headline: str
    text: str


def summary_blocks(words: Words, analysis: Analysis) -> list[Block]:
    """Return the blocks of the summary; empty where no rep was found.

    A clip with a single rep has no session: its blocks are the feedback on the rep.

    Parameters
    ----------
    words
        Phrases.
    analysis
        The result for one clip, with its session.
    """
    session, texts = analysis.session, words.report
    if session is None or not session.sentences:
        if len(analysis.reps) != 1:
            return []
        return [
            Block(style="rep", label=texts["one_rep"], headline="", text=sentence)
            for sentence in analysis.reps[0].feedback
        ]
    well, work, trend = session.went_well, session.work_on, session.trend
    blocks = [
        Block(
            style="well",
            label=texts["well"],
            headline="" if well is None else _name(words, well),
            text=texts["no_well"] if well is None else well.text,
        ),
        Block(
            style="work",
            label=texts["work"],
            headline="" if work is None else advice_headline(words, work),
            text=texts["no_work"] if work is None else work.text,
        ),
    ]
    if trend is not None:
        blocks.append(Block(style="trend", label=texts["trend"], headline="", text=trend.text))
    return blocks


def _name(words: Words, point: SessionPoint) -> str:
    phrases = words.for_move(point.move).measure.get(point.key, {})
    return raised(phrases.get("name", ""))


def advice_headline(words: Words, point: SessionPoint) -> str:
    """Return what to work on in a few words."""
    if point.side is None:
        return words.report["work_both"]
    phrases = words.for_move(point.move).measure.get(point.key, {})
    return raised(phrases.get(f"try_{point.side}", ""))


def facts_of(words: Words, analysis: Analysis) -> list[tuple[str, str]]:
    """Return name and text of each fact about the film, in display order."""
    clip, texts = analysis.clip, words.report
    size = texts["fact_size"].format(width=clip.width_px, height=clip.height_px)
    facts = [(texts["fact_picture"], size)]
    if analysis.athlete is not None:
        facts.append((texts["fact_player"], analysis.athlete))
    if clip.n_undecoded:
        facts.append((texts["fact_lost"], texts["fact_lost_n"].format(n=clip.n_undecoded)))
    rate = clip.frame_rate_hz
    name = "fact_frames_rate" if math.isfinite(rate) else "fact_frames_n"
    computed = round(100.0 * analysis.share_computed)
    facts += [
        (texts["fact_frames"], texts[name].format(n=clip.n_frames, rate=f"{rate:.0f}")),
        (texts["fact_computed"], texts["fact_computed_n"].format(n=computed)),
        (texts["fact_height"], words.text("report.fact_height_m", height=analysis.stature_m)),
        (texts["fact_level"], words.texts.named("levels", analysis.level)),
    ]
    if analysis.ranges is not None:
        facts.append((texts["fact_ranges"], _version(words, analysis.ranges)))
    facts.append((texts["fact_file"], texts["fact_digest"].format(digest=clip.digest[:16])))
    return facts


def _version(words: Words, ranges: RangesUsed) -> str:
    name = "fact_ranges_coach" if ranges.source == "coach" else "fact_ranges_shipped"
    if ranges.changed:
        name += "_changed"
    changed = (ranges.changed or "")[:10]
    return words.report[name].format(version=ranges.digest, changed=changed)
