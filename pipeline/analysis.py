"""Analyses one clip from the file to the results: the chain of all steps."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path

import numpy as np

from models import bundle_path
from models.moves.classifier import MoveClassifier
from pipeline.core.messages import message
from pipeline.core.progress import ProgressCallback, ignore_progress
from pipeline.core.results import Analysis, RepResult
from pipeline.core.types import Clip, LensProfile, Rep, Scene, Tracks
from pipeline.feedback.clip_feedback import clip_feedback
from pipeline.feedback.words import load_words
from pipeline.film.container import captured_rate_hz, file_digest, opened
from pipeline.film.stabilise import unstabilise
from pipeline.film.undistort import distort, read_lens
from pipeline.film_check.check import check_film, film_notes
from pipeline.film_check.finding import CheckRequest, Finding
from pipeline.film_check.samples import CHECK_MODEL, read_film_samples
from pipeline.measures.ground_path import field_side, ground_path
from pipeline.measures.measuring import explained_rep, measure_rep, measure_reps, without_times
from pipeline.moves.body_frame import body_frame
from pipeline.moves.finders import FINDERS
from pipeline.moves.signals import signals_of
from pipeline.people.cache import TrackCache
from pipeline.people.foot_contact import slow_motion_factor, step_time_s
from pipeline.people.landmarks import read_landmarks
from pipeline.report.pictures.key_frames import rep_pictures
from pipeline.report.results import write_results
from pipeline.scene.depth import Placed
from pipeline.scene.from_marks import SceneMarks, read_scene_marks
from pipeline.scene.motion import motion_of
from pipeline.scene.placed_clip import place_people
from pipeline.settings.settings import AnalysisSettings
from pipeline.targets.entries import ANY
from pipeline.targets.load import coach_targets_path, load_targets, places_of, ranges_used
from pipeline.targets.lookup import Targets
from pipeline.targets.verdicts import judged
from pipeline.teaching.classifier_versions import classifier_in_force
from pipeline.teaching.drill_reps import find_drill_reps
from pipeline.teaching.drill_store import requested_drill
from pipeline.teaching.drills import Drill
from pipeline.teaching.team_classifier import named_by


def find_reps(
    clip: Clip,
    people: Sequence[Placed],
    scene: Scene,
    settings: AnalysisSettings,
    drill: Drill | None = None,
    classifier: MoveClassifier | None = None,
) -> list[Rep]:
    """Find the reps of the requested move, or of any move where none was set.

    Parameters
    ----------
    clip
        For the times.
    people
        The athlete, and the defender if there is one, placed over the clip.
    scene
        The camera.
    settings
        For the move, and the hand if known.
    drill
        The requested move, if it is a taught drill.
    classifier
        Names the moves where none was requested; None = the shipped one.

    Returns
    -------
    list of Rep
        Empty when the athlete was hardly seen.
    """
    if clip.n_frames < 8 or np.isfinite(people[0].depth_m[:, 0]).sum() < 8:
        return []
    motions = [
        motion_of(person, clip.time_s, scene, 0, clip.n_frames, n_draws=1) for person in people
    ]
    if settings.move is None:
        # Here, not above: a clip of a known move needs no classifier.
        from pipeline.moves.naming.find_all import find_all_reps

        other = motions[1] if len(motions) > 1 else None
        return find_all_reps(motions[0], other, settings.stick_hand, classifier=classifier)
    signals = [signals_of(motion) for motion in motions]
    defender = signals[1] if len(signals) > 1 else None
    if drill is not None:
        frame = body_frame(motions[0], signals[0])
        return find_drill_reps(drill, frame, signals[0], defender, settings.stick_hand)
    return FINDERS[settings.move].find_reps(signals[0], defender, settings.stick_hand)


FindingsCallback = Callable[[Sequence[Finding]], None]


def analyse_clip(
    path: Path,
    settings: AnalysisSettings,
    *,
    cache_dir: Path,
    on_progress: ProgressCallback = ignore_progress,
    on_findings: FindingsCallback = lambda findings: None,
) -> Analysis:
    """Analyse one clip.

    Parameters
    ----------
    path
        The film.
    settings
        Settings of the analysis.
    cache_dir
        Where raw landmarks are kept for a second analysis.
    on_progress
        Told how far the pose model has come.
    on_findings
        Told what the film check found, before the long work.

    Returns
    -------
    Analysis

    Raises
    ------
    CrossemetryError
        The film, a setting, the targets or the model cannot be used.
    """
    # A mistake in the ranges is reported before the long work.
    targets = load_targets(coach_targets_path(settings.targets_path))
    targets.check(places_of(targets, settings.athlete or ANY), settings.stature_m)
    profile = read_lens(settings.lens_path, path)
    marks = read_scene_marks(path, settings, profile)
    with opened(path) as (container, _):  # a file that is not a film is refused first
        digest = file_digest(path)
        captured_hz = captured_rate_hz(container)
    samples = read_film_samples(
        path, digest=digest, model_path=bundle_path(CHECK_MODEL), cache_dir=cache_dir
    )
    drill = requested_drill(settings.move)
    classifier = classifier_in_force() if settings.move is None else None
    check_request = CheckRequest(
        move=settings.move if drill is None else drill.like,
        stature_m=settings.stature_m,
        lens=profile,
        fov_deg=settings.fov_deg,
        true_fps=settings.true_fps,
        athlete_at=settings.athlete_at,
    )
    findings = check_film(samples, check_request)
    on_findings(findings)
    clip, tracks = read_landmarks(
        path, settings, digest=digest, cache_dir=cache_dir, on_progress=on_progress
    )
    return analyse_tracks(
        clip, tracks, settings, targets, profile, marks, findings, drill, classifier,
        captured_hz=captured_hz,
    )  # fmt: skip


def write_analysis(
    analysis: Analysis, out_dir: Path, *, settings: AnalysisSettings, cache_dir: Path
) -> list[Path]:
    """Write report, tables and pictures of an analysis into a folder named after the clip.

    Parameters
    ----------
    analysis
        From `analyse_clip`.
    out_dir
        Folder in which the clip's own folder is made.
    settings
        For what may be shown.
    cache_dir
        Where key frames are kept for the next time.

    Returns
    -------
    list of Path
        The report first.

    Raises
    ------
    OutputError
        The folder cannot be written to.
    """
    pictures = rep_pictures(analysis, cache=TrackCache(cache_dir), hide_faces=settings.hide_faces)
    return write_results(analysis, out_dir, pictures)


def analyse_tracks(
    clip: Clip,
    tracks: Tracks,
    settings: AnalysisSettings,
    targets: Targets,
    profile: LensProfile | None = None,
    marks: SceneMarks | None = None,
    findings: Sequence[Finding] = (),
    drill: Drill | None = None,
    classifier: MoveClassifier | None = None,
    *,
    captured_hz: float | None = None,
) -> Analysis:
    """Everything after the landmarks: pure, and quick.

    Parameters
    ----------
    clip, tracks
        What `read_landmarks` gave.
    settings, targets
        Settings of the analysis, and the coach's ranges.
    profile
        The lens as it was measured, if it was.
    marks
        The marks on the field with their camera, if there are any.
    findings
        Of the film check, for the notes.
    drill
        The requested move, if it is a taught drill.
    classifier
        Names the moves where none was requested; None = the shipped one.
    captured_hz
        Rate at which the phone states that it filmed; None where it does not.

    Returns
    -------
    Analysis

    Raises
    ------
    LensProfileError
        The profile is of another picture than the clip's.
    """
    seen = place_people(clip, tracks, settings, profile, marks)
    scene, people = seen.scene, seen.people
    athlete, defender = people[0], people[1] if len(people) > 1 else None
    reps = find_reps(clip, people, scene, settings, drill, classifier)
    slowed = None
    if settings.true_fps is None:
        step_s = step_time_s(athlete.image_px, clip.time_s, athlete.size_px)
        slowed = slow_motion_factor(step_s, captured_hz=captured_hz, played_hz=clip.frame_rate_hz)
    results = []
    measure = partial(
        explained_rep if settings.explain else measure_rep,
        athlete=athlete,
        defender=defender,
        scene=scene,
        time_s=clip.time_s,
        seed=settings.seed,
        keys=None if drill is None else drill.measures,
    )
    measured_reps = measure_reps(reps, measure)
    if slowed is not None:
        reason = message("reasons.film_slowed")
        measured_reps = [without_times(measured, reason) for measured in measured_reps]
    for rep, measured in zip(reps, measured_reps, strict=True):
        verdicts = judged(rep, measured, targets, settings)
        results.append(
            RepResult(
                rep=rep,
                measurements=measured,
                verdicts=verdicts,
                feedback=(),
                cautions=(),
                field_side=field_side(rep, athlete, scene, clip.time_s),
                ground=ground_path(
                    rep, athlete=athlete, defender=defender, scene=scene, time_s=clip.time_s
                ),
            )
        )
    feedback = clip_feedback(
        results,
        words=load_words(language=settings.language, units=settings.units),
        stature_m=settings.stature_m,
        defender_in_view=defender is not None,
        level=settings.level,
        age_years=settings.age_years,
    )
    return Analysis(
        clip=clip,
        level=settings.level,
        move=settings.move,
        stature_m=settings.stature_m,
        scene=scene,
        tracks=distort(unstabilise(seen.smooth, seen.steady.to_film), seen.lens),
        reps=feedback.reps,
        cautions=feedback.cautions,
        notes=(
            *film_notes(
                clip,
                tracks,
                findings,
                n_reps=len(results),
                no_ground=scene.no_ground,
                athlete_at=settings.athlete_at,
            ),
            *([] if slowed is None else [message("film.slowed", times=slowed)]),
            *feedback.notes,
            *named_by(classifier),
        ),
        to_film=seen.steady.to_film,
        athlete=settings.athlete,
        ranges=ranges_used(targets),
        session=feedback.session,
        share_computed=tracks.share_computed,
        language=settings.language,
        units=settings.units,
    )
