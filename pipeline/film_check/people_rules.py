"""Rules of the film check on the people in a film: found, large enough, whole, and alone."""

from __future__ import annotations

import math

import numpy as np

from calibration.lens_profile import for_picture
from pipeline.core.messages import message
from pipeline.core.move_table import MOVE_INFO, kind_of
from pipeline.film_check.facts import PersonFacts
from pipeline.film_check.finding import (
    CheckRequest,
    FilmVerdict,
    Finding,
    keys_of,
    keys_read_from,
    verdict_of,
)
from pipeline.film_check.samples import HARDLY, FilmSamples
from pipeline.people.body import covers

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
GOOD_DISTANCES_M = (6.0, 11.0)
"""From where the whole body is in the picture and large enough in it, with a typical phone."""
ROOM_FOR = {"feet": "both_feet", "hands": "more_room", "head": "more_room_above"}
"""What to do about a part of the body that is cut off: name of the text."""
ROOM_ABOVE = 0.25
"""Statures above the head that raised hands take: hands go to 1.2 of stature."""


def focal_px(samples: FilmSamples, request: CheckRequest) -> float:
    """Give the focal length in px: measured, given or typical; raises `LensProfileError`."""
    if request.lens is not None:
        lens = for_picture(
            request.lens,
            width_px=samples.width_px,
            height_px=samples.height_px,
            rotation_deg=samples.rotation_deg,
        )
        return float(np.mean(lens.focal_px))
    half = math.radians(0.5 * (request.fov_deg or TYPICAL_VIEW_DEG))
    return 0.5 * max(samples.width_px, samples.height_px) / math.tan(half)


def judge_person(samples: FilmSamples, people: list[PersonFacts], request: CheckRequest) -> Finding:
    """Say whether anybody is found."""
    n_looks = len(samples.looks)
    n_found = len(people[0].looks) if people else 0
    every = keys_of(request.move)
    if samples.lies_on_side:
        return Finding(
            "person", "will not do",
            message("check.on_its_side"), message("check.turn_upright"), missing=every,
        )  # fmt: skip
    sentence = message("check.found", n=n_found, looks=n_looks)
    if n_found <= HARDLY * n_looks:
        near_m, far_m = GOOD_DISTANCES_M
        return Finding(
            "person", "will not do",
            sentence if n_found else message("check.found_nobody", looks=n_looks),
            message("check.film_whole", near=near_m, far=far_m), missing=every,
        )  # fmt: skip
    if n_found >= GOOD_SHARE * n_looks:
        return Finding("person", "fine", sentence)
    return Finding(
        "person", "could be better", sentence, message("check.keep_in_view"), unsure=every,
    )  # fmt: skip


def judge_size(athlete: PersonFacts, samples: FilmSamples, request: CheckRequest) -> Finding:
    """Say whether the athlete is large enough in the picture, and how to change it."""
    height_px = float(np.median(athlete.height_px))
    share = height_px / SMALL_PX
    nearer = message("check.go_nearer_by", share=share, zoom=1.0 / share)
    away: str = ""
    if request.stature_m is not None:
        away_m = focal_px(samples, request) * request.stature_m / height_px
        away = message("check.away_typical" if request.lens is None else "check.away", away=away_m)
        nearer = message("check.go_nearer_to", to=away_m * share, zoom=1.0 / share)
    verdict = verdict_of(height_px, better=SMALL_PX, enough=TINY_PX)
    if verdict == "fine":
        return Finding("size", "fine", message("check.tall", height=height_px, away=away))
    sentence = message("check.small", height=height_px, away=away, needed=SMALL_PX)
    return Finding("size", verdict, sentence, nearer, unsure=keys_of(request.move))


def judge_cut_off(athlete: PersonFacts, request: CheckRequest) -> list[Finding]:
    """Say whether feet, hands and head are in the picture."""
    findings = []
    every = keys_of(request.move)
    hands = keys_read_from(request.move, "hands")
    for part, missing in (("feet", every), ("hands", hands), ("head", ())):
        share = athlete.cut_off[part]
        key = f"{part}_in_view"
        if share == 0.0:
            findings.append(Finding(key, "fine", message(f"check.{part}_in")))
            continue
        n = round(share * len(athlete.looks))
        sentence = message(f"check.{part}_off", n=n, looks=len(athlete.looks))
        verdict: FilmVerdict = "could be better"
        if share > OFTEN and part == "feet":
            verdict = "will not do"
        advice = message(f"check.{ROOM_FOR[part]}")
        lost = missing if verdict == "will not do" else ()
        findings.append(
            Finding(key, verdict, sentence, advice, missing=lost, unsure=() if lost else missing)
        )
    room = float(np.min(athlete.room_above))
    throws = request.move is not None and MOVE_INFO[request.move].throws
    if throws and room < ROOM_ABOVE and findings[1].verdict == "fine":
        findings[1] = Finding(
            "hands_in_view", "could be better",
            message("check.room_above", room=max(room, 0.0), needed=ROOM_ABOVE),
            message("check.more_room_above"), unsure=hands,
        )  # fmt: skip
    return findings


def judge_people(people: list[PersonFacts], samples: FilmSamples, request: CheckRequest) -> Finding:
    """Say whether the right number of people is in view, and whether one hides the athlete."""
    n_people = len(people)
    dodge = request.move is not None and kind_of(request.move) == "dodge"
    if request.move is not None and MOVE_INFO[request.move].at_a_defender and n_people == 1:
        return Finding(
            "people", "could be better", message("check.no_defender", people=n_people),
            message("check.both_players"), missing=keys_read_from(request.move, "defender"),
        )  # fmt: skip
    covered = covered_looks(people)
    if n_people > 1 and not dodge and covered > OFTEN * len(people[0].looks):
        return Finding(
            "people", "could be better",
            message("check.covered", people=n_people, n=covered, looks=len(people[0].looks)),
            message("check.nobody_before"), unsure=keys_of(request.move),
        )  # fmt: skip
    set_by_user = request.move is None or request.athlete_at is not None
    if not set_by_user and n_people > (2 if dodge else 1):
        sentence, what_to_do = message("check.who", people=n_people), message("check.others_out")
        return Finding("people", "could be better", sentence, what_to_do)
    return Finding("people", "fine", message("check.people_seen", people=n_people))


def covered_looks(people: list[PersonFacts]) -> int:
    """Count the looks in which another body touches or covers the athlete's."""
    n_covered = 0
    for number, body in zip(people[0].looks, people[0].bodies, strict=True):
        others = [
            other.bodies[other.looks.index(number)] for other in people[1:] if number in other.looks
        ]
        n_covered += any(covers(body.pose, other.pose) for other in others)
    return n_covered
