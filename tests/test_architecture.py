"""The flow of the program, kept: an import may only point to a module earlier in the list."""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent

ORDER = [
    "pipeline",
    "pipeline.errors",
    "pipeline.catalogue",
    "pipeline.figures",
    "pipeline.message",
    "calibration",
    "calibration.lens_profile",
    "pipeline.session_types",
    "pipeline.types",
    "pipeline.result_types",
    "calibration.anthropometry",
    "calibration.camera",
    "calibration.turned_view",
    "calibration.body_size",
    "calibration.balance",
    "calibration.known_athlete",
    "calibration.marks",
    "calibration.marked_camera",
    "calibration.marked_field",
    "calibration.field_places",
    "calibration.marked_goal",
    "calibration.toml_text",
    "calibration.marks_file",
    "calibration.lens_file",
    "calibration.board",
    "calibration.board_views",
    "calibration.lens_checks",
    "calibration.lens",
    "models",
    "models.moves",
    "models.moves.classifier",
    "models.moves.script",
    "models.moves.style",
    "models.moves.writing",
    "models.moves.body",
    "models.moves.throwing",
    "models.moves.shots",
    "models.moves.passes",
    "models.moves.dodging",
    "models.moves.resting",
    "models.moves.altered",
    "models.moves.strange",
    "models.moves.seeing",
    "models.moves.film",
    "pipeline.whole_file",
    "pipeline.data_folder",
    "pipeline.progress",
    "pipeline.measures.table",
    "pipeline.toml_file",
    "pipeline.reading",
    "pipeline.drill_names",
    "pipeline.setting_checks",
    "pipeline.settings",
    "pipeline.side_file",
    "pipeline.container",
    "pipeline.clip",
    "pipeline.frame_reading",
    "pipeline.film_writer",
    "pipeline.board_film",
    "pipeline.picture_colours",
    "pipeline.goal_pipes",
    "pipeline.mark_proposals",
    "pipeline.pose",
    "pipeline.bodies",
    "pipeline.person",
    "pipeline.search",
    "pipeline.raw_track",
    "pipeline.spans",
    "pipeline.person_track",
    "pipeline.exchanges",
    "pipeline.roles",
    "pipeline.background",
    "pipeline.stillness",
    "pipeline.people",
    "pipeline.film_moments",
    "pipeline.picture_quality",
    "pipeline.film_people",
    "pipeline.film_samples",
    "pipeline.cache",
    "pipeline.landmarks",
    "pipeline.sides",
    "pipeline.spline",
    "pipeline.straight",
    "pipeline.steady",
    "pipeline.hiding",
    "pipeline.smoothing",
    "pipeline.feet",
    "pipeline.joint_offsets",
    "pipeline.body_samples",
    "pipeline.body_scene",
    "pipeline.scene",
    "pipeline.sources",
    "pipeline.marked_scene",
    "pipeline.arm_length",
    "pipeline.placing",
    "pipeline.motion",
    "pipeline.field_side",
    "pipeline.ground_path",
    "pipeline.signals",
    "pipeline.body_frame",
    "pipeline.running",
    "pipeline.bursts",
    "pipeline.events",
    "pipeline.release",
    "pipeline.throws",
    "pipeline.throw_reps",
    "pipeline.throw_starts",
    "pipeline.shot_events",
    "pipeline.pass_events",
    "pipeline.cuts",
    "pipeline.dodges",
    "pipeline.hand_switch",
    "pipeline.hard_turns",
    "pipeline.dodge_events",
    "pipeline.dodge_reps",
    "pipeline.dodge_finding",
    "pipeline.move_grid",
    "pipeline.move_features",
    "pipeline.move_rules",
    "pipeline.move_moments",
    "pipeline.moves",
    "pipeline.rep_finding",
    "pipeline.team_layer",
    "pipeline.corrections",
    "models.moves.samples",
    "models.moves.train",
    "pipeline.motion_track",
    "pipeline.warping",
    "pipeline.spotting",
    "pipeline.drill_examples",
    "pipeline.marked_drill",
    "pipeline.drill_look",
    "pipeline.drills",
    "pipeline.drill_store",
    "pipeline.corrections_store",
    "pipeline.team_versions",
    "pipeline.drill_reps",
    "pipeline.reps",
    "pipeline.finding",
    "pipeline.film_rate",
    "pipeline.film_facts",
    "pipeline.film_light",
    "pipeline.film_body_check",
    "pipeline.film_check",
    "pipeline.film_notes",
    "pipeline.measures",
    "pipeline.measures.view",
    "pipeline.measures.hands",
    "pipeline.measures.angles",
    "pipeline.measures.steps",
    "pipeline.measures.turns",
    "pipeline.measures.goal",
    "pipeline.measures.spacing",
    "pipeline.measures.dodging",
    "pipeline.measures.plant_leg",
    "pipeline.measures.registry",
    "pipeline.measuring",
    "pipeline.explaining",
    "pipeline.target_arms",
    "pipeline.target_entries",
    "pipeline.chosen_range",
    "pipeline.target_ranges",
    "pipeline.target_form",
    "pipeline.targets_file",
    "pipeline.targets_history",
    "pipeline.targets",
    "pipeline.targets_edit",
    "pipeline.file_lock",
    "pipeline.targets_store",
    "pipeline.marked_reps",
    "pipeline.range_suggestions",
    "pipeline.verdicts",
    "pipeline.words_file",
    "pipeline.phrases",
    "pipeline.words",
    "pipeline.reliability",
    "pipeline.advice_rules",
    "pipeline.choosing",
    "pipeline.flags",
    "pipeline.feedback",
    "pipeline.session",
    "pipeline.session_words",
    "pipeline.cautions",
    "pipeline.telling",
    "pipeline.report.labels",
    "pipeline.report",
    "pipeline.report.skeletons",
    "pipeline.report.faces",
    "pipeline.report.pictures",
    "pipeline.report.film_heads",
    "pipeline.report.film_view",
    "pipeline.report.film_pictures",
    "pipeline.key_pictures",
    "pipeline.shots",
    "pipeline.overlay",
    "pipeline.rep_choice",
    "pipeline.side_by_side",
    "pipeline.report.verdict_words",
    "pipeline.report.facts",
    "pipeline.report.session_section",
    "pipeline.report.session_document",
    "pipeline.report.axes",
    "pipeline.report.charts",
    "pipeline.report.timing",
    "pipeline.report.plan",
    "pipeline.report.page_pictures",
    "pipeline.report.tables",
    "pipeline.report.rep_section",
    "pipeline.report.in_short",
    "pipeline.report.page",
    "pipeline.report.results",
    "pipeline.seen_clip",
    "pipeline.run",
    "pipeline.api",
    "pipeline.field_paths",
    "pipeline.export",
    "pipeline.export.extras",
    "pipeline.export.film_data",
    "pipeline.export.tables",
    "pipeline.export.parquet_file",
    "pipeline.export.even_times",
    "pipeline.export.c3d_file",
    "pipeline.export.formats",
    "pipeline.correcting",
    "pipeline.teaching",
    "pipeline.rep_table",
    "pipeline.terminal",
    "pipeline.command",
    "pipeline.completing",
    "pipeline.clip_options",
    "pipeline.export_cli",
    "pipeline.completion_cli",
    "pipeline.log",
    "pipeline.log.counts",
    "pipeline.log.place",
    "pipeline.log.schema",
    "pipeline.log.migrations",
    "pipeline.log.migrations.env",
    "pipeline.log.migrations.versions",
    "pipeline.log.migrations.versions.rev_0001",
    "pipeline.log.migrations.versions.rev_0002",
    "pipeline.log.copying",
    "pipeline.log.migrating",
    "pipeline.log.store",
    "pipeline.log.athletes",
    "pipeline.log.film_date",
    "pipeline.log.sessions",
    "pipeline.log.rep_rows",
    "pipeline.log.joining",
    "pipeline.log.listing",
    "pipeline.log.traces",
    "pipeline.log.personal",
    "pipeline.log.load",
    "pipeline.log.volume",
    "pipeline.log.reading",
    "pipeline.log.limits",
    "pipeline.log.trends",
    "pipeline.log.watch",
    "pipeline.log.board",
    "pipeline.log.told",
    "pipeline.log.comparing",
    "pipeline.log.table_text",
    "pipeline.log.charts",
    "pipeline.log.page",
    "pipeline.log.options",
    "pipeline.log.asked",
    "pipeline.log.athlete_cli",
    "pipeline.log.personal_cli",
    "pipeline.log.log_cli",
    "pipeline.log.limits_cli",
    "pipeline.log.volume_cli",
    "pipeline.log.where_cli",
    "pipeline.log.commands",
    "pipeline.loopback_guard",
    "pipeline.loopback_server",
    "pipeline.field_page",
    "pipeline.field_page.field_view",
    "pipeline.field_page.app",
    "pipeline.field_cli",
    "pipeline.calibrate_cli",
    "pipeline.check_cli",
    "pipeline.targets_told",
    "pipeline.targets_options",
    "pipeline.targets_write_cli",
    "pipeline.targets_suggest_cli",
    "pipeline.targets_cli",
    "pipeline.teach_cli",
    "pipeline.drills_cli",
    "pipeline.corrections_cli",
    "pipeline.overlay_cli",
    "pipeline.compare_cli",
    "pipeline.cli",
    "pipeline.__main__",
]

