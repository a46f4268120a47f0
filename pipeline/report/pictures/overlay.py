"""The overlay: a clip's reps as film, skeleton and measures on it, slowly at the key event."""

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
from pipeline.report.pictures.film_frame import draw_film_picture, shown_picture
from pipeline.report.pictures.film_plan import SLOWER, FilmPart, plan_film
from pipeline.report.pictures.film_privacy import FilmHeads
from pipeline.report.pictures.film_zoom import View, following_views, whole_view
from pipeline.report.pictures.key_frames import key_event, key_time_s, rep_marks
from pipeline.report.pictures.rep_picture import DrawnMeasure
from pipeline.report.recording import origin_of, recorded_file

FILM_NAME = "overlay.mp4"

MARKS_BEFORE_S, MARKS_AFTER_S = 0.1, 0.5
"""How long before and after the key event the measures stand in the picture."""

MOMENT_S = 0.1
"""How long before and after it the key event is named."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OverlaySettings:
    """What an overlay shows.

    Attributes
    ----------
    hide_faces
        Whether all faces are hidden.
    show_others
        Whether the defender's skeleton is drawn too.
    whole
        Whether to show what lies between reps too.
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
        Of the clip; its film has to lie where it lay.
    folder
        Where `FILM_NAME` is put.
    settings
        What is shown.
    on_progress
        Told the pictures done.

    Returns
    -------
    Path or None
        The film; None when there is nothing to show, which is without reps unless the whole film
        was asked for.

    Raises
    ------
    OutputError
        It cannot be written.
    ClipError
        The clip cannot be read any more.
    """
    shots = plan_film(analysis.clip.time_s, analysis.reps, whole=settings.whole)
    if not shots:
        return None
    path = folder / FILM_NAME
    size_px = film_size_px(analysis.clip.width_px, analysis.clip.height_px)
    total = sum(shot.frames.size for shot in shots)
    place = partial(recorded_file, origin=origin_of("overlay", analysis))
    with open_film_writer(path, size_px, place=place) as film:
        for done, (picture, shown_s) in enumerate(overlay_pictures(analysis, shots, settings)):
            film.write(picture, shown_s)
            on_progress(Progress(stage="writing_film", done=done + 1, total=total))
    return path


def overlay_pictures(
    analysis: Analysis, shots: list[FilmPart], settings: OverlaySettings
) -> Iterator[tuple[Picture, float]]:
    """Yield the pictures of an overlay and when each is shown, s.

    Parameters
    ----------
    analysis
        Of the clip.
    shots
        From `plan_film`.
    settings
        What is shown.
    """
    clip, image_px = analysis.clip, analysis.tracks.image_px
    words, runs = words_of(analysis), FrameRuns(clip)
    heads = FilmHeads(analysis.tracks)
    drawn_px = image_px if settings.show_others else image_px[:1]
    for shot in shots:
        shown_s = dict(zip(shot.frames.tolist(), shot.shown_s.tolist(), strict=True))
        first, stop = int(shot.frames[0]), int(shot.frames[-1]) + 1
        views = part_views(analysis, shot)
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
            texts = _texts(analysis, shot, frame, words)
            draw_film_picture(
                picture,
                view.points(drawn_px[:, frame]),
                _marks_near(analysis, shot.result, frame, view),
                top=texts.top,
                slow=texts.slow,
                clock=texts.clock,
            )
            yield picture, shown_s[frame]


def part_views(analysis: Analysis, shot: FilmPart) -> list[View]:
    """View of each frame of a shot: the whole picture at true speed, about the athlete when slow.

    Parameters
    ----------
    analysis
        For the picture's size and the athlete.
    shot
        From `plan_film`.

    Returns
    -------
    list of View
        From the first frame of the shot to its last, also of those that are left out.
    """
    clip, first, stop = analysis.clip, int(shot.frames[0]), int(shot.frames[-1]) + 1
    picture_px = (clip.width_px, clip.height_px)
    size_px = film_size_px(*picture_px)
    if not shot.slow:
        return [whole_view(picture_px, size_px)] * (stop - first)
    return following_views(
        analysis.tracks.image_px[0], clip.time_s, first, stop,
        picture_px=picture_px, size_px=size_px,
    )  # fmt: skip


def _marks_near(
    analysis: Analysis, result: RepResult | None, frame: int, view: View
) -> list[DrawnMeasure]:
    """Give the marks of the rep while its key event is near, in the view."""
    if result is None:
        return []
    after_s = float(analysis.clip.time_s[frame]) - key_time_s(result, analysis.clip.time_s)
    if not -MARKS_BEFORE_S <= after_s <= MARKS_AFTER_S:
        return []
    return [view.mark(mark) for mark in rep_marks(analysis, result, frame)]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Texts:
    """Words on a picture: which rep, how slow, the clip's time, and the key event by its name."""

    top: tuple[str, ...] = ()
    slow: tuple[str, ...] = ()
    clock: str = ""


def _texts(analysis: Analysis, shot: FilmPart, frame: int, words: Words) -> _Texts:
    time_s = float(analysis.clip.time_s[frame])
    clock = words.text("overlay.clock", time=round(time_s, 1))
    if shot.result is None:
        return _Texts(clock=clock)
    rep = shot.result.rep
    top = words.overlay["rep"].format(number=rep.index, move=words.move_name(rep.move))
    slow: tuple[str, ...] = ()
    if shot.slow:
        slow = (words.overlay["slow"].format(slower=SLOWER),)
        event = key_event(shot.result)
        near = abs(time_s - key_time_s(shot.result, analysis.clip.time_s)) <= MOMENT_S
        if near and event is not None:
            slow += (raised(words.report[f"event_{event}"]),)
    return _Texts(top=(top,), slow=slow, clock=clock)
