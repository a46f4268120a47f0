"""Shows two reps side by side, aligned at their key event: as a film and as a picture strip."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np

from pipeline.core.errors import OutputError
from pipeline.core.files import checked_stem
from pipeline.core.progress import Progress, ProgressCallback, ignore_progress
from pipeline.core.results import Analysis, RepResult
from pipeline.core.types import FloatArray, IndexArray
from pipeline.feedback.words import Words, words_of
from pipeline.film.clip import FrameRuns
from pipeline.film.container import Picture
from pipeline.film.writer import open_film_writer
from pipeline.report.manifest import origin_of, recorded_file, write_recorded
from pipeline.report.pictures.drawing import INK, write_label
from pipeline.report.pictures.film_frame import draw_film_picture, shown_picture
from pipeline.report.pictures.film_plan import MOST_PER_S, SLOWER, thinned, usual_step_s
from pipeline.report.pictures.film_privacy import FilmHeads
from pipeline.report.pictures.film_zoom import View, following_views
from pipeline.report.pictures.key_frames import key_frame, key_time_s, rep_marks
from pipeline.report.pictures.overlay import MARKS_AFTER_S, MARKS_BEFORE_S
from pipeline.report.pictures.rep_picture import encode_jpeg

AROUND_S = 1.0
"""Time shown before and after the key event."""

SLOW_AROUND_S = 0.5
INSTANTS_S = (-0.4, -0.2, 0.0, 0.2, 0.4)
"""Instants of the strip, relative to the key event."""

PANEL_PX = (540, 720)
STRIP_PANEL_PX = (360, 480)
LONGEST_NAME = 22


@dataclass(frozen=True, slots=True, kw_only=True)
class ComparedRep:
    """One of two compared reps.

    Attributes
    ----------
    analysis, result
        The result for a clip whose film is still at its path, and the rep in it.
    hide_faces
        Whether all faces are hidden.
    """

    analysis: Analysis
    result: RepResult
    hide_faces: bool = True

    @property
    def from_key_s(self) -> FloatArray:
        """(n_frames,) time of each frame relative to the key event, s."""
        time_s = self.analysis.clip.time_s
        return np.asarray(time_s - key_time_s(self.result, time_s))


def write_side_by_side(
    sides: tuple[ComparedRep, ComparedRep],
    folder: Path,
    *,
    on_progress: ProgressCallback = ignore_progress,
) -> tuple[Path, Path]:
    """Write the film and the strip of two reps side by side.

    Parameters
    ----------
    sides
        Left and right rep of the film, upper and lower rep of the strip.
    folder
        Folder for both files, which are named after the clips and the reps.
    on_progress
        Receives the number of frames written.

    Returns
    -------
    tuple of Path
        The film, at true speed and then in slow motion, and the strip.

    Raises
    ------
    OutputError
        A file cannot be written.
    ClipError
        A clip can no longer be read.
    """
    stem = "_and_".join(
        f"{checked_stem(side.analysis.clip.path)}_rep_{side.result.rep.index:02d}" for side in sides
    )
    film_path, strip_path = folder / f"{stem}.mp4", folder / f"{stem}.jpg"
    schedules = [(AROUND_S, 1), (SLOW_AROUND_S, SLOWER)]
    planned = [aligned_frames(sides, around_s) for around_s, _ in schedules]
    total, done, clock_s = sum(from_key_s.size for from_key_s, _ in planned), 0, 0.0
    origin = origin_of("compare", *(side.analysis for side in sides))
    place = partial(recorded_file, origin=origin)
    with open_film_writer(film_path, (2 * PANEL_PX[0], PANEL_PX[1]), place=place) as film:
        for (_, slower), (from_key_s, frames) in zip(schedules, planned, strict=True):
            pictures = _pair_pictures(sides, from_key_s, frames, slower)
            for at_s, picture in zip(from_key_s.tolist(), pictures, strict=True):
                film.write(picture, clock_s + slower * (at_s - float(from_key_s[0])))
                done += 1
                on_progress(Progress(stage="writing_film", done=done, total=total))
            clock_s += slower * (float(from_key_s[-1] - from_key_s[0]) + 1.0 / 30.0)
    try:
        write_recorded(folder, {strip_path.name: [encode_jpeg(strip_picture(sides))]}, origin)
    except OSError as error:
        why = error.strerror or str(error)
        raise OutputError.of("pictures_not_written", path=str(strip_path), why=why) from error
    return film_path, strip_path


def aligned_frames(
    sides: tuple[ComparedRep, ComparedRep], around_s: float
) -> tuple[FloatArray, tuple[IndexArray, IndexArray]]:
    """Pair the frames of two reps: those of the faster film with the nearest of the other.

    Parameters
    ----------
    sides
        The two reps.
    around_s
        Time before and after the key event.

    Returns
    -------
    from_key_s
        (n,) times of the pairs relative to the key event, s.
    frames
        Two (n,) arrays of frame numbers.
    """
    clocks = [side.from_key_s for side in sides]
    quicker = min(range(2), key=lambda i: usual_step_s(clocks[i]))
    clock = clocks[quicker]
    near = np.flatnonzero(np.abs(clock) <= around_s)
    if near.size == 0:
        near = np.array([int(np.argmin(np.abs(clock)))])
    slower = SLOWER if around_s == SLOW_AROUND_S else 1
    from_key_s = clock[thinned(clock, near, MOST_PER_S * slower)]
    first, second = (nearest_frames(clock, from_key_s) for clock in clocks)
    return np.asarray(from_key_s), (first, second)


def nearest_frames(clock_s: FloatArray, at_s: FloatArray) -> IndexArray:
    """Return (n,) numbers of the frames nearest to some instants.

    Examples
    --------
    >>> import numpy as np
    >>> nearest_frames(np.array([0.0, 0.1, 0.2]), np.array([-1.0, 0.06, 0.14, 9.0])).tolist()
    [0, 1, 1, 2]
    """
    after = np.clip(np.searchsorted(clock_s, at_s), 0, clock_s.size - 1)
    before = np.clip(after - 1, 0, clock_s.size - 1)
    nearer = np.abs(clock_s[before] - at_s) <= np.abs(clock_s[after] - at_s)
    return np.asarray(np.where(nearer, before, after), np.int64)


def strip_picture(sides: tuple[ComparedRep, ComparedRep]) -> Picture:
    """Draw both reps at the same instants, one row per rep.

    Returns
    -------
    (height, width, 3) array
    """
    words, rows = words_of(sides[0].analysis), []
    for side in sides:
        frames = nearest_frames(side.from_key_s, np.array(INSTANTS_S))
        panel = _Panel(side, int(frames.min()), int(frames.max()) + 1, STRIP_PANEL_PX)
        cells = []
        for instant_s, frame in zip(INSTANTS_S, frames.tolist(), strict=True):
            with closing(_Stepper(side, frame, frame + 1)) as stepper:
                top = [_clock(instant_s, words)]
                if instant_s == INSTANTS_S[0]:
                    top.append(_name(side, words))
                cells.append(panel.drawn(stepper.at(frame), frame, top))
        rows.append(np.hstack(cells))
    return np.asarray(np.vstack(rows), np.uint8)


def _pair_pictures(
    sides: tuple[ComparedRep, ComparedRep],
    from_key_s: FloatArray,
    frames: tuple[IndexArray, IndexArray],
    slower: int,
) -> Iterator[Picture]:
    """Yield the frames of the film, both reps side by side."""
    words = words_of(sides[0].analysis)
    panels = [
        _Panel(side, int(own[0]), int(own[-1]) + 1, PANEL_PX)
        for side, own in zip(sides, frames, strict=True)
    ]
    slow = (words.overlay["slow"].format(slower=slower),) if slower > 1 else ()
    left, right = (
        _Stepper(side, int(own[0]), int(own[-1]) + 1)
        for side, own in zip(sides, frames, strict=True)
    )
    with closing(left), closing(right):
        for at_s, *pair in zip(from_key_s.tolist(), *(own.tolist() for own in frames), strict=True):
            drawn = [
                panel.drawn(stepper.at(frame), frame, (_name(side, words),), slow)
                for panel, stepper, side, frame in zip(
                    panels, (left, right), sides, pair, strict=True
                )
            ]
            write_label(drawn[1], _clock(at_s, words), (-8, 8), INK)
            yield np.hstack(drawn)


class _Stepper:
    """Reads a run of frames forwards, on request."""

    def __init__(self, side: ComparedRep, first: int, stop: int) -> None:
        clip = side.analysis.clip
        self._run = FrameRuns(clip).read(first, stop)
        self._blank = np.zeros((clip.height_px, clip.width_px, 3), np.uint8)
        self._now: tuple[int, Picture] = (-1, self._blank)

    def at(self, frame: int) -> Picture:
        """Return a frame not before the last one; the next one if it is missing."""
        while self._now[0] < frame:
            self._now = next(self._run, (frame, self._now[1]))
        return self._now[1]

    def close(self) -> None:
        """Close the film."""
        self._run.close()


class _Panel:
    """Draws one rep in a view that follows its athlete."""

    def __init__(self, side: ComparedRep, first: int, stop: int, size_px: tuple[int, int]) -> None:
        clip, self._image_px = side.analysis.clip, side.analysis.tracks.image_px
        self._side, self._first = side, first
        self._heads = FilmHeads(side.analysis.tracks)
        self._views: list[View] = following_views(
            self._image_px[0], clip.time_s, first, stop,
            picture_px=(clip.width_px, clip.height_px), size_px=size_px,
        )  # fmt: skip

    def drawn(
        self, picture: Picture, frame: int, top: Sequence[str], slow: Sequence[str] = ()
    ) -> Picture:
        """Draw a frame, with the measures while the key event is near."""
        side, view = self._side, self._views[frame - self._first]
        shown = shown_picture(
            picture,
            view,
            self._heads.joints_px(frame),
            self._heads.circles_px(frame),
            hide_faces=side.hide_faces,
        )
        near = -MARKS_BEFORE_S <= float(side.from_key_s[frame]) <= MARKS_AFTER_S
        near = near or frame == key_frame(side.result)
        marks = rep_marks(side.analysis, side.result, frame) if near else []
        joints_px = view.points(self._image_px[:1, frame])
        draw_film_picture(shown, joints_px, [view.mark(m) for m in marks], top=top, slow=slow)
        return shown


def _name(side: ComparedRep, words: Words) -> str:
    name = side.analysis.clip.path.name
    if len(name) > LONGEST_NAME:
        name = f"{name[: LONGEST_NAME - 3]}..."
    return words.overlay["clip_rep"].format(clip=name, number=side.result.rep.index)


def _clock(from_key_s: float, words: Words) -> str:
    shown_s = round(abs(from_key_s), 2)
    if shown_s == 0.0:
        return words.text("overlay.clock_at")
    return words.text(f"overlay.clock_{'before' if from_key_s < 0 else 'after'}", time=shown_s)
