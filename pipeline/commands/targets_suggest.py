"""The command that suggests target ranges from reps marked as good."""

from __future__ import annotations

import json
import math
import shlex
from collections.abc import Callable, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from pipeline.commands.help import command, option
from pipeline.commands.installation import complete_move
from pipeline.commands.shared import debug_option, json_option, report_error
from pipeline.commands.targets_options import Who, checked_measure, checked_who, who_options
from pipeline.core.errors import CrossemetryError, SettingsError
from pipeline.settings.checks import check_move
from pipeline.targets.entries import SCALES

if TYPE_CHECKING:
    from pipeline.core.messages import Texts
    from pipeline.measures import MeasureInfo
    from pipeline.targets.good_reps import GoodRep
    from pipeline.targets.suggest import Quantile, Suggestion

FRACTION_DECIMALS = 3


@command("suggest", help="targets.suggest")
@click.argument("move", shell_complete=complete_move)
@click.argument(
    "results", nargs=-1, required=True, metavar="REPS_JSON...", type=click.Path(path_type=Path)
)
@option(
    "--reps", "marks", multiple=True, required=True, metavar="NUMBERS", help="targets.suggest.reps"
)
@option("--measure", "measures", multiple=True, metavar="MEASURE", help="targets.suggest.measure")
@option(
    "--percentiles", default="10,90", show_default=True, metavar="LOW,HIGH",
    help="targets.suggest.percentiles",
)  # fmt: skip
@option("--of", metavar="LENGTH", help="targets.suggest.of")
@who_options
@json_option
@debug_option
@click.pass_context
def suggest_command(
    context: click.Context,
    /,
    move: str,
    results: tuple[Path, ...],
    marks: tuple[str, ...],
    measures: tuple[str, ...],
    percentiles: str,
    of: str | None,
    level: str | None,
    hand: str | None,
    athlete: str | None,
    as_json: bool,
    debug: bool,
) -> None:
    """Suggest ranges from reps marked as good; changes nothing."""
    try:
        check_move(move, named="MOVE")
        who = checked_who(level, hand, athlete)
        infos = _requested(move, measures, who)
        shares = _checked_percentiles(percentiles)
        if of is not None and of not in SCALES:
            one, other = SCALES
            raise SettingsError.of("no_length_to_divide_by", of=of, one=one, other=other)
        from pipeline.feedback.words import load_words
        from pipeline.targets.good_reps import read_marked_reps

        texts = load_words().texts
        reps = read_marked_reps(results, marks, move=move, hand=who.hand)
        found = [
            _suggested(move, info, sides, reps, shares, of, who, texts) for info, sides in infos
        ]
        _require_any(found, len(reps), shares)
    except CrossemetryError as error:
        context.exit(report_error(error, debug=debug))
    if as_json:
        document = {"move": move, "n_reps": len(reps), "percentiles": _percents(shares),
                    "suggestions": found}  # fmt: skip
        click.echo(json.dumps(document, indent=2))
    else:
        click.echo(_suggestions_text(move, reps, found, shares, texts))


def _requested(
    move: str, measures: Sequence[str], who: Who
) -> list[tuple[MeasureInfo, tuple[str, ...]]]:
    """Give the measures, each with the closed sides of its range, or both without a range."""
    from pipeline.measures import measures_with_range
    from pipeline.targets.load import coach_targets_path, load_targets

    chosen = load_targets(coach_targets_path()).chosen(move, who.level, who.hand, who.athlete)
    closed = {
        key: tuple(side for side in ("low", "high") if _has(getattr(range_, side)))
        for key, range_ in chosen.items()
    }
    infos = [checked_measure(move, key) for key in measures] or [
        info for info in measures_with_range(move) if closed.get(info.key)
    ]
    return [(info, closed.get(info.key) or ("low", "high")) for info in infos]


def _has(bound: Any) -> bool:  # noqa: ANN401 - one side of a range, or None
    return bound is not None and bound.bound.value is not None


def _suggested(
    move: str,
    info: MeasureInfo,
    sides: tuple[str, ...],
    reps: Sequence[GoodRep],
    shares: tuple[float, float],
    of: str | None,
    who: Who,
    texts: Texts,
) -> dict[str, Any]:
    """Suggest a range for one measure, as JSON values."""
    from pipeline.targets.suggest import reps_needed, suggest

    of = of if info.unit == "m" else None
    scaled = [_scaled(rep, info.key, of) for rep in reps]
    values = [pair for pair in scaled if pair is not None]
    found: dict[str, Any] = {
        "measure": info.key, "unit": info.unit if of is None else f"of {of}", "sides": sides,
        "n_measured": len(values), "n_needed": reps_needed(*shares),
    }  # fmt: skip
    if len(values) < found["n_needed"]:
        return {**found, "suggestion": None, "command": None}
    suggestion = suggest([v for v, _ in values], [u for _, u in values], *shares)
    return {
        **found,
        "suggestion": {**asdict(suggestion), "is_mostly_noise": suggestion.is_mostly_noise},
        "command": _command(move, info, sides, suggestion, of, who, texts),
    }


