"""The film check: whether a film will do, from a few looks, with what to change and why."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from pipeline.core.messages import in_a_row, message
from pipeline.core.move_table import MOVE_INFO
from pipeline.core.types import Clip, Tracks
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
from pipeline.film_check.finding import (
    CheckRequest,
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
from pipeline.film_check.picture_rules import judge_light, judge_rate, judge_sharpness
from pipeline.film_check.samples import FilmSamples

SLANTED_DEG = 5.0
"""A phone is called slanted when the lean of the bodies is surely more than this. On rendered clips
of a level camera the median lean was up to 6 degrees, with a matching spread."""
UNSURE_LEAN_DEG = 3.0
"""Standard error of the lean above which the level is unknown."""
ALONG_DEG = 25.0
"""A camera sees a run or a throw from the front or the back within this angle; there its length is
read from the size of the body."""
VIEW_GIVE_OR_TAKE_DEG = 20
"""On rendered clips the angle was within this in 77 of 81; the others were runs that bend."""


def check_film(samples: FilmSamples, request: CheckRequest) -> tuple[Finding, ...]:
    """Judge a film from a few looks at it.

    Parameters
    ----------
    samples
        What the looks show.
    request
        Move, stature and lens, as far as they are known.

    Returns
    -------
    tuple of Finding
        One for each thing that is looked at; of a film without a person only those that can be
        reported without one.
    """
    people = people_of(samples, request.athlete_at)
    findings = [judge_person(samples, people, request)]
    if people:
        athlete = people[0]
        findings += [
            judge_size(athlete, samples, request),
            *judge_cut_off(athlete, request),
        ]
    findings += [judge_camera(samples, request), judge_level(people)]
    findings += [judge_light(samples, people, request), judge_sharpness(people, request)]
    findings += [judge_rate(samples.clock, request.move, request.true_fps)]
    if people:
        findings += [
            judge_view(people[0], samples, request),
            judge_people(people, samples, request),
        ]
    return (*findings, judge_orientation(samples, request))


def judge_camera(samples: FilmSamples, request: CheckRequest) -> Finding:
    """Say whether the camera stood still between the looks."""
    times = np.array([look.time_s for look in samples.looks])
    every_s = float(np.mean(np.diff(times))) if times.size > 1 else math.inf
    size_px = (samples.width_px, samples.height_px)
    still = judge_stillness(samples.camera_shift_px, times, size_px, every_s=every_s)
    if still.state == "still":
        sentence = message("check.camera_still", camera=still.words, looks=int(times.size))
        return Finding("camera_still", "fine", sentence)
    if still.state == "not told" or times.size < FEWEST_LOOKS:
        return Finding("camera_still", "not told", message("check.camera_not_told"))
    what_to_do = message("check.put_down")
    moved_px = np.linalg.norm(samples.camera_shift_px.mean(axis=1), axis=-1)
    if np.nanmax(moved_px, initial=0.0) <= FURTHEST_SHARE * max(size_px):
        return Finding(
            "camera_still", "could be better",
            message("check.camera_steadied", camera=still.words),
            what_to_do, unsure=keys_of(request.move),
        )  # fmt: skip
    sentence = message("check.camera_moved", camera=still.words)
    return Finding(
        "camera_still", "will not do", sentence, what_to_do, missing=keys_of(request.move)
    )


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


def judge_view(athlete: PersonFacts, samples: FilmSamples, request: CheckRequest) -> Finding:
    """Say from where the camera sees the run or the throw, and what that makes less sure."""
    if request.move is None:
        of_move, what_to_do = message("check.view_of_move"), message("check.give_move")
        return Finding("view", "not told", of_move, what_to_do)
    if MOVE_INFO[request.move].from_a_stand:
        angle, what = throw_view_deg(athlete), "throw"
        unsure = keys_read_from(request.move, "release")
    else:
        path = ground_path(athlete, samples, focal_px(samples, request))
        angle, what = running_view_deg(path), "run"
        unsure = keys_read_from(request.move, "run")
    if math.isnan(angle):
        return Finding("view", "not told", message(f"check.{what}_not_told"))
    if angle >= ALONG_DEG:
        return Finding("view", "fine", message(f"check.{what}_seen", angle=angle))
    along, beside = message(f"check.{what}_along", angle=angle), message(f"check.beside_{what}")
    return Finding("view", "could be better", along, beside, unsure=unsure)


def judge_orientation(samples: FilmSamples, request: CheckRequest) -> Finding:
    """Say whether the phone was held in a way that suits the move."""
    size = {"width": samples.width_px, "height": samples.height_px}
    if samples.width_px >= samples.height_px:
        return Finding("orientation", "fine", message("check.wide", **size))
    if request.move is None or MOVE_INFO[request.move].from_a_stand:
        return Finding("orientation", "fine", message("check.upright", **size))
    sentence, what_to_do = message("check.upright_run", **size), message("check.hold_sideways")
    return Finding("orientation", "could be better", sentence, what_to_do)


POINTED_OUT_MARGIN = 0.3
"""How far beside a body one may point and still mean it, in parts of its height."""


def film_notes(
    clip: Clip,
    tracks: Tracks,
    findings: Sequence[Finding] = (),
    *,
    n_reps: int,
    no_ground: str | None = None,
    athlete_at: tuple[float, float] | None = None,
) -> tuple[str, ...]:
    """Say in plain words what limits this film.

    Parameters
    ----------
    clip, tracks
        What is known of the film and of the people in it.
    findings
        Of the film check. Facts that all frames show better than a few samples are left out.
    n_reps
        Number of reps that were found.
    no_ground
        Why the scene is without a ground; None if it has one.
    athlete_at
        Where the user marked the athlete in the first frame, px; None if not marked.

    Returns
    -------
    tuple of str
    """
    notes: list[str] = []
    found = float(tracks.found[0].mean()) if clip.n_frames else 0.0
    if found == 0.0:
        advice = [finding.what_to_do for finding in findings if finding.key == "person"]
        notes.append(in_a_row(message("film.nobody"), *advice))
    elif n_reps == 0:
        notes.append(message("film.no_rep"))
    if found and no_ground is not None:
        notes.append(message("film.no_ground", why=no_ground))
    if found and athlete_at is not None and _is_beside(tracks, athlete_at):
        notes.append(message("film.nobody_there"))
    if 0.0 < found < 0.9:
        notes.append(message("film.seldom_found", share=found))
    if clip.n_undecoded:
        notes.append(message("film.undecoded", n=clip.n_undecoded))
    explained_elsewhere = {"person", "camera_still"}
    if no_ground is not None:
        explained_elsewhere.add("feet_in_view")
    return (*notes, *(f.note for f in findings if f.limits and f.key not in explained_elsewhere))


def _is_beside(tracks: Tracks, place_px: tuple[float, float]) -> bool:
    """Tell whether a place lies beside the athlete's body as first seen."""
    first = int(np.argmax(tracks.found[0]))
    body = tracks.image_px[0, first]
    low, high = np.nanmin(body, axis=0), np.nanmax(body, axis=0)
    margin = POINTED_OUT_MARGIN * float(high[1] - low[1])
    place = np.asarray(place_px)
    return bool(np.any(place < low - margin) or np.any(place > high + margin))
