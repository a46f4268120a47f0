"""The head of the report: facts of the film, what went well, one thing to work on."""

from __future__ import annotations

import math
from dataclasses import dataclass

from pipeline.core.results import Analysis, RangesUsed, SessionPoint
from pipeline.feedback.words import Words, raised


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """One thing that is said first.

    Attributes
    ----------
    style
        Name for the style sheet: well, work, trend or rep.
    label
        What kind of thing it is.
    headline
        The thing in a few words; empty where the text is all there is.
    text
        The whole of it, with its number and range.
    """

    style: str
    label: str
    headline: str
    text: str


def summary_blocks(words: Words, analysis: Analysis) -> list[Block]:
    """Give what a reader with one minute should see; empty where no rep was found.

    A clip with a single rep is no session: there it is what is said of the rep.

    Parameters
    ----------
    words
        Phrases.
    analysis
        With its session.
    """
    session, say = analysis.session, words.report
    if session is None or not session.said:
        if len(analysis.reps) != 1:
            return []
        texts = analysis.reps[0].feedback
        return [Block(style="rep", label=say["one_rep"], headline="", text=t) for t in texts]
    well, work, trend = session.went_well, session.work_on, session.trend
    blocks = [
        Block(
            style="well",
            label=say["well"],
            headline="" if well is None else _name(words, well),
            text=say["no_well"] if well is None else well.text,
        ),
        Block(
            style="work",
            label=say["work"],
            headline="" if work is None else _to_do(words, work),
            text=say["no_work"] if work is None else work.text,
        ),
    ]
    if trend is not None:
        blocks.append(Block(style="trend", label=say["trend"], headline="", text=trend.text))
    return blocks


def _name(words: Words, said: SessionPoint) -> str:
    phrases = words.for_move(said.move).measure.get(said.key, {})
    return raised(phrases.get("name", ""))


def _to_do(words: Words, said: SessionPoint) -> str:
    if said.side is None:
        return words.report["work_both"]
    phrases = words.for_move(said.move).measure.get(said.key, {})
    return raised(phrases.get(f"try_{said.side}", ""))


def facts_of(words: Words, analysis: Analysis) -> list[tuple[str, str]]:
    """Name and words of each fact, in the order in which they are shown."""
    clip, say = analysis.clip, words.report
    facts = [
        (say["fact_picture"], say["fact_size"].format(width=clip.width_px, height=clip.height_px)),
    ]
    if analysis.athlete is not None:
        facts.append((say["fact_player"], analysis.athlete))
    if clip.n_undecoded:
        facts.append((say["fact_lost"], say["fact_lost_n"].format(n=clip.n_undecoded)))
    rate = clip.frame_rate_hz
    name = "fact_frames_rate" if math.isfinite(rate) else "fact_frames_n"
    facts += [
        (say["fact_frames"], say[name].format(n=clip.n_frames, rate=f"{rate:.0f}")),
        (say["fact_height"], words.text("report.fact_height_m", height=analysis.stature_m)),
        (say["fact_level"], words.texts.named("levels", analysis.level)),
    ]
    if analysis.ranges is not None:
        facts.append((say["fact_ranges"], _version(words, analysis.ranges)))
    facts.append((say["fact_file"], say["fact_digest"].format(digest=clip.digest[:16])))
    return facts


def _version(words: Words, ranges: RangesUsed) -> str:
    name = "fact_ranges_coach" if ranges.source == "coach" else "fact_ranges_shipped"
    if ranges.changed:
        name += "_changed"
    changed = (ranges.changed or "")[:10]
    return words.report[name].format(version=ranges.digest, changed=changed)
