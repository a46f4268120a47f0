"""The film check: whether a film will do, judged from a few looks, with what to change and why."""

from __future__ import annotations

import math

import numpy as np

from pipeline.core.messages import message
from pipeline.core.move_table import MOVE_INFO
from pipeline.film.camera_motion import judge_stillness
from pipeline.film.stabilise import FURTHEST_SHARE
from pipeline.film_check.facts import (
    FEWEST_LOOKS,
    PersonFacts,
    ground_path,
    people_of,
    running_view_deg,
    throw_view_deg,
)
from pipeline.film_check.film_rate import judge_rate
from pipeline.film_check.finding import (
    Asked,
    Finding,
    keys_of,
    keys_read_from,
)
from pipeline.film_check.people_rules import (
    focal_px,
    judge_cut_off,
    judge_people,
    judge_person,
    judge_size,
)
from pipeline.film_check.picture_rules import judge_light, judge_sharpness
from pipeline.film_check.samples import FilmSamples

SLANTED_DEG = 5.0
"""A phone is called slanted when the lean of the bodies is surely more than this. On rendered clips
of a level camera the median lean was up to 6 degrees, with a spread that said so."""
UNSURE_LEAN_DEG = 3.0
"""Standard error of the lean above which nothing is told of the level."""
ALONG_DEG = 25.0
"""A camera sees a run or a throw from the front or the back within this angle; there its length is
read from the size of the body."""
VIEW_GIVE_OR_TAKE_DEG = 20
"""On rendered clips the angle was told within this in 77 of 81; runs that bend were the others."""


def check_film(samples: FilmSamples, asked: Asked) -> tuple[Finding, ...]:
    """Judge a film from a few looks at it.

    Parameters
    ----------
    samples
        What the looks show.
    asked
        Move, stature and lens, as far as they are known.

    Returns
    -------
    tuple of Finding
        One for each thing that is looked at; of a film without a person only those that can be
        told without one.
    """
    people = people_of(samples, asked.athlete_at)
    findings = [judge_person(samples, people, asked)]
    if people:
        athlete = people[0]
        findings += [
            judge_size(athlete, samples, asked),
            *judge_cut_off(athlete, asked),
        ]
    findings += [judge_camera(samples, asked), judge_level(people)]
    findings += [judge_light(samples, people, asked), judge_sharpness(people, asked)]
    findings += [judge_rate(samples.clock, asked.move, asked.true_fps)]
    if people:
        findings += [judge_view(people[0], samples, asked), judge_people(people, samples, asked)]
    return (*findings, judge_orientation(samples, asked))


def judge_camera(samples: FilmSamples, asked: Asked) -> Finding:
    """Say whether the camera stood still between the looks."""
    times = np.array([look.time_s for look in samples.looks])
    every_s = float(np.mean(np.diff(times))) if times.size > 1 else math.inf
    size_px = (samples.width_px, samples.height_px)
    still = judge_stillness(samples.camera_shift_px, times, size_px, every_s=every_s)
    if still.state == "still":
        said = message("check.camera_still", camera=still.words, looks=int(times.size))
        return Finding("camera_still", "fine", said)
    if still.state == "not told" or times.size < FEWEST_LOOKS:
        return Finding("camera_still", "not told", message("check.camera_not_told"))
    what_to_do = message("check.put_down")
    moved_px = np.linalg.norm(samples.camera_shift_px.mean(axis=1), axis=-1)
    if np.nanmax(moved_px, initial=0.0) <= FURTHEST_SHARE * max(size_px):
        return Finding(
            "camera_still", "could be better",
            message("check.camera_steadied", camera=still.words),
            what_to_do, unsure=keys_of(asked.move),
        )  # fmt: skip
    said = message("check.camera_moved", camera=still.words)
    return Finding("camera_still", "will not do", said, what_to_do, missing=keys_of(asked.move))


def judge_level(people: list[PersonFacts]) -> Finding:
    """Say from upright bodies whether the phone was held level."""
    leans = np.concatenate([person.lean_deg for person in people]) if people else np.empty(0)
    u_deg = (
        float(leans.std(ddof=1) / math.sqrt(leans.size)) if leans.size >= FEWEST_LOOKS else math.inf
    )
    if u_deg > UNSURE_LEAN_DEG:
        return Finding("level", "not told", message("check.level_not_told"))
    median = float(np.median(leans))
    side = "right" if median > 0 else "left"
    lean = {"lean": abs(median), "half_width": max(2 * u_deg, 1.0)}
    if abs(median) - 2 * u_deg <= SLANTED_DEG:
        return Finding("level", "fine", message(f"check.level_{side}", **lean))
    slanted = message(f"check.slanted_{side}", **lean)
    return Finding("level", "could be better", slanted, message("check.put_level"))


def judge_view(athlete: PersonFacts, samples: FilmSamples, asked: Asked) -> Finding:
    """Say from where the camera sees the run or the throw, and what that makes less sure."""
    if asked.move is None:
        of_move, what_to_do = message("check.view_of_move"), message("check.give_move")
        return Finding("view", "not told", of_move, what_to_do)
    if MOVE_INFO[asked.move].from_a_stand:
        angle, what = throw_view_deg(athlete), "throw"
        unsure = keys_read_from(asked.move, "release")
    else:
        path = ground_path(athlete, samples, focal_px(samples, asked))
        angle, what = running_view_deg(path), "run"
        unsure = keys_read_from(asked.move, "run")
    if math.isnan(angle):
        return Finding("view", "not told", message(f"check.{what}_not_told"))
    if angle >= ALONG_DEG:
        return Finding("view", "fine", message(f"check.{what}_seen", angle=angle))
    along, beside = message(f"check.{what}_along", angle=angle), message(f"check.beside_{what}")
    return Finding("view", "could be better", along, beside, unsure=unsure)


def judge_orientation(samples: FilmSamples, asked: Asked) -> Finding:
    """Say whether the phone was held in a way that suits the move."""
    size = {"width": samples.width_px, "height": samples.height_px}
    if samples.width_px >= samples.height_px:
        return Finding("orientation", "fine", message("check.wide", **size))
    if asked.move is None or MOVE_INFO[asked.move].from_a_stand:
        return Finding("orientation", "fine", message("check.upright", **size))
    said, what_to_do = message("check.upright_run", **size), message("check.hold_sideways")
    return Finding("orientation", "could be better", said, what_to_do)
