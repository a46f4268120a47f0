"""What the film check says of light and sharpness."""

from __future__ import annotations

import math

import numpy as np

from pipeline.film_facts import PersonFacts
from pipeline.film_samples import FilmSamples
from pipeline.finding import Asked, FilmVerdict, Finding, keys_of

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
    where = "around the athlete" if people else "in the picture"
    level = f"The level {where} is {brightness:.0f} of 255"
    whites = f"{white:.0%} of the picture {where} is plain white"
    lit_behind = brightness < DIM and around - brightness > BEHIND_LIT
    faults: tuple[tuple[bool, FilmVerdict, str, str], ...] = (
        (brightness < DARK, "will not do", f"{level}: too dark.",
         "Film in daylight, or by a floodlight."),
        (white > WHITE_SHARE, "will not do", f"{whites}: too bright.", "Lower the exposure."),
        (lit_behind, "could be better",
         f"{level}, of the whole picture {around:.0f}: filmed against the light.",
         "Film with the sun behind you, or tap on the athlete to set the exposure."),
        (brightness < DIM, "could be better", f"{level}: rather dark.",
         "Film in better light, or raise the exposure."),
        (white > PALE_SHARE, "could be better", f"{whites}: rather bright.", "Lower the exposure."),
        (contrast < FLAT, "could be better",
         f"Dark and bright {where} differ by {contrast:.0f} levels of 255 only.",
         "Film in better light, with a clean lens."),
        (noise > NOISY, "could be better",
         f"The picture {where} is noisy (about {noise:.0f} levels of 255).",
         "Film in better light."),
    )  # fmt: skip
    for is_so, verdict, said, advice in faults:
        if is_so:
            return Finding("light", verdict, said, advice, unsure=keys_of(asked.move))
    return Finding("light", "fine", f"{level}, its noise {noise:.1f}.")


def judge_sharpness(people: list[PersonFacts], asked: Asked) -> Finding:
    """Say whether the athlete's outline is sharp for his size."""
    if not people:
        return Finding("sharpness", "not told", "Sharpness is judged on a person.")
    spread_px = np.array([body.quality.edge_px for body in people[0].bodies])
    if np.isnan(spread_px).all():
        return Finding("sharpness", "not told", "The athlete has no outline to judge by.")
    spread = float(np.nanmedian(spread_px / people[0].height_px))
    said = f"The athlete's edges are spread over {np.nanmedian(spread_px):.1f} pixels, "
    said += f"{spread:.1%} of the stature"
    if spread < SOFT or np.nanmedian(spread_px) < SOFT_PX or math.isnan(spread):
        return Finding("sharpness", "fine", f"{said}.")
    return Finding(
        "sharpness", "will not do" if spread > BLURRED else "could be better", f"{said}: blurred.",
        "Clean the lens, tap on the athlete to focus, and use a short shutter.",
        unsure=keys_of(asked.move),
    )  # fmt: skip