MAY_KNOW = {"calibration": {"pipeline.types", "pipeline.errors"}}
MAY_KNOW["models"] = MAY_KNOW["calibration"]
TRAINING_ONLY = {"models.moves.samples", "models.moves.train"}
"""The script that makes the move classifier takes the features from the program's own code, for
what is trained on has to be what is seen later. It is never imported when a film is analysed."""


def module_name(path):
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


MODULES = {
    module_name(path): path
    for folder in ("pipeline", "calibration", "models")
    for path in sorted((ROOT / folder).rglob("*.py"))
}


def imports_of(path):
    """Modules of the program that a file imports, wherever in it."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {name.name for name in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path.name}: import by full name"
            whole = {f"{node.module}.{name.name}" for name in node.names}
            # `from pipeline.measures import table` names a module, `from x import f` does not.
            found |= (whole & set(MODULES)) or {node.module}
    return {name for name in found if name in MODULES}


@pytest.mark.parametrize("module", MODULES)
def test_every_module_has_its_place_in_the_list(module):
    assert module in ORDER, f"give {module} its place in ORDER, and a row in DEVELOPERS.md"


@pytest.mark.parametrize("module", [name for name in ORDER if name in MODULES])
def test_imports_point_to_earlier_modules_only(module):
    later = {
        name for name in imports_of(MODULES[module]) if ORDER.index(name) >= ORDER.index(module)
    }
    assert not later


@pytest.mark.parametrize("module", [m for m in MODULES if m.split(".")[0] in MAY_KNOW])
def test_calibration_and_models_know_only_the_data_types(module):
    folder = module.split(".")[0]
    known = {name for name in imports_of(MODULES[module]) if not name.startswith(folder)}
    assert module in TRAINING_ONLY or known <= MAY_KNOW[folder]


@pytest.mark.parametrize("module", [m for m in MODULES if m not in TRAINING_ONLY])
def test_the_training_script_is_never_imported_by_the_program(module):
    assert not imports_of(MODULES[module]) & TRAINING_ONLY


@pytest.mark.parametrize("module", MODULES)
def test_modules_stay_small_and_say_what_they_are_for(module):
    text = MODULES[module].read_text(encoding="utf-8")
    limit = 340 if module == "pipeline.types" else 300  # one vocabulary, in one place
    assert len(text.splitlines()) <= limit
    assert ast.get_docstring(ast.parse(text)), "a module says in one sentence what it is for"
