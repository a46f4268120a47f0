"""The command that suggests target ranges from reps which a coach marked as good."""

from __future__ import annotations

import json
import math
import shlex
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from pipeline.command import debug_option, json_option, say
from pipeline.completing import complete_move
from pipeline.errors import CrossemetryError, SettingsError
from pipeline.help_texts import command, option
from pipeline.measures.table import MEASURES, MeasureInfo, measures_with_range
from pipeline.setting_checks import check_move
from pipeline.targets_options import Who, checked_measure, checked_who, who_options
from pipeline.targets_write_cli import SCALES

if TYPE_CHECKING:
    from pipeline.marked_reps import MarkedRep
    from pipeline.range_suggestions import Quantile, Suggestion

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
    """Suggest ranges from reps that were marked as good; nothing is changed."""
    try:
        check_move(move, named="MOVE")
        who = checked_who(level, hand, athlete)
        infos = _asked(move, measures, who)
        shares = _checked_percentiles(percentiles)
        if of is not None and of not in SCALES:
            raise SettingsError(
                f"--of {of}: not a length.", what_to_do=f"Give {' or '.join(SCALES)}."
            )
        from pipeline.marked_reps import read_marked_reps

        reps = read_marked_reps(results, marks, move=move, hand=who.hand)
        found = [_suggested(move, info, sides, reps, shares, of, who) for info, sides in infos]
        _require_any(found, len(reps), shares)
    except CrossemetryError as error:
        context.exit(say(error, debug=debug))
    if as_json:
        document = {"move": move, "n_reps": len(reps), "percentiles": _percents(shares),
                    "suggestions": found}  # fmt: skip
        click.echo(json.dumps(document, indent=2))
    else:
        click.echo(_told(move, reps, found, shares))


def _asked(
    move: str, measures: Sequence[str], who: Who
) -> list[tuple[MeasureInfo, tuple[str, ...]]]:
    """Give the measures, each with the sides on which its range is closed; both if it has none."""
    from pipeline.targets import coach_targets_path, load_targets

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
    reps: Sequence[MarkedRep],
    shares: tuple[float, float],
    of: str | None,
    who: Who,
) -> dict[str, Any]:
    """Suggest a range for one measure, as plain data."""
    from pipeline.range_suggestions import reps_needed, suggest

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
        "command": _command(move, info, sides, suggestion, of, who),
    }


def _scaled(rep: MarkedRep, key: str, of: str | None) -> tuple[float, float] | None:
    """Value and u of one rep, as a fraction of a length of that rep's body if asked for."""
    from pipeline.target_arms import published_arm, takes_defenders_arm

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
) -> str:
    """Write the command that would set the range, rounded outward."""
    words = ["crossemetry", "targets", "set", move, info.key]
    decimals = FRACTION_DECIMALS if of else info.decimals
    for side in sides:
        quantile: Quantile = getattr(suggestion, side)
        words += [f"--{side}", _rounded_outward(quantile.value, decimals, down=side == "low")]
    options = {"--of": of, "--level": None if who.level == "any" else who.level,
               "--hand": who.hand, "--athlete": who.athlete}  # fmt: skip
    for name, value in options.items():
        words += [] if value is None else [name, value]
    shares = " to ".join(f"{percent:g}" for percent in _percents(
        (suggestion.low.share, suggestion.high.share)))  # fmt: skip
    words += [
        "--by",
        "YOUR NAME",
        "--why",
        f"percentiles {shares} of {suggestion.n_reps} good reps",
    ]
    return shlex.join(words)


def _rounded_outward(value: float, decimals: int, *, down: bool) -> str:
    step = 10.0**-decimals
    # A hair less, or 0.04 as 0.04000000001 would be moved to 0.05.
    steps = math.floor(value / step + 1e-6) if down else math.ceil(value / step - 1e-6)
    return f"{steps * step:.{decimals}f}"


def _checked_percentiles(typed: str) -> tuple[float, float]:
    try:
        low, high = (float(part) for part in typed.split(","))
    except ValueError:
        low = high = math.nan
    if not 0.0 < low < 50.0 < high < 100.0:
        raise SettingsError(
            f"--percentiles {typed}: not one below and one above 50.",
            what_to_do="Give two numbers, e.g. 10,90.",
        )
    return low / 100.0, high / 100.0


def _percents(shares: tuple[float, float]) -> list[float]:
    return [round(100.0 * share, 6) for share in shares]


def _require_any(found: Sequence[dict[str, Any]], n_reps: int, shares: tuple[float, float]) -> None:
    if any(item["suggestion"] for item in found):
        return
    from pipeline.range_suggestions import reps_needed

    raise SettingsError(
        f"{n_reps} reps were marked, and no measure was measured in {reps_needed(*shares)} of "
        "them: too few to suggest a range from.",
        what_to_do="Film more good reps and name all their files.",
    )


def _told(
    move: str,
    reps: Sequence[MarkedRep],
    found: Sequence[dict[str, Any]],
    shares: tuple[float, float],
) -> str:
    n_films = len({rep.clip for rep in reps})
    low, high = _percents(shares)
    films = "1 film" if n_films == 1 else f"{n_films} films"
    lines = [f"{move}: {len(reps)} good reps from {films}, percentiles {low:g} to {high:g}"]
    for item in found:
        key = item["measure"]
        if item["suggestion"] is None:
            lines.append(
                f"  {key}: measured in {item['n_measured']} reps, {item['n_needed']} are needed"
            )
            continue
        suggestion = item["suggestion"]
        unit = "" if item["unit"] == "1" else f" {item['unit']}"
        decimals = FRACTION_DECIMALS if unit.startswith(" of") else max(MEASURES[key].decimals, 1)
        lines.append(f"  {key}: measured in {item['n_measured']} reps")
        for side in item["sides"]:
            lines.append(f"    {side:<4}  {_quantile_words(suggestion[side], unit, decimals)}")
        lines.append(
            f"    one value is unsure by {suggestion['u']:.{decimals}f}{unit} (u), the reps differ "
            f"by {suggestion['spread']:.{decimals}f}{unit} (standard deviation)"
        )
        if suggestion["is_mostly_noise"]:
            lines.append(
                "    that is no more than the film is unsure: it may say little of the player"
            )
        lines.append(f"    {item['command']}")
    return "\n".join([*lines, "Nothing was changed."])


def _quantile_words(quantile: dict[str, Any], unit: str, decimals: int) -> str:
    value = f"{quantile['value']:.{decimals}f}{unit}"
    low, high = (
        None if bound is None else f"{bound:.{decimals}f}"
        for bound in (quantile["low"], quantile["high"])
    )
    more = f"{quantile['enough_reps']} reps would say"
    if low is not None and high is not None:
        return f"{value}; the true one lies between {low} and {high}{unit} (95 %)"
    if high is not None:
        return f"{value}; may truly be as high as {high}{unit} (97.5 %); how low, {more}"
    if low is not None:
        return f"{value}; may truly be as low as {low}{unit} (97.5 %); how high, {more}"
    return f"{value}; how sure that is, {more}"
