"""What a report says of the film itself, of the player, and of the ranges that were used."""

from __future__ import annotations

import math

from pipeline.result_types import Analysis, RangesUsed


def facts_of(analysis: Analysis) -> list[tuple[str, str]]:
    """Name and words of each fact, in the order in which they are shown."""
    clip = analysis.clip
    rate = clip.frame_rate_hz
    facts = [
        ("Picture", f"{clip.width_px} by {clip.height_px} px"),
        (
            "Frames",
            f"{clip.n_frames}" + (f" at {rate:.0f} a second" if math.isfinite(rate) else ""),
        ),
        ("Height of the player", f"{analysis.stature_m:.2f} m, as given"),
        ("Level", analysis.level),
        ("File", f"SHA-256 {clip.digest[:16]}…"),
    ]
    if analysis.athlete is not None:
        facts.insert(2, ("Player", analysis.athlete))
    if analysis.ranges is not None:
        facts.insert(-1, ("Ranges", _version(analysis.ranges)))
    if clip.n_undecoded:
        facts.insert(2, ("Lost frames", f"{clip.n_undecoded} could not be decoded"))
    return facts


def _version(ranges: RangesUsed) -> str:
    whose = "the coach's" if ranges.source == "coach" else "as shipped"
    changed = f", last changed {ranges.changed[:10]}" if ranges.changed else ""
    return f"{whose}, version {ranges.digest}{changed}"