def _scaled(rep: GoodRep, key: str, of: str | None) -> tuple[float, float] | None:
    """Value and u of one rep, as a fraction of a body length if requested."""
    from pipeline.targets.arm_lengths import published_arm, takes_defenders_arm

    if key not in rep.values:
        return None
    value, u = rep.values[key]
    if of is None:
        return value, u
    length_m, u_length_m = rep.stature_m, 0.0
    if of == "arm" and takes_defenders_arm(key):
        length_m, u_length_m = rep.values.get("defender_arm_length_m", (math.nan, 0.0))
    elif of == "arm":
        arm = published_arm(rep.stature_m)
        length_m, u_length_m = arm.length_m, arm.u_m
    if not math.isfinite(length_m):
        return None
    return value / length_m, math.hypot(u, value / length_m * u_length_m) / length_m


def _command(
    move: str,
    info: MeasureInfo,
    sides: tuple[str, ...],
    suggestion: Suggestion,
    of: str | None,
    who: Who,
    texts: Texts,
) -> str:
    """Give the command that sets the range, rounded outward."""
    words = ["crossemetry", "targets", "set", move, info.key]
    decimals = FRACTION_DECIMALS if of else info.decimals
    for side in sides:
        quantile: Quantile = getattr(suggestion, side)
        words += [f"--{side}", _rounded_outward(quantile.value, decimals, down=side == "low")]
    options = {"--of": of, "--level": None if who.level == "any" else who.level,
               "--hand": who.hand, "--athlete": who.athlete}  # fmt: skip
    for name, value in options.items():
        words += [] if value is None else [name, value]
    low, high = _percents((suggestion.low.share, suggestion.high.share))
    why = texts.text("suggest_output.why", low=low, high=high, n=suggestion.n_reps)
    words += ["--by", texts.text("suggest_output.your_name"), "--why", why]
    return shlex.join(words)


def _rounded_outward(value: float, decimals: int, *, down: bool) -> str:
    step = 10.0**-decimals
    # The small tolerance keeps 0.04000000001 from becoming 0.05.
    steps = math.floor(value / step + 1e-6) if down else math.ceil(value / step - 1e-6)
    return f"{steps * step:.{decimals}f}"


def _checked_percentiles(typed: str) -> tuple[float, float]:
    try:
        low, high = (float(part) for part in typed.split(","))
    except ValueError:
        low = high = math.nan
    if not 0.0 < low < 50.0 < high < 100.0:
        raise SettingsError.of("no_percentiles", typed=typed)
    return low / 100.0, high / 100.0


def _percents(shares: tuple[float, float]) -> list[float]:
    return [round(100.0 * share, 6) for share in shares]


def _require_any(found: Sequence[dict[str, Any]], n_reps: int, shares: tuple[float, float]) -> None:
    if any(item["suggestion"] for item in found):
        return
    from pipeline.targets.suggest import reps_needed

    raise SettingsError.of("too_few_good_reps", n=n_reps, needed=reps_needed(*shares))


def _suggestions_text(
    move: str,
    reps: Sequence[GoodRep],
    found: Sequence[dict[str, Any]],
    shares: tuple[float, float],
    texts: Texts,
) -> str:
    low, high = _percents(shares)
    n_films = len({rep.clip for rep in reps})
    lines = [
        texts.text("suggest_output.head", move=move, n=len(reps), films=n_films, low=low, high=high)
    ]
    for item in found:
        n, needed = item["n_measured"], item["n_needed"]
        name = "measured" if item["suggestion"] else "too_few"
        line = texts.text(f"suggest_output.{name}", measure=item["measure"], n=n, needed=needed)
        lines.append(f"  {line}")
        if item["suggestion"]:
            lines += [f"    {line}" for line in _suggestion_lines(item, texts)]
    return "\n".join([*lines, texts.text("suggest_output.unchanged")])


def _suggestion_lines(item: dict[str, Any], texts: Texts) -> list[str]:
    """Describe a suggested range, its uncertainty, and the command that sets it."""
    from pipeline.measures import MEASURES

    info = MEASURES[item["measure"]]
    is_fraction, decimals = item["unit"].startswith("of "), max(info.decimals, 1)

    def shown(value: float) -> str:
        if is_fraction:
            of = item["unit"].replace(" ", "_")
            return texts.text(f"suggest_output.{of}", value=number(value))
        return texts.figures.quantity(value, info.unit_word, decimals)

    def number(value: float) -> str:
        if is_fraction:
            return texts.figures.number(value, FRACTION_DECIMALS)
        return texts.figures.in_column(value, info.unit_word, decimals)

    suggestion = item["suggestion"]
    lines = []
    for side in item["sides"]:
        text = _quantile_text(suggestion[side], shown, number, texts)
        lines.append(texts.text(f"suggest_output.{side}", said=text))
    u, spread = shown(suggestion["u"]), shown(suggestion["spread"])
    lines.append(texts.text("suggest_output.spread", u=u, spread=spread))
    if suggestion["is_mostly_noise"]:
        lines.append(texts.text("suggest_output.noise"))
    return [*lines, item["command"]]


def _quantile_text(
    quantile: dict[str, Any],
    shown: Callable[[float], str],
    number: Callable[[float], str],
    texts: Texts,
) -> str:
    """Text of a quantile with its limits; `shown` writes values with unit, `number` without."""
    value, low, high = shown(quantile["value"]), quantile["low"], quantile["high"]
    enough = quantile["enough_reps"]
    if low is not None and high is not None:
        between = {"low": number(low), "high": shown(high)}
        return texts.text("suggest_output.between", value=value, **between)
    if high is not None:
        return texts.text("suggest_output.as_high", value=value, high=shown(high), enough=enough)
    if low is not None:
        return texts.text("suggest_output.as_low", value=value, low=shown(low), enough=enough)
    return texts.text("suggest_output.unsure", value=value, enough=enough)
