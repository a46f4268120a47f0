"""Writes the results of a clip: reps.json and reps.csv, the report page and the pictures."""

from __future__ import annotations

import csv
import io
import json
import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import asdict
from pathlib import Path
from typing import Any

import psutil

from pipeline import __version__
from pipeline.core.files import checked_stem, writing_results
from pipeline.core.messages import message
from pipeline.core.results import (
    Analysis,
    Caution,
    Measurement,
    MeasureSummary,
    MoveSummary,
    RepResult,
    SessionPoint,
    SessionSummary,
    TargetRange,
    Trend,
    Verdict,
)
from pipeline.film.container import Picture
from pipeline.measures import MEASURES, measures_of
from pipeline.report.manifest import (
    earlier_origin,
    mark_finished,
    origin_of,
    read_manifest,
    write_recorded,
)
from pipeline.report.pictures.rep_picture import encode_jpeg
from pipeline.scene.uncertainty import dominant_source, root_sum_of_squares


def caution_document(caution: Caution) -> dict[str, Any]:
    """Return a caution as plain data by the schema."""
    return {
        "key": caution.key,
        "text": caution.text,
        "reps": list(caution.reps),
        "numbers": {name: _finite(value) for name, value in caution.numbers.items()},
    }


def session_document(session: SessionSummary) -> dict[str, Any]:
    """Return a session as plain data by the schema."""
    return {
        "went_well": _point(session.went_well),
        "work_on": _point(session.work_on),
        "trend": _point(session.trend),
        "moves": [_move(summary) for summary in session.moves],
    }


def _point(point: SessionPoint | None) -> dict[str, Any] | None:
    if point is None:
        return None
    return {"move": point.move, "key": point.key or None, "side": point.side, "text": point.text}


def _move(summary: MoveSummary) -> dict[str, Any]:
    return {
        "move": summary.move,
        "n_reps": summary.n_reps,
        "measures": {measure.key: _measure(measure) for measure in summary.measures},
    }


def _measure(measure: MeasureSummary) -> dict[str, Any]:
    return {
        "unit": measure.unit,
        "n_measured": measure.n_measured,
        "mean": _finite(measure.mean),
        "u_mean": _finite(measure.u_mean),
        "spread": _finite(measure.spread),
        "noise": _finite(measure.noise),
        "own_spread": _finite(measure.own_spread),
        "typical_error": _finite(measure.typical_error),
        "smallest_real_change": _finite(measure.smallest_real_change),
        "n_in": measure.n_in,
        "n_low": measure.n_low,
        "n_high": measure.n_high,
        "n_close": measure.n_close,
        "trend": None if measure.trend is None else _trend(measure.trend),
    }


def _trend(trend: Trend) -> dict[str, Any]:
    return {
        "n_third": trend.n_third,
        "early": _finite(trend.early),
        "late": _finite(trend.late),
        "u_change": _finite(trend.u_change),
        "smallest_real_change": _finite(trend.smallest_real_change),
        "probability_by_chance": _finite(trend.probability_by_chance),
        "word": trend.word,
    }


SCHEMA_NAME = "crossemetry.reps/1"
SCHEMA_PATH = Path(__file__).parent / "reps.schema.json"

_DECIMALS_IN_FILES = 6
_PNG_START = b"\x89PNG"
_PICTURE_NAME = re.compile(r"rep_\d+\.(jpg|png)")
_PART_NAME = re.compile(r"\..+\.(\d+)\.part")


def results_folder(out: Path, film: Path, digest: str) -> Path:
    """Return the folder for the results of one clip: ``OUT/<clip stem>``.

    The first digits of the digest are added where that folder holds another film's results.

    Parameters
    ----------
    out
        Folder of all results.
    film, digest
        The film, and the SHA-256 of its bytes.

    Raises
    ------
    OutputError
        The film's name is not allowed as a folder name, or the folder's manifest is unreadable.
    """
    folder = out / checked_stem(film)
    known = read_manifest(folder)
    shown = [] if known is None else [entry.origin for entry in known.entries.values()]
    earlier = earlier_origin(folder)
    films = {one for origin in (*shown, *([earlier] if earlier else [])) for one in origin.films}
    if not films or digest in films:
        return folder
    return folder.with_name(f"{folder.name}-{digest[:8]}")


