"""The section of one rep on the report page: strip entry, picture, feedback and numbers."""

from __future__ import annotations

import base64
from dataclasses import dataclass

from pipeline.core.results import Measurement, RepResult, TargetRange, Verdict
from pipeline.core.types import Scene
from pipeline.feedback.priority import ranked_verdicts
from pipeline.feedback.words import Words, number_text, range_text
from pipeline.report.ground_plan import Plan, plan_of, why_no_plan
from pipeline.report.page_pictures import PagePicture
from pipeline.report.pictures.key_frames import drawn_measures, key_event
from pipeline.report.timing import event_text
from pipeline.report.verdict_marks import SHAPES, in_order, verdict_of, verdict_text
from pipeline.scene.uncertainty import dominant_source


@dataclass(frozen=True, slots=True, kw_only=True)
class Strip:
    """A value and its target range on a line from 0 to 100.

    Attributes
    ----------
    low, high
        Ends of the target range.
    start, stop
        Ends of the 95 % interval of the value.
    value
        Best estimate.
    """

    low: float
    high: float
    start: float
    stop: float
    value: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One row of the table of a rep, as text.

    Attributes
    ----------
    title, number, range_words, reason
        Name of the measure, value with its half width, target range, reason for no value.
    word, shape
        Verdict and its marker shape; empty without a target range.
    strip
        Value and target range on a line; None without either.
    unsure
        Dominant source of uncertainty and its remedy; empty if sources were not requested.
    """

    title: str
    number: str
    range_words: str
    reason: str
    word: str
    shape: str
    strip: Strip | None
    unsure: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Image:
    """A picture embedded in the page: data URI, size in pixels, and alternative text."""

    src: str
    width: int
    height: int
    alt: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RepBlock:
    """The section of one rep, ready for the template.

    Attributes
    ----------
    index, title, when
        Number, heading, and times with hand and side.
    feedback, cautions
        Sentences on the rep.
    picture, small
        Picture of the section and thumbnail of the strip; None without a picture.
    plan, no_plan
        Ground plan, or the reason why it is missing.
    judged, others
        Rows with a target range, and rows without.
    mark, shape, about, count
        Strip entry: verdict as text and shape, its measure, and how many are in range.
    """

    index: int
    title: str
    when: str
    feedback: tuple[str, ...]
    cautions: tuple[str, ...]
    picture: Image | None
    small: Image | None
    plan: Plan | None
    no_plan: str
    judged: tuple[Row, ...]
    others: tuple[Row, ...]
    mark: str
    shape: str
    about: str
    count: str


def rep_view(
    words: Words,
    result: RepResult,
    picture: PagePicture | None,
    *,
    scene: Scene,
) -> RepBlock:
    """Build the section of one rep.

    Parameters
    ----------
    words
        Phrases.
    result
        The rep.
    picture
        Its key picture, if there is one.
    scene
        Ground and lens, for the plan and the sources of uncertainty.
    """
    rep, texts = result.rep, words.report
    rows = [row_of(words, result, key, scene) for key in in_order(list(result.measurements))]
    judged = [verdict for verdict in result.verdicts if verdict.target is not None]
    about = _about(words, result)
    n_in = sum(verdict.word == "in range" for verdict in judged)
    n_measured = sum(verdict.word != "not measured" for verdict in judged)
    plan = plan_of(words, result, scene)
    return RepBlock(
        index=rep.index,
        title=_title(words, result),
        when=_when(words, result),
        feedback=result.feedback,
        cautions=tuple(caution.text for caution in result.cautions),
        picture=None
        if picture is None
        else Image(
            src=_data_uri(picture.data),
            width=picture.width_px,
            height=picture.height_px,
            alt=_alt(words, result, scene),
        ),
        small=None
        if picture is None
        else Image(
            src=_data_uri(picture.small),
            width=picture.small_width_px,
            height=picture.small_height_px,
            alt="",
        ),
        plan=plan,
        no_plan=why_no_plan(words, scene) if plan is None else "",
        judged=tuple(row for row in rows if row.word),
        others=tuple(row for row in rows if not row.word),
        mark=texts["no_verdict"] if about is None else verdict_text(words, about),
        shape="" if about is None else SHAPES[about.word],
        about="" if about is None else words.title(about.key),
        count=texts["strip_count"].format(count=n_in, n=n_measured) if n_measured else "",
    )


def _about(words: Words, result: RepResult) -> Verdict | None:
    """Return the verdict that the strip shows: the one that matters most in the rep."""
    ranked = ranked_verdicts(result.rep.move, result.verdicts, result.measurements, words.weight_of)
    return ranked[0] if ranked else None


def _title(words: Words, result: RepResult) -> str:
    rep, texts = result.rep, words.report
    if rep.move_by == "told":
        return texts["rep"].format(index=rep.index)
    move = words.move_name(rep.move)
    if rep.move != "unknown":
        move = words.text("report.move_found", move=move, sure=rep.move_probability)
    return texts["rep_move"].format(index=rep.index, move=move)


def _when(words: Words, result: RepResult) -> str:
    rep, texts, side = result.rep, words.report, result.field_side
    parts = [words.text("report.when", start=rep.start_s, stop=rep.stop_s)]
    if rep.stick_hand is not None:
        parts.append(texts[f"hand_{rep.stick_hand}"])
    if side.side is None:
        parts.append(texts["side_unknown"].format(reason=words.translate(side.reason or "")))
    else:
        parts.append(texts[f"side_{side.side}"])
    return ", ".join(parts)


def _alt(words: Words, result: RepResult, scene: Scene) -> str:
    texts = words.report
    drawn = [
        texts["picture_drawn_one"].format(measure=words.title(m.key), number=number_text(words, m))
        for m in drawn_measures(scene, result)
    ]
    content = texts["picture_nothing"]
    if drawn:
        content = texts["picture_drawn"].format(list="; ".join(drawn))
    event = key_event(result)
    name = "picture_alt_plain" if event is None else "picture_alt"
    return texts[name].format(
        index=result.rep.index, event=event_text(words, event or ""), drawn=content
    )


def row_of(words: Words, result: RepResult, key: str, scene: Scene | None) -> Row:
    """Build the table row of one measure; None as scene leaves out the source of uncertainty."""
    measurement, verdict = result.measurements[key], verdict_of(result, key)
    target = None if verdict is None else verdict.target
    has_value = measurement.value is not None
    return Row(
        title=words.title(key),
        number=number_text(words, measurement) if has_value else "",
        range_words="" if target is None else range_text(words, target),
        reason=(
            words.report["not_measured"].format(reason=words.translate(measurement.reason or ""))
            if not has_value
            else ""
        ),
        word="" if verdict is None else verdict_text(words, verdict),
        shape="" if verdict is None else SHAPES[verdict.word],
        strip=_strip(measurement, target),
        unsure=_unsure(words, measurement, scene),
    )


def _unsure(words: Words, measurement: Measurement, scene: Scene | None) -> str:
    source = dominant_source(measurement.sources or {})
    return "" if source is None or scene is None else source_text(words, source, scene)


def source_text(words: Words, source: str, scene: Scene) -> str:
    """Return the text on the dominant source of uncertainty and its remedy."""
    # A lens that was measured already needs no advice to measure it.
    has_lens = scene.lens is not None
    return words.sources["lens_known" if source == "lens" and has_lens else source]


def _strip(measurement: Measurement, target: TargetRange | None) -> Strip | None:
    """Place value and target range on a line; an open side runs to the end of the line."""
    if measurement.value is None or target is None:
        return None
    value = measurement.value
    start, stop = measurement.interval95 or (value, value)
    low = target.low if target.low is not None else -float("inf")
    high = target.high if target.high is not None else float("inf")
    points = [start, stop, *(bound for bound in (low, high) if abs(bound) != float("inf"))]
    margin = 0.2 * (max(points) - min(points)) or 1.0
    left, right = min(points) - margin, max(points) + margin

    def at(x: float) -> float:
        return round(100.0 * (min(max(x, left), right) - left) / (right - left), 1)

    return Strip(low=at(low), high=at(high), start=at(start), stop=at(stop), value=at(value))


def _data_uri(picture: bytes) -> str:
    kind = "png" if picture.startswith(b"\x89PNG") else "jpeg"
    return f"data:image/{kind};base64,{base64.b64encode(picture).decode('ascii')}"
