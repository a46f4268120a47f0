"""What the film check says of light and sharpness."""

from __future__ import annotations

import math

import numpy as np

from pipeline.core.messages import Message, message
from pipeline.film_check.facts import PersonFacts
from pipeline.film_check.finding import Asked, FilmVerdict, Finding, keys_of
from pipeline.film_check.samples import FilmSamples

DIM, DARK = 45.0, 20.0
"""Median levels around the athlete, of 255. Film in daylight lies at 90 to 130. In rendered
clips darkened to an eighth (about 14) nobody was found in a shot. Common practice otherwise."""
PALE_SHARE, WHITE_SHARE = 0.2, 0.5
"""Shares of the picture around the athlete that are plain white; rendered clips have none."""
FLAT = 30.0
"""Levels between the dark and the bright parts around the athlete; daylight gives 100 or more."""
BEHIND_LIT = 70.0
"""A picture brighter than its dim athlete by this much is filmed against the light."""
NOISY = 6.0
"""Noise in levels of 255 where a picture is smooth; rendered clips, compressed, have some 0.6."""
SOFT, BLURRED = 0.010, 0.025
"""Spread of the sharpest edges of the body (standard deviation), in statures: the joints
themselves are read to some 0.01 to 0.02. Rendered clips lie at 0.003 to 0.006."""
SOFT_PX = 1.5
"""Edges sharper than this are as good as pixels allow: a soft body is then a small one."""


def judge_light(samples: FilmSamples, people: list[PersonFacts], asked: Asked) -> Finding:
    """Say whether there is enough light, and not too much, on the athlete or on the picture."""
    qualities = [body.quality for body in people[0].bodies] if people else []
    pictures = [look.quality for look in samples.looks]
    brightness, contrast, white, noise = (
        float(np.nanmedian([getattr(quality, name) for quality in qualities or pictures]))
        for name in ("brightness", "contrast", "white_share", "noise")
    )
    around = float(np.median([quality.brightness for quality in pictures]))
    where = "around" if people else "in_picture"
    light = message(f"check.light_{where}", level=brightness)
    whites = message(f"check.white_{where}", share=white)
    lit_behind = brightness < DIM and around - brightness > BEHIND_LIT
    faults: tuple[tuple[bool, FilmVerdict, Message, str], ...] = (
        (brightness < DARK, "will not do", message("check.too_dark", light=light), "by_day"),
        (white > WHITE_SHARE, "will not do", message("check.too_bright", white=whites),
         "lower_exposure"),
        (lit_behind, "could be better", message("check.lit_behind", light=light, around=around),
         "sun_behind"),
        (brightness < DIM, "could be better", message("check.rather_dark", light=light),
         "more_light"),
        (white > PALE_SHARE, "could be better", message("check.rather_bright", white=whites),
         "lower_exposure"),
        (contrast < FLAT, "could be better", message(f"check.flat_{where}", levels=contrast),
         "clean_lens"),
        (noise > NOISY, "could be better", message(f"check.noisy_{where}", noise=noise),
         "better_light"),
    )  # fmt: skip
    for is_so, verdict, said, advice in faults:
        if is_so:
            what_to_do = message(f"check.{advice}")
            return Finding("light", verdict, said, what_to_do, unsure=keys_of(asked.move))
    return Finding("light", "fine", message("check.light_fine", light=light, noise=noise))


def judge_sharpness(people: list[PersonFacts], asked: Asked) -> Finding:
    """Say whether the athlete's outline is sharp for his size."""
    if not people:
        return Finding("sharpness", "not told", message("check.sharp_not_told"))
    spread_px = np.array([body.quality.edge_px for body in people[0].bodies])
    if np.isnan(spread_px).all():
        return Finding("sharpness", "not told", message("check.no_outline"))
    spread = float(np.nanmedian(spread_px / people[0].height_px))
    median_px = float(np.nanmedian(spread_px))
    if spread < SOFT or median_px < SOFT_PX or math.isnan(spread):
        said = message("check.sharp", spread=median_px, share=spread)
        return Finding("sharpness", "fine", said)
    return Finding(
        "sharpness", "will not do" if spread > BLURRED else "could be better",
        message("check.blurred", spread=median_px, share=spread), message("check.focus"),
        unsure=keys_of(asked.move),
    )  # fmt: skip
