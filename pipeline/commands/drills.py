"""The commands on drills that were taught: list them, forget one."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import click

from pipeline.commands.help import group, option
from pipeline.commands.shared import debug_option, say
from pipeline.core.errors import CrossemetryError, DrillError
from pipeline.settings.move_names import drill_names, existing_drill

if TYPE_CHECKING:
    from pipeline.core.messages import Texts
    from pipeline.teaching.drills import Drill


@group("drills", help="drills", invoke_without_command=True)
@option("--json", "as_json", is_flag=True, help="options.list_json")
@debug_option
@click.pass_context
def drills(context: click.Context, /, as_json: bool, debug: bool) -> None:
    """List the drills that were taught: measures, examples, by whom and when."""
    if context.invoked_subcommand is not None:
        return
    from pipeline.teaching.drill_store import load_drill

    exit_code, found = 0, []
    for name in drill_names():
        try:
            found.append(load_drill(name))
        except CrossemetryError as error:  # the others are told all the same
            exit_code = max(exit_code, say(error, debug=debug))
    try:
        from pipeline.feedback.words import load_words

        texts = load_words().texts
    except CrossemetryError as error:
        context.exit(say(error, debug=debug))
    if as_json:
        document = {
            "schema": "crossemetry.drills/1",
            "drills": [_as_dict(drill) for drill in found],
        }
        click.echo(json.dumps(document, indent=2))
    elif found:
        click.echo("\n".join(_line(drill, texts) for drill in found))
    elif not exit_code:
        click.echo(texts.text("drills_told.none"))
    context.exit(exit_code)


@drills.command("forget", help="drills.forget")
@click.argument("name", metavar="NAME")
@debug_option
@click.pass_context
def forget(context: click.Context, /, name: str, debug: bool) -> None:
    """Forget a drill: its file is taken away. Results of earlier analyses stay."""
    try:
        from pipeline.feedback.words import load_words
        from pipeline.teaching.drill_store import forget_drill

        texts, name = load_words().texts, existing_drill(name)
        _check_no_ranges(name)
        click.echo(texts.text("drills_told.forgotten", name=forget_drill(name)))
    except CrossemetryError as error:
        context.exit(say(error, debug=debug))


def _line(drill: Drill, texts: Texts) -> str:
    taught = "taught_by" if drill.taught_by else "taught_on"
    return texts.text(
        "drills_told.line",
        name=drill.name,
        n=len(drill.examples),
        events="".join(f", {event}" for event in drill.event_u_s),
        like=texts.text("drills_told.like", move=drill.like) if drill.like else "",
        n_measures=len(drill.measures),
        taught=texts.text(f"drills_told.{taught}", day=drill.taught_on, name=drill.taught_by),
    )


def _as_dict(drill: Drill) -> dict[str, Any]:
    return {
        "name": drill.name,
        "n_examples": len(drill.examples),
        "stick_hand": drill.hand,
        "events": {event: {"u_s": u_s} for event, u_s in drill.event_u_s.items()},
        "like": drill.like,
        "measures": list(drill.measures),
        "clips": sorted({example.digest for example in drill.examples}),
        "taught_by": drill.taught_by or None,
        "taught_on": drill.taught_on,
    }


def _check_no_ranges(name: str) -> None:
    """Raise `DrillError` if ranges are set for a drill: they would then stand for nothing."""
    from pipeline.targets.load import coach_targets_path, load_targets

    path = coach_targets_path()
    if path is None:
        return
    if any(place.move == name for place, _ in load_targets(path).layers[-1].entries):
        raise DrillError.of("ranges_of_drill", name=name, file=path.name, path=str(path))
