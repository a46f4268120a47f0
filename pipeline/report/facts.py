"""What a report says of the film itself, of the player, and of the ranges that were used."""

from __future__ import annotations

import math

from pipeline.core.results import Analysis, RangesUsed
from pipeline.feedback.words import Words


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
