"""Correct reps of an earlier analysis, and learn from all corrections that were made."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import product
from pathlib import Path
from typing import Any

from models import DEFAULT_MODEL, MODELS
from models.moves.classifier import NOT_A_REP, move_classifier
from pipeline.core.errors import CorrectionError
from pipeline.core.files import locked, made_folder
from pipeline.core.messages import message
from pipeline.core.types import Hand
from pipeline.people.cache import TrackCache
from pipeline.people.landmarks import tracks_key
from pipeline.scene.motion import motion_of
from pipeline.scene.placed_clip import PlacedClip, load_placed_clip, place_people
from pipeline.settings.settings import AnalysisSettings, GivenSettings, resolve
from pipeline.settings.side_file import read_side_file
from pipeline.teaching.classifier_versions import Version, keep_version, load_versions
from pipeline.teaching.corrections import (
    Correction,
    CorrectionKind,
    Moments,
    TimeSpan,
    anchors_of,
    class_of,
    dismissed,
    joined,
    moments_of,
    relabelled,
)
from pipeline.teaching.corrections_store import (
    FOLDER,
    corrections_path,
    load_corrections,
    save_corrections,
)
from pipeline.teaching.team_classifier import HeldOut, fit_layer, hold_out

MOST_CHANGED = 0.05
"""A layer that changes the names of more than this share of the moments that nobody corrected is
not put in force by itself."""

SHORTEST_PART_S = 0.2


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundRep:
    """A rep as an earlier analysis found it."""

    index: int
    window_s: TimeSpan
    move: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CorrectionRequest:
    """A person's correction of a rep.

    Attributes
    ----------
    rep
        Its number.
    move
        What it is: a move, ``not_a_rep``, or ``unknown`` for none of the moves; None = as found.
    split_at_s
        It is two reps, the second of which starts here (clip time); None = it is not.
    join_with
        Number of a rep that is the same one; or None.
    by, at
        Who, and when.
    """

    rep: int
    move: str | None
    split_at_s: float | None
    join_with: int | None
    by: str
    at: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Learned:
    """What came of learning from all corrections."""

    version: Version
    held_out: HeldOut
    in_force: bool
    why_not: str


def correct(
    reps_path: Path,
    request: CorrectionRequest,
    *,
    clip_path: Path | None,
    cache_dir: Path,
) -> Correction:
    """Make a correction and keep it.

    Parameters
    ----------
    reps_path
        ``reps.json`` of an analysis.
    request
        What is so.
    clip_path
        The film; None = the landmarks that the analysis kept are enough.
    cache_dir
        Where they are kept.

    Raises
    ------
    CrossemetryError
        The results or the film cannot be used, or the correction cannot be meant.
    """
    head, reps = read_reps(reps_path)
    moments = _moments(head, reps_path, clip_path, cache_dir)
    correction = corrected(moments, reps, request)
    made_folder(FOLDER)
    with locked(corrections_path()):
        save_corrections(load_corrections().with_one(correction, anchors_of(moments)))
    return correction


def corrected(moments: Moments, reps: Sequence[FoundRep], request: CorrectionRequest) -> Correction:
    """Make a correction from a person's request; raises `CorrectionError`."""
    base = move_classifier()
    rep = _one(reps, request.rep)
    label = class_of(request.move or rep.move)
    windows_s: tuple[TimeSpan, ...] = (rep.window_s,)
    kind: CorrectionKind
    if request.split_at_s is not None:
        start_s, stop_s = rep.window_s
        at_s = request.split_at_s
        if not start_s + SHORTEST_PART_S <= at_s <= stop_s - SHORTEST_PART_S:
            raise CorrectionError.of(
                "no_split_there", at=at_s, rep=rep.index, start=start_s, stop=stop_s
            )
        kind, windows_s = "split", ((start_s, at_s), (at_s, stop_s))
        lessons = tuple(relabelled(moments, window_s, label, base) for window_s in windows_s)
    elif request.join_with is not None:
        other = _one(reps, request.join_with)
        if other.index == rep.index:
            raise CorrectionError.of("joined_with_itself", rep=rep.index)
        kind, windows_s = "joined", (rep.window_s, other.window_s)
        lessons = joined(moments, windows_s, label, base)
    elif label == NOT_A_REP:
        kind, lessons = "dismissed", (dismissed(moments, rep.window_s, base),)
    else:
        kind = "confirmed" if label == class_of(rep.move) else "relabelled"
        lessons = (relabelled(moments, rep.window_s, label, base),)
    return Correction(
        kind=kind, was=rep.move, label=label, windows_s=windows_s, lessons=lessons,
        clip=moments.clip, by=request.by, at=request.at,
    )  # fmt: skip


