"""What the film check says of the people in a film: found, large enough, whole, and alone."""

from __future__ import annotations

import math

import numpy as np

from calibration.lens_profile import for_picture
from pipeline.bodies import covers
from pipeline.film_facts import PersonFacts
from pipeline.film_samples import HARDLY, FilmSamples
from pipeline.finding import (
    READ_FROM_DEFENDER,
    READ_FROM_HANDS,
    Asked,
    FilmVerdict,
    Finding,
    keys_among,
    keys_of,
    say_looks,
    verdict_of,
)
from pipeline.moves import MOVES

TYPICAL_VIEW_DEG = 65.0
"""A phone's main camera along the long side of the picture, where no lens was measured."""
SMALL_PX, TINY_PX = 100.0, 50.0
"""Statures in the picture. A shot and a throwback scaled down to 70 and 80 px came out as at
full size; at 40 px the top hand was mistaken and its heights were not measured. Two clips only: a
rule of thumb, with some room for real film."""
OFTEN = 1 / 3
"""Something seen in this share of the looks is a habit of the film and not an instant."""
GOOD_SHARE = 0.65
"""An athlete found in fewer of the looks than this is out of the picture, or hidden, too often."""
ROOM_ABOVE = 0.25
"""Statures above the head that raised hands take: hands go to 1.2 of stature."""


def focal_px(samples: FilmSamples, asked: Asked) -> float:
    """Give the focal length in px: measured, told or typical; raises `LensProfileError`."""
    if asked.lens is not None:
        lens = for_picture(
            asked.lens,
            width_px=samples.width_px,
            height_px=samples.height_px,
            rotation_deg=samples.rotation_deg,
        )
        return float(np.mean(lens.focal_px))
    half = math.radians(0.5 * (asked.fov_deg or TYPICAL_VIEW_DEG))
    return 0.5 * max(samples.width_px, samples.height_px) / math.tan(half)


def judge_person(samples: FilmSamples, people: list[PersonFacts], asked: Asked) -> Finding:
    """Say whether anybody is found."""
    n_looks = len(samples.looks)
    n_found = len(people[0].looks) if people else 0
    every = keys_of(asked.move)
    if samples.lies_on_side:
        return Finding(
            "person", "will not do",
            "People are found only when the picture is turned by a quarter.",
            "Turn the film upright in the phone's gallery, then check it again.", missing=every,
        )  # fmt: skip
    if n_found <= HARDLY * n_looks:
        said = f"The athlete is found in {n_found} of {say_looks(n_looks)}."
        return Finding(
            "person", "will not do",
            said if n_found else f"Nobody is found in {say_looks(n_looks)}.",
            "Film the whole body from 6 to 11 m away, upright, in good light.", missing=every,
        )  # fmt: skip
    said = f"The athlete is found in {n_found} of {say_looks(n_looks)}."
    if n_found >= GOOD_SHARE * n_looks:
        return Finding("person", "fine", said)
    return Finding(
        "person", "could be better", said,
        "Keep the athlete in the picture all the time, with nobody in front.", unsure=every,
    )  # fmt: skip


def judge_size(athlete: PersonFacts, samples: FilmSamples, asked: Asked) -> Finding:
    """Say whether the athlete is large enough in the picture, and how to change it."""
    height_px = float(np.median(athlete.height_px))
    said = f"The athlete is about {height_px:.0f} pixels tall in the picture"
    nearer = f"to {height_px / SMALL_PX:.0%} of the distance"
    away = ""
    if asked.stature_m is not None:
        away_m = focal_px(samples, asked) * asked.stature_m / height_px
        about = "" if asked.lens is not None else " if the lens is a typical phone's"
        away = f", some {away_m:.0f} m away{about}"
        nearer = f"to some {away_m * height_px / SMALL_PX:.1f} m"
    verdict = verdict_of(height_px, better=SMALL_PX, enough=TINY_PX)
    if verdict == "fine":
        return Finding("size", "fine", f"{said}{away}.")
    share = height_px / SMALL_PX
    every = keys_of(asked.move)
    return Finding(
        "size", verdict, f"{said}{away}; {SMALL_PX:.0f} are needed.",
        f"Go nearer, {nearer}, zoom in {1 / share:.1f} times before filming, or choose a mode with "
        "more pixels.",
        unsure=every,
    )  # fmt: skip


