"""The order of the rooms: an import points to the same room or to an earlier one."""

import ast
import re
from collections import Counter
from functools import cache
from graphlib import TopologicalSorter
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent

ROOMS = [
    "core", "calibration", "models", "settings", "film", "people", "scene", "moves", "measures",
    "film_check", "targets", "feedback", "teaching", "report", "analysis", "export", "log", "web",
    "commands", "api", "__main__", "training",
]  # fmt: skip
"""Rooms of the program in the order in which one may import another. The code in
``models/training`` makes the classifier, is not shipped, and may import all of the program."""

MOST_LINES = 450
MOST_MODULES = 280

WORDS_OF_NO_NAME = {
    "told", "tell", "tells", "telling", "said", "say", "says", "asked", "ask", "asks",
    "spotting", "placing", "hiding",
}  # fmt: skip
"""Given, known, shown, reported, requested, searched: names have the field's words for these."""

FOLDERS = ("pipeline", "calibration", "models", "sample_clips")


def module_name(path):
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


ALL_MODULES = {
    module_name(path): path for folder in FOLDERS for path in sorted((ROOT / folder).rglob("*.py"))
}
MODULES = {name: path for name, path in ALL_MODULES.items() if not name.startswith("sample_clips")}
PIPELINE = {name: path for name, path in MODULES.items() if name.split(".")[0] == "pipeline"}


def room_of(module):
    """Return the room of a module; None for the package itself, which has the version alone."""
    parts = [part for part in module.split(".") if part != "pipeline"]
    return "training" if parts[:2] == ["models", "training"] else next(iter(parts), None)


@cache
def tree_of(module):
    return ast.parse(ALL_MODULES[module].read_text(encoding="utf-8"))


@cache
def nodes_of(module):
    return tuple(ast.walk(tree_of(module)))


@cache
def imports_of(module):
    """Return the modules that a module imports, wherever in it and only for types too."""
    found = set()
    package = module if ALL_MODULES[module].stem == "__init__" else module.rpartition(".")[0]
    for node in nodes_of(module):
        if isinstance(node, ast.Import):
            found |= {name.name for name in node.names}
        elif isinstance(node, ast.ImportFrom):
            above = package.split(".")[: len(package.split(".")) - node.level + 1]
            source = ".".join(filter(None, [*(above if node.level else []), node.module]))
            whole = {f"{source}.{name.name}" for name in node.names}
            # `from pipeline.measures import view` names a module, `from x import f` does not.
            found |= (whole & set(ALL_MODULES)) or {source}
    return (found & set(ALL_MODULES)) - {module}


def test_an_import_points_to_the_same_room_or_an_earlier_one():
    wrong = [
        f"{module} imports {name}"
        for module in MODULES
        for name in imports_of(module)
        if None not in (room_of(module), room_of(name))
        and ROOMS.index(room_of(name)) > ROOMS.index(room_of(module))
    ]
    assert wrong == []


def test_no_imports_run_in_a_circle():
    graph = {module: imports_of(module) for module in ALL_MODULES}
    assert len(list(TopologicalSorter(graph).static_order())) == len(ALL_MODULES)


def test_modules_stay_small_and_have_a_docstring():
    long = {
        module: len(path.read_text(encoding="utf-8").splitlines())
        for module, path in MODULES.items()
    }
    assert [module for module in MODULES if long[module] > MOST_LINES] == []
    assert [module for module in MODULES if not ast.get_docstring(tree_of(module))] == []
    assert len(PIPELINE) <= MOST_MODULES


def test_no_two_classes_have_one_name():
    names = Counter(
        node.name
        for module in PIPELINE
        for node in nodes_of(module)
        if isinstance(node, ast.ClassDef)
    )
    assert [name for name, n in names.items() if n > 1] == []


def names_given_in(module):
    """Return the names of the module itself and of what it defines."""
    yield from module.split(".")
    for node in nodes_of(module):
        if isinstance(node, ast.FunctionDef | ast.ClassDef):
            yield node.name
        elif isinstance(node, ast.arg):
            yield node.arg
        elif isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store):
            yield node.id


def test_names_are_made_of_the_words_of_the_field():
    found = {
        f"{module}: {name}"
        for module in PIPELINE
        for name in names_given_in(module)
        if WORDS_OF_NO_NAME & set(re.findall("[a-z]+", re.sub("([A-Z])", r"_\1", name).lower()))
    }
    assert found == set()
