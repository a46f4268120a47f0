"""What the film check reports of frame rate, light and sharpness."""

from __future__ import annotations

import math

import numpy as np

from pipeline.core.messages import Message, message
from pipeline.core.move_table import MOVE_INFO
from pipeline.film.sampling import FilmClock
from pipeline.film_check.facts import PersonFacts
from pipeline.film_check.finding import CheckRequest, FilmVerdict, Finding, keys_of, verdict_of
from pipeline.film_check.samples import FilmSamples
from pipeline.measures import MEASURES

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


def judge_light(samples: FilmSamples, people: list[PersonFacts], request: CheckRequest) -> Finding:
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
    for is_so, verdict, sentence, advice in faults:
        if is_so:
            what_to_do = message(f"check.{advice}")
            return Finding("light", verdict, sentence, what_to_do, unsure=keys_of(request.move))
    return Finding("light", "fine", message("check.light_fine", light=light, noise=noise))


def judge_sharpness(people: list[PersonFacts], request: CheckRequest) -> Finding:
    """Say whether the athlete's outline is sharp for his size."""
    if not people:
        return Finding("sharpness", "not told", message("check.sharp_not_told"))
    spread_px = np.array([body.quality.edge_px for body in people[0].bodies])
    if np.isnan(spread_px).all():
        return Finding("sharpness", "not told", message("check.no_outline"))
    spread = float(np.nanmedian(spread_px / people[0].height_px))
    median_px = float(np.nanmedian(spread_px))
    if spread < SOFT or median_px < SOFT_PX or math.isnan(spread):
        sentence = message("check.sharp", spread=median_px, share=spread)
        return Finding("sharpness", "fine", sentence)
    return Finding(
        "sharpness", "will not do" if spread > BLURRED else "could be better",
        message("check.blurred", spread=median_px, share=spread), message("check.focus"),
        unsure=keys_of(request.move),
    )  # fmt: skip


GOOD_RATE_HZ, LEAST_RATE_HZ = 50.0, 20.0
"""Phones film at 30, 60 or more. On rendered clips instants came out within 1 to 2 frames; at 20 a
throw of 0.2 s shows in 4 pictures. Common practice, no source."""
FAST_HAND_MPS = 15.0
"""A quick hand in a throw."""
LONG_STEP = 1.5
"""A step longer than so many usual ones leaves a picture out."""
UNEVEN_SHARE = 0.05


def judge_rate(clock: FilmClock, move: str | None, true_fps: float | None = None) -> Finding:
    """Say what the frame rate allows.

    Parameters
    ----------
    clock
        Times of the pictures.
    move
        Key of the move, if known.
    true_fps
        Rate of filming, where the file plays slowly.
    """
    steps = np.diff(clock.time_s)
    if not steps.size:
        return Finding("frame_rate", "not told", message("check.one_picture"))
    usual_s = float(np.median(steps))
    rate_hz = true_fps or 1.0 / usual_s
    left_out = float((steps > LONG_STEP * usual_s).mean())
    throws = move is None or MOVE_INFO[move].throws
    hand: str = ""
    if throws:
        hand = message("check.rate_hand", speed=FAST_HAND_MPS, way=FAST_HAND_MPS / rate_hz)
    verdict: FilmVerdict = verdict_of(rate_hz, better=GOOD_RATE_HZ, enough=LEAST_RATE_HZ)
    advice: str = ""
    if verdict != "fine":
        advice = message("check.film_faster_short" if throws else "check.film_faster")
    elif left_out > UNEVEN_SHARE:
        verdict = "could be better"
    uneven: str = ""
    if left_out > UNEVEN_SHARE:
        uneven = message("check.rate_uneven", share=left_out)
        advice = advice or message("check.free_storage")
    text = message("check.rate", rate=rate_hz, instant=1000.0 / rate_hz, hand=hand, uneven=uneven)
    if verdict == "fine":
        return Finding("frame_rate", "fine", text)
    timed = tuple(key for key in keys_of(move) if MEASURES[key].depends_on_time)
    lost = timed if verdict == "will not do" else ()
    return Finding("frame_rate", verdict, text, advice, missing=lost, unsure=() if lost else timed)
