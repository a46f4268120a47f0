"""From the landmarks of a clip to people in a scene: what analysing and teaching have in common."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from pipeline.core.progress import ProgressCallback, ignore_progress
from pipeline.core.types import Clip, LensProfile, Scene, SmoothTracks, Tracks
from pipeline.film.camera_motion import judge_stillness
from pipeline.film.container import file_digest, opened
from pipeline.film.stabilise import Stabilised, stabilise
from pipeline.film.undistort import lens_of, read_lens, undistort
from pipeline.people.landmarks import read_landmarks
from pipeline.people.smoothing import smooth_tracks
from pipeline.scene.depth import Placed, place_person
from pipeline.scene.from_marks import SceneMarks, read_scene_marks, scene_of_clip
from pipeline.settings.settings import AnalysisSettings


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedClip:
    """A clip with its people placed in the scene.

    Attributes
    ----------
    clip
        Facts of the file.
    lens
        As it was measured; None where it was not.
    steady
        The tracks in the picture of the first frame, and the way back to the film.
    smooth
        Clean joint tracks.
    scene
        The camera.
    people
        Athlete first, then the defender if any.
    """

    clip: Clip
    lens: LensProfile | None
    steady: Stabilised
    smooth: SmoothTracks
    scene: Scene
    people: tuple[Placed, ...]


def place_people(
    clip: Clip,
    tracks: Tracks,
    settings: AnalysisSettings,
    profile: LensProfile | None,
    marks: SceneMarks | None,
) -> PlacedClip:
    """Place the people of a clip; pure.

    Parameters
    ----------
    clip, tracks
        What `read_landmarks` gave.
    settings
        For the stature and the field of view.
    profile, marks
        The lens as it was measured, and the marks on the field, if there are any.

    Raises
    ------
    LensProfileError
        The profile is of another picture than the clip's.
    """
    lens = lens_of(clip, profile)
    camera = judge_stillness(tracks.camera_shift_px, clip.time_s, (clip.width_px, clip.height_px))
    steady = stabilise(undistort(tracks, lens), clip, camera, lens)
    smooth = smooth_tracks(steady.tracks, clip.time_s, model=settings.model)
    scene = scene_of_clip(clip, smooth, settings, lens=lens, marks=marks, camera=steady.camera)
    people = tuple(place_person(smooth, person, scene) for person in range(tracks.n_people))
    return PlacedClip(
        clip=clip, lens=lens, steady=steady, smooth=smooth, scene=scene, people=people
    )  # fmt: skip


def load_placed_clip(
    path: Path,
    settings: AnalysisSettings,
    *,
    cache_dir: Path,
    on_progress: ProgressCallback = ignore_progress,
) -> PlacedClip:
    """Read a clip and place its people.

    Parameters
    ----------
    path
        The film.
    settings
        As for an analysis; the move does not matter.
    cache_dir
        Where raw landmarks are kept.
    on_progress
        Told how far the pose model has come.

    Raises
    ------
    CrossemetryError
        The film, a setting or the model cannot be used.
    """
    profile = read_lens(settings.lens_path, path)
    marks = read_scene_marks(path, settings, profile)
    with opened(path):  # a file that is not a film is refused before anything else
        digest = file_digest(path)
    clip, tracks = read_landmarks(
        path, settings, digest=digest, cache_dir=cache_dir, on_progress=on_progress
    )
    return place_people(clip, tracks, settings, profile, marks)