def retrain(*, by: str, at: str, anyway: bool) -> Learned:
    """Learn from all corrections, and put that in force if it is not worse.

    Parameters
    ----------
    by, at
        Who requests it, and when.
    anyway
        Whether to put it in force even so.

    Raises
    ------
    CorrectionError
        There are no corrections, or their file cannot be used.
    """
    corrections = load_corrections()
    if not corrections.made:
        raise CorrectionError.of("no_corrections")
    base, lessons, held = move_classifier(), corrections.lessons, corrections.held
    result = hold_out(base, lessons, held)
    layer = fit_layer(base, lessons, held)
    why_not = _why_not(result)
    made_folder(FOLDER)
    with locked(corrections_path()):
        versions = load_versions()
        version = Version(
            number=max((one.number for one in versions.learned), default=0) + 1,
            at=at,
            by=by,
            n_corrections=len(corrections.made),
            n_films=result.n_films,
            n=result.n,
            right_before=result.right_before,
            right_after=result.right_after,
        )
        in_force = anyway or not why_not
        keep_version(version, layer, put_in_force=in_force)
    return Learned(version=version, held_out=result, in_force=in_force, why_not=why_not)


def read_reps(path: Path) -> tuple[dict[str, Any], list[FoundRep]]:
    """Read an analysis of a clip, and its reps.

    Raises
    ------
    CorrectionError
        It cannot be read, or is no such file.
    """
    try:
        document = json.loads(path.read_text(encoding="utf-8"))
        head = document["clip"]
        reps = [
            FoundRep(
                index=int(rep["index"]),
                window_s=(float(rep["start_s"]), float(rep["stop_s"])),
                move=str(rep["move"]),
            )
            for rep in document["reps"]
        ]
        str(head["digest"]), float(head["stature_m"])
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise CorrectionError.of("no_results_to_correct", path=str(path)) from error
    return head, reps


def _why_not(result: HeldOut) -> str:
    """Say why a layer is not put in force; empty if it is."""
    if result.n == 0:
        return message("taught.one_film")
    if result.right_after < result.right_before:
        return message("taught.fewer_right")
    if result.changed > MOST_CHANGED:
        return message("taught.changes_much", share=result.changed)
    return ""


def _one(reps: Sequence[FoundRep], index: int) -> FoundRep:
    for rep in reps:
        if rep.index == index:
            return rep
    numbers = ", ".join(str(rep.index) for rep in reps) or message("drill_parts.no_reps")
    raise CorrectionError.of("no_rep_to_correct", rep=index, reps=numbers)


def _moments(
    head: dict[str, Any], reps_path: Path, clip_path: Path | None, cache_dir: Path
) -> Moments:
    """See the film of the results again."""
    hand: Hand | None = None  # without the film's side file, it is found again
    if clip_path is None:
        seen = _from_cache(head, reps_path, cache_dir)
    else:
        given = GivenSettings(stature_m=float(head["stature_m"]))
        settings = resolve(given, read_side_file(clip_path), clip_name=clip_path.name)
        seen = load_placed_clip(clip_path, settings, cache_dir=cache_dir)
        hand = settings.stick_hand
        if seen.clip.digest != head["digest"]:
            raise CorrectionError.of(
                "results_of_other_film", clip=clip_path.name, path=str(reps_path)
            )
    clip = seen.clip
    motions = [
        motion_of(person, clip.time_s, seen.scene, 0, clip.n_frames, n_draws=1)
        for person in seen.people
    ]
    return moments_of(clip.digest, motions[0], motions[1] if len(motions) > 1 else None, hand)


def _from_cache(head: dict[str, Any], reps_path: Path, cache_dir: Path) -> PlacedClip:
    """See a film by the landmarks that its analysis kept."""
    usual = AnalysisSettings(stature_m=float(head["stature_m"]), model=DEFAULT_MODEL)
    cache, path = TrackCache(cache_dir), Path(str(head.get("name", "film")))
    # The results do not name the model; of several analyses that of the usual one is taken.
    names = sorted(MODELS, key=lambda name: name != usual.model)
    for name, every_frame in product(names, (True, False)):
        settings = replace(usual, model=name, every_frame=every_frame)
        kept = cache.load(tracks_key(str(head["digest"]), settings), path)
        if kept is not None:
            return place_people(*kept, settings, None, None)
    raise CorrectionError.of("landmarks_not_kept", path=str(reps_path), folder=str(cache_dir))
