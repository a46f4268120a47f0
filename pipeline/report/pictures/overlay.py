"""Writes the overlay: a film of a clip's reps with skeleton, measures and slow motion."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from pipeline.core.progress import Progress, ProgressCallback, ignore_progress
from pipeline.core.results import Analysis, RepResult
from pipeline.feedback.words import Words, raised, words_of
from pipeline.film.clip import FrameRuns
from pipeline.film.container import Picture
from pipeline.film.writer import film_size_px, open_film_writer
from pipeline.report.manifest import origin_of, recorded_file
from pipeline.report.pictures.film_frame import draw_film_picture, shown_picture
from pipeline.report.pictures.film_plan import SLOWER, FilmPart, plan_film
from pipeline.report.pictures.film_privacy import FilmHeads
from pipeline.report.pictures.film_zoom import View, following_views, whole_view
from pipeline.report.pictures.key_frames import key_event, key_time_s, rep_marks
from pipeline.report.pictures.rep_picture import DrawnMeasure

FILM_NAME = "overlay.mp4"

MARKS_BEFORE_S, MARKS_AFTER_S = 0.1, 0.5
"""Time before and after the key event during which the measures are drawn."""

MOMENT_S = 0.1
"""Time before and after the key event during which it is named."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OverlaySettings:
    """Contents of an overlay.

    Attributes
    ----------
    hide_faces
        Whether all faces are hidden.
    show_others
        Whether the defender's skeleton is drawn too.
    whole
        Whether the time between reps is shown too.
    """

    hide_faces: bool = True
    show_others: bool = False
    whole: bool = False


def write_overlay(
    analysis: Analysis,
    folder: Path,
    settings: OverlaySettings,
    *,
    on_progress: ProgressCallback = ignore_progress,
) -> Path | None:
    """Write the overlay of a clip, frame by frame.

    Parameters
    ----------
    analysis
        The result for a clip whose film is still at its path.
    folder
        Folder for `FILM_NAME`.
    settings
        Contents of the overlay.
    on_progress
        Receives the number of frames written.

    Returns
    -------
    Path or None
        The film; None without reps, unless the whole film is requested.

    Raises
    ------
    OutputError
        The film cannot be written.
    ClipError
        The clip can no longer be read.
    """
    parts = plan_film(analysis.clip.time_s, analysis.reps, whole=settings.whole)
    if not parts:
        return None
    path = folder / FILM_NAME
    size_px = film_size_px(analysis.clip.width_px, analysis.clip.height_px)
    total = sum(part.frames.size for part in parts)
    place = partial(recorded_file, origin=origin_of("overlay", analysis))
    with open_film_writer(path, size_px, place=place) as film:
        for done, (picture, shown_s) in enumerate(overlay_pictures(analysis, parts, settings)):
            film.write(picture, shown_s)
            on_progress(Progress(stage="writing_film", done=done + 1, total=total))
    return path


def overlay_pictures(
    analysis: Analysis, parts: list[FilmPart], settings: OverlaySettings
) -> Iterator[tuple[Picture, float]]:
    """Yield the frames of an overlay with their times in the film, s.

    Parameters
    ----------
    analysis
        The result for the clip.
    parts
        From `plan_film`.
    settings
        Contents of the overlay.
    """
    clip, image_px = analysis.clip, analysis.tracks.image_px
    words, runs = words_of(analysis), FrameRuns(clip)
    heads = FilmHeads(analysis.tracks)
    drawn_px = image_px if settings.show_others else image_px[:1]
    for part in parts:
        shown_s = dict(zip(part.frames.tolist(), part.shown_s.tolist(), strict=True))
        first, stop = int(part.frames[0]), int(part.frames[-1]) + 1
        views = part_views(analysis, part)
        for frame, whole in runs.read(first, stop):
            if frame not in shown_s:
                continue
            view = views[frame - first]
            picture = shown_picture(
                whole,
                view,
                heads.joints_px(frame),
                heads.circles_px(frame),
                hide_faces=settings.hide_faces,
            )
            texts = _texts(analysis, part, frame, words)
            draw_film_picture(
                picture,
                view.points(drawn_px[:, frame]),
                _marks_near(analysis, part.result, frame, view),
                top=texts.top,
                slow=texts.slow,
                clock=texts.clock,
            )
            yield picture, shown_s[frame]


def part_views(analysis: Analysis, part: FilmPart) -> list[View]:
    """Return a view per frame: the whole picture at true speed, the athlete in slow motion.

    Parameters
    ----------
    analysis
        Source of the picture's size and the athlete's track.
    part
        From `plan_film`.

    Returns
    -------
    list of View
        One for every frame from the first of the part to its last, dropped frames included.
    """
    clip, first, stop = analysis.clip, int(part.frames[0]), int(part.frames[-1]) + 1
    picture_px = (clip.width_px, clip.height_px)
    size_px = film_size_px(*picture_px)
    if not part.slow:
        return [whole_view(picture_px, size_px)] * (stop - first)
    return following_views(
        analysis.tracks.image_px[0], clip.time_s, first, stop,
        picture_px=picture_px, size_px=size_px,
    )  # fmt: skip


def _marks_near(
    analysis: Analysis, result: RepResult | None, frame: int, view: View
) -> list[DrawnMeasure]:
    """Return the rep's drawn measures in the view, while its key event is near."""
    if result is None:
        return []
    after_s = float(analysis.clip.time_s[frame]) - key_time_s(result, analysis.clip.time_s)
    if not -MARKS_BEFORE_S <= after_s <= MARKS_AFTER_S:
        return []
    return [view.mark(mark) for mark in rep_marks(analysis, result, frame)]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Texts:
    """Texts on a frame: rep and move, slow motion with the key event, and clip time."""

    top: tuple[str, ...] = ()
    slow: tuple[str, ...] = ()
    clock: str = ""


def _texts(analysis: Analysis, part: FilmPart, frame: int, words: Words) -> _Texts:
    time_s = float(analysis.clip.time_s[frame])
    clock = words.text("overlay.clock", time=round(time_s, 1))
    if part.result is None:
        return _Texts(clock=clock)
    rep = part.result.rep
    top = words.overlay["rep"].format(number=rep.index, move=words.move_name(rep.move))
    slow: tuple[str, ...] = ()
    if part.slow:
        slow = (words.overlay["slow"].format(slower=SLOWER),)
        event = key_event(part.result)
        near = abs(time_s - key_time_s(part.result, analysis.clip.time_s)) <= MOMENT_S
        if near and event is not None:
            slow += (raised(words.report[f"event_{event}"]),)
    return _Texts(top=(top,), slow=slow, clock=clock)