def write_results(
    analysis: Analysis, out: Path, pictures: Mapping[int, bytes | Picture]
) -> list[Path]:
    """Write the report, the tables and the pictures of one clip.

    Each file is written atomically. Pictures of reps that only an earlier run found are removed.

    Parameters
    ----------
    analysis
        The result for one clip.
    out
        Folder of all results; this clip's files go into its `results_folder`.
    pictures
        By index of the rep: an encoded JPEG or PNG, or (height, width, 3) RGB of 8 bits.

    Returns
    -------
    list of Path
        The written files, the report first.

    Raises
    ------
    OutputError
        The folder cannot be made or written to.
    """
    from pipeline.report.page import page_parts

    encoded = {
        index: picture if isinstance(picture, bytes) else encode_jpeg(picture)
        for index, picture in sorted(pictures.items())
    }
    contents = {_picture_name(index, data): data for index, data in encoded.items()}
    contents["reps.csv"] = reps_csv(analysis).encode("utf-8")
    contents["reps.json"] = reps_json(analysis).encode("utf-8")
    page = (part.encode("utf-8") for part in page_parts(analysis, encoded))
    folder = results_folder(out, analysis.clip.path, analysis.clip.digest)
    pieces: dict[str, Iterable[bytes]] = {name: [data] for name, data in contents.items()}
    write_result_files(folder, {**pieces, "report.html": page}, analysis)
    return [folder / name for name in ("report.html", "reps.json", "reps.csv")] + [
        folder / name for name in contents if _PICTURE_NAME.fullmatch(name)
    ]


def write_result_files(
    folder: Path, contents: Mapping[str, Iterable[bytes]], analysis: Analysis
) -> None:
    """Write the files of an analysis and remove those of an earlier one, and of killed writers.

    Parameters
    ----------
    folder
        From `results_folder`.
    contents
        Pieces of content by file name.
    analysis
        For the origin of the files.

    Raises
    ------
    OutputError
        The folder cannot be made or written to.
    """
    with writing_results(folder):
        mark_finished(folder, None)
        write_recorded(folder, contents, origin_of("report", analysis), obsolete=_is_obsolete)


def _is_obsolete(name: str) -> bool:
    part = _PART_NAME.fullmatch(name)
    if part is not None:
        return not psutil.pid_exists(int(part[1]))
    return _PICTURE_NAME.fullmatch(name) is not None


def reps_json(analysis: Analysis) -> str:
    """Write an analysis as JSON text by ``reps.schema.json``; null for what is not finite."""
    clip, scene = analysis.clip, analysis.scene
    document = {
        "schema": SCHEMA_NAME,
        "clip": {
            "name": clip.path.name,
            "digest": clip.digest,
            "width_px": clip.width_px,
            "height_px": clip.height_px,
            "n_frames": clip.n_frames,
            "n_undecoded": clip.n_undecoded,
            "share_computed": _finite(analysis.share_computed),
            "frame_rate_hz": _finite(clip.frame_rate_hz),
            "move": analysis.move,
            "level": analysis.level,
            "athlete": analysis.athlete,
            "stature_m": _finite(analysis.stature_m),
            "scale": {"grade": scene.grade, "notes": list(scene.notes)},
            "ranges": None if analysis.ranges is None else asdict(analysis.ranges),
            "cautions": [caution_document(caution) for caution in analysis.cautions],
            "notes": list(analysis.notes),
            "program_version": __version__,
        },
        "session": None if analysis.session is None else session_document(analysis.session),
        "reps": [_rep_document(result) for result in analysis.reps],
    }
    return json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def reps_csv(analysis: Analysis) -> str:
    """Write an analysis as CSV text: one row per rep, empty cells for what was not measured."""
    events = list(dict.fromkeys(name for result in analysis.reps for name in result.rep.events))
    keys = shown_measures(analysis)
    header = ["index", "start_s", "stop_s", "move", "move_probability", "move_by"]
    header += ["stick_hand", "field_side"]
    header += [f"{name}_time_s" for name in events]
    for key in keys:
        header += [key, f"{key}_u", f"{key}_reason", f"{key}_verdict"]
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(header)
    for result in analysis.reps:
        rep = result.rep
        row: list[object] = [rep.index, _finite(rep.start_s), _finite(rep.stop_s), rep.move]
        row += [_finite(rep.move_probability), rep.move_by, rep.stick_hand]
        row.append(result.field_side.side)
        row += [_finite(rep.events[n].time_s) if n in rep.events else None for n in events]
        words = {verdict.key: _verdict_words(verdict) for verdict in result.verdicts}
        for key in keys:
            measured = _measurement_document(result.measurements.get(key))
            row += [measured["value"], measured["u"], measured["reason"], words.get(key)]
        writer.writerow(row)
    return text.getvalue()


