"""Keeps the last few analysed clips in memory, so that measuring a rep again is quick."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any

from pipeline.analysis import find_reps
from pipeline.core.errors import CrossemetryError, ReviewError
from pipeline.core.results import Measurement
from pipeline.core.types import Rep
from pipeline.film.undistort import read_lens
from pipeline.people.cache import TrackCache
from pipeline.people.landmarks import tracks_key
from pipeline.scene.from_marks import read_scene_marks
from pipeline.scene.placed_clip import PlacedClip, place_people
from pipeline.settings.settings import AnalysisSettings, GivenSettings, resolve, settings_of_text
from pipeline.settings.side_file import read_side_file
from pipeline.targets.load import coach_targets_path, load_targets
from pipeline.targets.lookup import Targets
from pipeline.teaching.classifier_versions import classifier_in_force
from pipeline.teaching.drill_store import requested_drill
from pipeline.teaching.drills import Drill
from pipeline.web.review.remeasure import Remeasured, remeasure_rep
from pipeline.web.review.rep_edits import RepEdit

MOST_CLIPS = 4
"""Number of clips in memory; each minute of film takes about 30 MB."""

MOST_RESULTS = 64
SAME_REP = 0.5
"""Least shared time (intersection over union) of a logged rep and the same rep found again."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CachedClip:
    """An analysed clip, ready to be measured again.

    Attributes
    ----------
    placed
        The clip with its people placed in the scene.
    settings
        Settings of the analysis.
    reps
        Reps as detected.
    drill
        The requested drill, if it is a taught one.
    """

    placed: PlacedClip
    settings: AnalysisSettings
    reps: tuple[Rep, ...]
    drill: Drill | None
    _results: OrderedDict[tuple[int, tuple[RepEdit, ...]], Remeasured] = field(
        default_factory=OrderedDict
    )
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def rep_of(self, row: Mapping[Any, Any]) -> Rep:
        """Find the detected rep that matches a row of the log.

        Raises
        ------
        ReviewError
            No detected rep matches.
        """
        window = (float(row["start_s"]), float(row["stop_s"]))
        best = max(self.reps, key=lambda rep: shared((rep.start_s, rep.stop_s), window),
                   default=None)  # fmt: skip
        if best is None or shared((best.start_s, best.stop_s), window) < SAME_REP:
            raise ReviewError.of("rep_not_found_again")
        return best

    def measured(self, rep: Rep, changes: Sequence[RepEdit]) -> Remeasured:
        """Measure a rep with the changes in force; recent results come from memory."""
        key = (rep.index, tuple(changes))
        with self._lock:
            if key in self._results:
                self._results.move_to_end(key)
                return self._results[key]
        before: Mapping[str, Measurement] | None = None
        if changes:
            before = self.measured(rep, ()).measurements
        result = remeasure_rep(
            self.placed,
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


class ClipCache:
    """The last few clips, by clip, digest and time of analysis; thread-safe."""

    def __init__(self, cache: Path) -> None:
        self._cache = cache
        self._clips: OrderedDict[tuple[Any, ...], CachedClip] = OrderedDict()
        self._lock = threading.Lock()
        self._loading = threading.Lock()

    def get(self, row: Mapping[str, Any]) -> CachedClip:
        """Give the clip of a rep; `row` comes from `pipeline.web.review.context.rep_row`.

        Raises
        ------
        ReviewError
            The cached landmarks are missing.
        CrossemetryError
            The lens or the marks cannot be used.
        """
        key = (row["clip_id"], row["clip_file_digest"], row["clip_analysed_at"])
        with self._loading:  # one at a time, to limit memory
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


def load_clip(row: Mapping[str, Any], cache: Path) -> CachedClip:
    """Rebuild a clip from its cached landmarks, without running the pose model."""
    path = Path(row["clip_film_path"] or row["clip_file_name"])
    settings = _settings(row, path)
    folders = [Path(cached) for cached in (row["clip_cache_path"],) if cached] + [cache]
    key = tracks_key(row["clip_file_digest"], settings)
    found = (TrackCache(folder).load(key, path) for folder in folders)
    cached = next((one for one in found if one is not None), None)
    if cached is None or (not path.is_file() and (settings.lens_path or settings.marks_path)):
        raise ReviewError.of("film_not_kept")
    profile = read_lens(settings.lens_path, path) if path.is_file() else None
    marks = read_scene_marks(path, settings, profile) if path.is_file() else None
    placed = place_people(*cached, settings, profile, marks)
    drill = requested_drill(settings.move)
    classifier = classifier_in_force() if settings.move is None else None
    reps = find_reps(placed.clip, placed.people, placed.scene, settings, drill, classifier)
    return CachedClip(
        placed=placed,
        settings=settings,
        reps=tuple(reps),
        drill=drill,
    )


def targets_now(settings: AnalysisSettings) -> Targets:
    """Give the target ranges in force; an unchanged file is not read again."""
    path = coach_targets_path(settings.targets_path)
    if path is None or not path.is_file():
        return load_targets(path)
    stat = path.stat()
    return _targets(path, stat.st_mtime_ns, stat.st_size)


@lru_cache(maxsize=8)
def _targets(path: Path, changed: int, size: int) -> Targets:
    del changed, size
    return load_targets(path)


def shared(one_s: tuple[float, float], other_s: tuple[float, float]) -> float:
    """Intersection over union of two time windows, 0 to 1."""
    both = min(one_s[1], other_s[1]) - max(one_s[0], other_s[0])
    either = max(one_s[1], other_s[1]) - min(one_s[0], other_s[0])
    return max(0.0, both / either) if either > 0 else 0.0


def _settings(row: Mapping[str, Any], path: Path) -> AnalysisSettings:
    """Read the logged settings; for rows without them, those of the film's side file."""
    if row["clip_settings"]:
        try:
            return settings_of_text(row["clip_settings"])
        except ValueError:
            pass  # written by another version
    given = GivenSettings(
        stature_m=row["clip_stature_m"], level=row["clip_level"], athlete=row["athlete"]
    )
    try:
        return resolve(given, read_side_file(path), clip_name=path.name)
    except CrossemetryError as error:
        raise ReviewError.of("film_not_kept") from error
