"""The last few clips that were looked at, as the program sees them, so that a change is quick."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any

import models
from pipeline.analysis import find_reps
from pipeline.core.errors import CrossemetryError, ReviewError
from pipeline.core.results import Measurement
from pipeline.core.types import Rep
from pipeline.film.undistort import read_lens
from pipeline.people.cache import TrackCache, cache_key
from pipeline.people.landmarks import N_PEOPLE_MAX
from pipeline.scene.from_marks import read_scene_marks
from pipeline.scene.placed_clip import PlacedClip, seen_from
from pipeline.settings.settings import AnalysisSettings, GivenSettings, resolve, settings_of_text
from pipeline.settings.side_file import read_side_file
from pipeline.targets.load import coach_targets_path, load_targets
from pipeline.targets.lookup import Targets
from pipeline.teaching.classifier_versions import classifier_in_force
from pipeline.teaching.drill_store import drill_asked_for
from pipeline.teaching.drills import Drill
from pipeline.web.review.remeasure import Remeasured, remeasured
from pipeline.web.review.rep_edits import RepEdit

MOST_CLIPS = 4
"""Clips that are kept: some 30 MB each for a minute of film."""

MOST_RESULTS = 64
SAME_REP = 0.5
"""A rep of the log and one that is found again are the same if they share so much of their time."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptClip:
    """A clip that was analysed before, ready to be measured again.

    Attributes
    ----------
    seen
        The clip with its people placed in the scene.
    settings
        What the analysis was told.
    reps
        As the program finds them.
    drill
        The drill that was asked for, where it is one that was taught.
    """

    seen: PlacedClip
    settings: AnalysisSettings
    reps: tuple[Rep, ...]
    drill: Drill | None
    _results: OrderedDict[tuple[int, tuple[RepEdit, ...]], Remeasured] = field(
        default_factory=OrderedDict
    )
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def rep_of(self, row: Mapping[Any, Any]) -> Rep:
        """Find the rep of a row of the log.

        Raises
        ------
        ReviewError
            The program finds no such rep in the film any more.
        """
        window = (float(row["start_s"]), float(row["stop_s"]))
        best = max(self.reps, key=lambda rep: shared((rep.start_s, rep.stop_s), window),
                   default=None)  # fmt: skip
        if best is None or shared((best.start_s, best.stop_s), window) < SAME_REP:
            raise ReviewError.of("rep_not_found_again")
        return best

    def measured(self, rep: Rep, changes: Sequence[RepEdit]) -> Remeasured:
        """Measure a rep with the changes that stand; what was asked before is known."""
        key = (rep.index, tuple(changes))
        with self._lock:
            if key in self._results:
                self._results.move_to_end(key)
                return self._results[key]
        before: Mapping[str, Measurement] | None = None
        if changes:
            before = self.measured(rep, ()).measurements
        result = remeasured(
            self.seen,
            rep,
            changes,
            seed=self.settings.seed,
            keys=None if self.drill is None else self.drill.measures,
            before=before,
        )
        with self._lock:
            self._results[key] = result
            while len(self._results) > MOST_RESULTS:
                self._results.popitem(last=False)
        return result


class KeptClips:
    """The last few clips, by the row of the log that they are of; safe between threads."""

    def __init__(self, cache: Path) -> None:
        self._cache = cache
        self._clips: OrderedDict[tuple[Any, ...], KeptClip] = OrderedDict()
        self._lock = threading.Lock()
        self._loading = threading.Lock()

    def get(self, row: Mapping[str, Any]) -> KeptClip:
        """Give the clip of a rep; `row` as from `pipeline.web.review.context.rep_row`.

        Raises
        ------
        ReviewError
            What its analysis kept is not there any more.
        CrossemetryError
            Its lens, its marks or the targets cannot be used.
        """
        key = (row["clip_id"], row["clip_file_digest"], row["clip_analysed_at"])
        with self._loading:  # one at a time: two of them would take the memory of both
            with self._lock:
                if key in self._clips:
                    self._clips.move_to_end(key)
                    return self._clips[key]
            clip = load_clip(row, self._cache)
            with self._lock:
                self._clips[key] = clip
                while len(self._clips) > MOST_CLIPS:
                    self._clips.popitem(last=False)
            return clip


def load_clip(row: Mapping[str, Any], cache: Path) -> KeptClip:
    """See a clip again by the landmarks that its analysis kept; the pose model is not run."""
    path = Path(row["clip_film_path"] or row["clip_file_name"])
    settings = _settings(row, path)
    folders = [Path(kept) for kept in (row["clip_cache_path"],) if kept] + [cache]
    asked = {
        "true_fps": settings.true_fps,
        "athlete_at": settings.athlete_at,
        "n_people_max": N_PEOPLE_MAX,
    }
    model_path = models.bundle_path() if settings.model_path is None else settings.model_path
    key = cache_key(row["clip_file_digest"], models.verify(model_path), asked)
    found = (TrackCache(folder).load(key, path) for folder in folders)
    kept = next((one for one in found if one is not None), None)
    if kept is None or (not path.is_file() and (settings.lens_path or settings.marks_path)):
        raise ReviewError.of("film_not_kept")
    profile = read_lens(settings.lens_path, path) if path.is_file() else None
    marks = read_scene_marks(path, settings, profile) if path.is_file() else None
    seen = seen_from(*kept, settings, profile, marks)
    drill = drill_asked_for(settings.move)
    classifier = classifier_in_force() if settings.move is None else None
    reps = find_reps(seen.clip, seen.people, seen.scene, settings, drill, classifier)
    return KeptClip(
        seen=seen,
        settings=settings,
        reps=tuple(reps),
        drill=drill,
    )


def targets_now(settings: AnalysisSettings) -> Targets:
    """Give the ranges now in force; a file that did not change is not read again."""
    path = coach_targets_path(settings.targets_path)
    if path is None or not path.is_file():
        return load_targets(path)
    about = path.stat()
    return _targets(path, about.st_mtime_ns, about.st_size)


@lru_cache(maxsize=8)
def _targets(path: Path, changed: int, size: int) -> Targets:
    del changed, size
    return load_targets(path)


def shared(one_s: tuple[float, float], other_s: tuple[float, float]) -> float:
    """Share of the time of two windows that both have, of the time that either has."""
    both = min(one_s[1], other_s[1]) - max(one_s[0], other_s[0])
    either = max(one_s[1], other_s[1]) - min(one_s[0], other_s[0])
    return max(0.0, both / either) if either > 0 else 0.0


def _settings(row: Mapping[str, Any], path: Path) -> AnalysisSettings:
    """Read the settings that were kept; of older rows, those of the film's side file."""
    if row["clip_settings"]:
        try:
            return settings_of_text(row["clip_settings"])
        except ValueError:
            pass  # of another version: as good as not there
    given = GivenSettings(
        stature_m=row["clip_stature_m"], level=row["clip_level"], athlete=row["athlete"]
    )
    try:
        return resolve(given, read_side_file(path), clip_name=path.name)
    except CrossemetryError as error:
        raise ReviewError.of("film_not_kept") from error