def shown_measures(analysis: Analysis) -> list[str]:
    """Return the measures of a clip in the table's order, then any that are not in the table."""
    present = dict.fromkeys(key for result in analysis.reps for key in result.measurements)
    moves = dict.fromkeys((analysis.move or "", *(result.rep.move for result in analysis.reps)))
    of_moves = {info.key for move in moves for info in measures_of(move)}
    keys = [key for key in MEASURES if key in present or (not present and key in of_moves)]
    return keys + [key for key in present if key not in MEASURES]


def _rep_document(result: RepResult) -> dict[str, Any]:
    rep = result.rep
    return {
        "index": rep.index,
        "start_s": _finite(rep.start_s),
        "stop_s": _finite(rep.stop_s),
        "move": rep.move,
        "move_probability": _finite(rep.move_probability),
        "move_by": rep.move_by,
        "stick_hand": rep.stick_hand,
        "field_side": {"side": result.field_side.side, "reason": result.field_side.reason},
        "events": {
            name: {
                "time_s": _finite(event.time_s),
                "u_s": _finite(event.u_s),
                "frame": int(event.frame),
            }
            for name, event in rep.events.items()
        },
        "measures": {
            key: _measurement_document(measurement)
            for key, measurement in result.measurements.items()
        },
        "verdicts": [_verdict_document(verdict) for verdict in result.verdicts],
        "feedback": list(result.feedback),
        "cautions": [caution_document(caution) for caution in result.cautions],
    }


def _measurement_document(measurement: Measurement | None) -> dict[str, Any]:
    unit = None if measurement is None else measurement.unit
    nothing = {"value": None, "u": None, "unit": unit, "interval95": None}
    if measurement is None:
        return {**nothing, "reason": None}
    if measurement.value is None:
        return {**nothing, "reason": measurement.reason}
    value = _finite(measurement.value)
    if value is None:
        return {**nothing, "reason": message("reasons.not_finite")}
    interval = measurement.interval95
    bounds = None if interval is None else [_finite(bound) for bound in interval]
    return {
        "value": value,
        "u": _finite(measurement.u),
        "unit": measurement.unit,
        "interval95": None if bounds is None or None in bounds else bounds,
        "reason": None,
        **_sources_document(measurement),
    }


def _sources_document(measurement: Measurement) -> dict[str, Any]:
    """Return the uncertainty by source; empty where sources were not requested."""
    if measurement.sources is None:
        return {}
    return {
        "sources": {name: {"u": _finite(u)} for name, u in measurement.sources.items()},
        "root_sum_of_squares": _finite(root_sum_of_squares(measurement.sources)),
        "dominant": dominant_source(measurement.sources),
    }


def _verdict_document(verdict: Verdict) -> dict[str, Any]:
    return {
        "key": verdict.key,
        "word": verdict.word,
        "side": verdict.side,
        "probability_inside": _finite(verdict.probability_inside),
        "target": None if verdict.target is None else _target_document(verdict.target),
    }


def _target_document(target: TargetRange) -> dict[str, Any]:
    return {
        "low": _finite(target.low),
        "high": _finite(target.high),
        "unit": target.unit,
        "words": target.words,
        "set_by": target.set_by,
        "why": target.why,
    }


def _verdict_words(verdict: Verdict) -> str:
    return f"{verdict.word} ({verdict.side})" if verdict.side else verdict.word


def _finite(value: float | None) -> float | None:
    """Return a number rounded for a file; None if it is missing or not finite."""
    if value is None or not math.isfinite(value):
        return None
    return round(float(value), _DECIMALS_IN_FILES)


def _picture_name(index: int, data: bytes) -> str:
    ending = "png" if data.startswith(_PNG_START) else "jpg"
    return f"rep_{index:02d}.{ending}"