def judge_cut_off(athlete: PersonFacts, asked: Asked) -> list[Finding]:
    """Say whether feet, hands and head are in the picture."""
    findings = []
    every = keys_of(asked.move)
    hands = keys_among(asked.move, READ_FROM_HANDS)
    for part, missing in (("feet", every), ("hands", hands), ("head", ())):
        share = athlete.cut_off[part]
        key = f"{part}_in_view"
        if share == 0.0:
            findings.append(Finding(key, "fine", f"The {part} {_are(part)} in the picture."))
            continue
        n = round(share * len(athlete.looks))
        said = (
            f"The picture's edge cuts off the {part}, or they cannot be made out, in {n} of "
            f"{say_looks(len(athlete.looks))} at the athlete."
        ).replace("head, or they", "head, or it")
        verdict: FilmVerdict = "could be better"
        if share > OFTEN and part == "feet":
            verdict = "will not do"
        advice = {
            "feet": "Tilt the phone down or go back: both feet are needed all the time.",
            "hands": "Leave more room on all sides: raised hands and the follow-through too.",
            "head": "Leave more room above the head.",
        }[part]
        lost = missing if verdict == "will not do" else ()
        findings.append(
            Finding(key, verdict, said, advice, missing=lost, unsure=() if lost else missing)
        )
    room = float(np.min(athlete.room_above))
    throws = asked.move is not None and MOVES[asked.move].throws
    if throws and room < ROOM_ABOVE and findings[1].verdict == "fine":
        findings[1] = Finding(
            "hands_in_view", "could be better",
            f"There is room for {max(room, 0.0):.0%} of the stature above the head; raised hands "
            f"take about {ROOM_ABOVE:.0%}.",
            "Leave more room above the head.", unsure=hands,
        )  # fmt: skip
    return findings


def judge_people(people: list[PersonFacts], samples: FilmSamples, asked: Asked) -> Finding:
    """Say whether the right number of people is in view, and whether one hides the athlete."""
    n_people = len(people)
    dodge = asked.move is not None and MOVES[asked.move].kind == "dodge"
    said = {1: "One person is in view", 2: "Two people are in view"}.get(
        n_people, f"{n_people} people are in view"
    )
    if asked.move == "close_gap_dodge" and n_people == 1:
        return Finding(
            "people", "could be better", f"{said}; a dodge needs a defender.",
            "Keep both players in the picture.", missing=keys_among(asked.move, READ_FROM_DEFENDER),
        )  # fmt: skip
    covered = coveredsay_looks(people)
    if n_people > 1 and not dodge and covered > OFTEN * len(people[0].looks):
        return Finding(
            "people", "could be better",
            f"{said}, and another body touches or covers the athlete's in {covered} of "
            f"{say_looks(len(people[0].looks))}.",
            "Film from where nobody stands in front.", unsure=keys_of(asked.move),
        )  # fmt: skip
    told = asked.move is None or asked.athlete_at is not None
    if not told and n_people > (2 if dodge else 1):
        return Finding(
            "people", "could be better", f"{said}; who is the athlete is told by the movement.",
            "Ask others out of the picture, or name the athlete with --athlete-at.",
        )  # fmt: skip
    return Finding("people", "fine", f"{said}.")


def coveredsay_looks(people: list[PersonFacts]) -> int:
    """Count the looks in which another body touches or covers the athlete's."""
    n_covered = 0
    for number, body in zip(people[0].looks, people[0].bodies, strict=True):
        others = [
            other.bodies[other.looks.index(number)] for other in people[1:] if number in other.looks
        ]
        n_covered += any(covers(body.pose, other.pose) for other in others)
    return n_covered


def _are(part: str) -> str:
    return "is" if part == "head" else "are"
