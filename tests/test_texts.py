"""Texts that people read stand in the catalogue and not in code."""

import ast
import re
import string
from typing import get_args

from calibration.field_places import CREASE_RADII_M
from pipeline.core import errors
from pipeline.core.catalogue import shipped_texts
from pipeline.core.results import TrendWord, VerdictWord
from pipeline.film_check.finding import FilmVerdict
from pipeline.measures import MEASURES
from tests.test_architecture import MODULES, nodes_of

STORED = {
    *get_args(VerdictWord), *get_args(FilmVerdict), *get_args(TrendWord), *CREASE_RADII_M,
}  # fmt: skip
"""Words that files keep; what is shown of them stands in the catalogue under the same names."""

WRITE_FILES = {
    "pipeline.targets.edit", "pipeline.export.tables", "pipeline.export.c3d",
    "calibration.lens_file", "calibration.marks_file",
}  # fmt: skip
"""A coach's file of ranges is in the words of the file, and what is written for other programs is
described in English, as its columns are named; so are lenses and marks."""

TRAIN = {"models.training.samples", "models.training.train"}
"""Their output is for whoever trains the classifier."""

KEPT_BEFORE = {"pipeline.log.migrations.versions.rev_0006"}
"""Its sentences are those that an older log holds; they are read there once and never shown."""

NOT_SAID = re.compile(
    r"^(tuple\[|Literal\[|SELECT |PRAGMA |DELETE |<!doctype |=; Path=|"
    r"[a-z]+-(src|uri|action|ancestors) ')"
)
"""Types, statements for a database, and what a browser reads."""


def called(call):
    """Name that a call is made by: ``f``, ``x.f``, or ``.f`` for a method of anything else."""
    func = call.func
    if isinstance(func, ast.Attribute):
        return f"{func.value.id if isinstance(func.value, ast.Name) else ''}.{func.attr}"
    return func.id if isinstance(func, ast.Name) else ""


def docstrings_among(nodes):
    """Docstrings of a module, and the text below a constant that says what it is."""
    found = set()
    for node in nodes:
        body = getattr(node, "body", None)
        for below in body if isinstance(body, list) else []:
            if isinstance(below, ast.Expr) and isinstance(below.value, ast.Constant):
                found.add(below.value)
    return found


def is_error(node):
    """Whether a call makes an error, or is a part of one."""
    if not isinstance(node, ast.Call):
        return False
    name = called(node)
    return name.endswith(("Error", "Clip", ".error", "_error")) or any(
        word.arg in ("wrong", "named", "help", "what") for word in node.keywords
    )


def sentences_of(path):
    """Texts of three words or more in a module that are neither its documentation nor an error."""
    nodes = list(ast.walk(ast.parse(path.read_text(encoding="utf-8"))))
    left_out = docstrings_among(nodes)
    for node in nodes:
        if isinstance(node, ast.Raise) or is_error(node):
            left_out |= set(ast.walk(node))
    for node in nodes:
        if isinstance(node, ast.JoinedStr) and node not in left_out:
            parts = [part for part in node.values if isinstance(part, ast.Constant)]
            left_out |= set(parts)
            text = "".join(part.value for part in parts)
        elif isinstance(node, ast.Constant) and isinstance(node.value, str):
            if node in left_out:
                continue
            text = node.value
        else:
            continue
        is_sentence = len(re.findall(r"[A-Za-z]{2,}", text)) >= 3 and " " in text.strip()
        if is_sentence and text not in STORED and not NOT_SAID.match(text):
            yield node.lineno, text


def test_no_sentence_for_people_stands_in_code():
    left = [
        f"{module}, line {line}: {text}"
        for module, path in MODULES.items()
        if module not in WRITE_FILES | TRAIN | KEPT_BEFORE
        for line, text in sentences_of(path)
    ]
    assert left == [], "put them into pipeline/core/texts, in every language"


def calls_of(name):
    """First argument of every call of a function, where it is written out."""
    for module in MODULES:
        for node in nodes_of(module):
            named = isinstance(node, ast.Call) and called(node).endswith(name)
            if named and node.args and isinstance(node.args[0], ast.Constant):
                yield module, node.lineno, node.args[0].value


def test_a_reason_is_a_message_of_the_catalogue():
    reasons = shipped_texts("en")["reasons"]
    said = list(calls_of("NotMeasured"))
    assert said
    assert [place for place in said if place[2] not in reasons] == []


def test_every_message_that_is_made_stands_in_the_catalogue():
    table = shipped_texts("en")
    made = [place for place in calls_of("message") if "." in str(place[2])]
    assert made
    for place in made:
        found = table
        for name in place[2].split("."):
            assert name in found, place
            found = found[name]


def errors_made():
    """Place, name and given values of every error that is made by its name in the catalogue."""
    kinds = {f"{name}.of" for name in vars(errors) if isinstance(getattr(errors, name), type)}
    for module in MODULES:
        for node in nodes_of(module):
            if isinstance(node, ast.Call) and called(node) in kinds | {"told"}:
                given = {word.arg for word in node.keywords}
                if node.args and isinstance(node.args[0], ast.Constant):
                    yield f"{module}, line {node.lineno}", node.args[0].value, given


def test_every_error_that_is_made_by_name_says_what_is_wrong_and_what_to_do():
    entries = shipped_texts("en")["errors"]
    made = list(errors_made())
    assert made
    assert [(place, n) for place, n, _ in made if set(entries.get(n, ())) != {"wrong", "do"}] == []


def test_every_error_is_given_what_stands_in_its_braces():
    entries = shipped_texts("en")["errors"]
    for place, name, given in errors_made():
        asked = {
            word[:1].lower() + word[1:]
            for text in entries[name].values()
            for _, word, _, _ in string.Formatter().parse(text)
            if word
        }
        assert None in given or asked == given, f"{place}: {name}"


def test_no_error_is_made_of_a_text_in_code():
    every = [found for found in vars(errors).values() if isinstance(found, type)]
    kinds = {kind.__name__ for kind in every if issubclass(kind, errors.CrossemetryError)}
    made_of_text = [
        f"{module}, line {node.lineno}"
        for module in MODULES
        for node in nodes_of(module)
        if isinstance(node, ast.Call)
        and called(node).split(".")[-1] in kinds
        and any(isinstance(given, (ast.Constant, ast.JoinedStr)) for given in node.args)
    ]
    assert made_of_text == [], "give it an entry in [errors] of pipeline/core/texts"


def test_no_error_stands_in_the_catalogue_that_is_never_made():
    entries = set(shipped_texts("en")["errors"])
    named = {
        node.value
        for module in MODULES
        for node in nodes_of(module)
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
    }
    assert {n for n in entries if n not in named and f"errors.{n}.wrong" not in named} == set()


def test_what_is_stored_has_a_word_that_is_shown():
    table = shipped_texts("en")
    for words, section in ((VerdictWord, "verdicts"), (FilmVerdict, "film_verdicts")):
        assert {word.replace(" ", "_") for word in get_args(words)} <= set(table[section])
    assert set(table["measure"]) == set(MEASURES)


def test_the_search_for_sentences_finds_one(tmp_path):
    path = tmp_path / "module.py"
    path.write_text('"""It says a thing."""\nX = f"the hand was {1} hidden"\n', encoding="utf-8")
    assert [text for _, text in sentences_of(path)] == ["the hand was  hidden"]
    path.write_text('raise SettingsError("the file is bad")\n', encoding="utf-8")
    assert list(sentences_of(path)) == []
