"""The documents: what they show runs, what they link to exists, and they stay short."""

import argparse
import contextlib
import doctest
import importlib.util
import io
import json
import re
import shlex
import shutil
import subprocess
import webbrowser
from pathlib import Path
from types import SimpleNamespace
from unittest.mock import patch

import click
import jsonschema
import numpy as np
import pytest
from click.testing import CliRunner

from calibration.marks_file import read_marks
from pipeline.commands.main import main
from pipeline.core.catalogue import ENGLISH, shipped_texts
from pipeline.core.files import VARIABLE
from pipeline.core.move_table import known_moves
from pipeline.core.toml_file import read_toml
from pipeline.measures import MEASURES
from pipeline.settings import settings
from pipeline.settings.side_file import read_side_file
from pipeline.targets.load import load_targets
from pipeline.teaching import correct
from pipeline.teaching.drill_store import save_drill
from pipeline.web import server
from tests.bench import accuracy, move_naming
from tests.bench.marking import write_marks
from tests.documents import PAGES, commands_page, contexts, measures_page
from tests.fixtures.board_film import good_pictures
from tests.fixtures.corrected import moments, write_reps
from tests.fixtures.drilling import drill_of, drill_player, frame_of
from tests.fixtures.results import write_results
from tests.test_architecture import ROOMS

ROOT = Path(__file__).resolve().parent.parent
DOCUMENTS = {
    path.relative_to(ROOT).as_posix(): path.read_text(encoding="utf-8")
    for path in [
        ROOT / "README.md", ROOT / "DEVELOPERS.md", ROOT / "CHANGELOG.md", *ROOT.glob("docs/*.md"),
    ]
}  # fmt: skip
WRITTEN = [name for name in sorted(DOCUMENTS) if Path(name).name not in PAGES]
SIZES_BYTES = {"README.md": 5_000, "DEVELOPERS.md": 9_000}
CLIP = ROOT / "sample_clips" / "shot_left_hand.mp4"
QUICK_MODEL = "full"
"""Pose model for commands of which only that they run is tested: it takes a third of the time."""


def blocks(document, kind):
    return re.findall(rf"^```{kind}\n(.*?)^```$", DOCUMENTS[document], re.DOTALL | re.MULTILINE)


def block(document, kind, containing):
    (found,) = [text for text in blocks(document, kind) if containing in text]
    return found


def commands(document):
    """Return the words of every command of a document, and the output that it shows, if any."""
    found = []
    for text in blocks(document, "console"):
        for line in text.splitlines():
            if line.startswith("$ "):
                found.append((shlex.split(line[2:]), []))
            else:
                found[-1][1].append(line)
    for text in blocks(document, "bat"):
        found += [(line.replace("\\", "/").split(), []) for line in text.splitlines()]
    return found


def own_command(words):
    """Return the words after ``crossemetry``; None for another program."""
    if words[0] == "eval":
        return shlex.split(words[1].removeprefix("$(").removesuffix(")"))[1:]
    return words[1:] if Path(words[0]).name == "crossemetry" else None


def words_of(text):
    """Return the words of a page without layout and brackets: click changes these."""
    return re.findall(r"[^\s\[\]]+", text)


def test_generated_pages_are_current():
    assert DOCUMENTS["docs/measures.md"] == measures_page(), "run: make docs"
    assert words_of(DOCUMENTS["docs/commands.md"]) == words_of(commands_page()), "run: make docs"


def test_documents_stay_short():
    sizes = {name: len(DOCUMENTS[name].encode("utf-8")) for name in WRITTEN}
    assert {n: size for n, size in sizes.items() if size > SIZES_BYTES.get(n, 10_000)} == {}


def anchors(document):
    """Return the anchors of the headings, as GitHub makes them."""
    text = re.sub(r"^```.*?^```$", "", DOCUMENTS[document], flags=re.DOTALL | re.MULTILINE)
    titles = re.findall(r"^#+ (.*)$", text, re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", title.lower()).replace(" ", "-") for title in titles}


def test_links_lead_somewhere():
    broken = []
    for name, text in DOCUMENTS.items():
        for target in re.findall(r"\]\(([^)\s]+)\)", text):
            path, _, anchor = target.partition("#")
            there = (ROOT / name).parent / path if path else ROOT / name
            if not there.resolve().is_file():
                broken.append((name, target))
            elif anchor:
                document = there.resolve().relative_to(ROOT).as_posix()
                broken += [] if anchor in anchors(document) else [(name, target)]
    assert broken == []


def test_every_page_is_reached_from_the_readme():
    linked = set(re.findall(r"\]\((docs/\w+\.md|[A-Z]+\.md)", DOCUMENTS["README.md"]))
    assert linked | {"README.md"} == set(DOCUMENTS)


def test_the_rooms_stand_in_the_order_that_is_held():
    rows = re.findall(r"^\| `(\w+)(?:\.py)?` \| ", DOCUMENTS["DEVELOPERS.md"], re.MULTILINE)
    assert [room for room in rows if room in ROOMS] == [
        room for room in ROOMS if room not in ("__main__", "training")
    ]


def test_every_move_is_in_the_table_for_players():
    missing = [move for move in known_moves() if f"| `{move}` |" not in DOCUMENTS["docs/player.md"]]
    assert missing == []


# ---- Commands: all are at least parsed; those of the program itself run.


def command_of(words):
    """Return the click command that words name, and the words that are left for it."""
    command, left = main, list(words)
    while isinstance(command, click.Group) and left:
        inner = command.get_command(click.Context(command), left[0])
        if inner is None:
            break
        command, left = inner, left[1:]
    return command, left


def complaint_about(words):
    """Return what is wrong with a command; None for nothing."""
    own = own_command(words)
    program = Path(words[0]).name
    if own is not None:
        command, left = command_of(own)
        try:
            command.make_parser(click.Context(command)).parse_args(list(left))
        except click.UsageError as error:
            return error.format_message()
        return None
    if program == "make":
        targets = re.findall(r"^([a-z-]+):", (ROOT / "Makefile").read_text(), re.MULTILINE)
        return None if words[1] in targets else "no such target"
    if program not in ("python", "py") or words[1] != "-m":
        return "not known here"
    if words[2] == "pip":
        extras = re.findall(r"\[([\w,]+)\]", " ".join(words))
        known = re.findall(r"^(\w+) = \[", (ROOT / "pyproject.toml").read_text(), re.MULTILINE)
        locks = [word for word in words if word.endswith(".lock")]
        fine = {name for extra in extras for name in extra.split(",")} <= set(known)
        return None if fine and all((ROOT / lock).is_file() for lock in locks) else "no such file"
    spec = importlib.util.find_spec(words[2])
    if spec is None or not spec.origin:
        return "no such module"
    if words[2] in ("venv", "pytest"):
        return None
    return complaint_of_script(words[2], words[3:])


class Parsed(Exception):
    """Raised in place of the work of a script once it has parsed what it was given."""


def complaint_of_script(module, given):
    """Return what a script of this repository says against its arguments; None for nothing."""
    if importlib.util.find_spec(module).submodule_search_locations is not None:
        module += ".__main__"
    script = importlib.import_module(module)
    if "argparse" not in vars(script):
        return "no options" if any(word.startswith("-") for word in given) else None
    parse = argparse.ArgumentParser.parse_args

    def parse_only(self, *_):
        parse(self, given)
        raise Parsed

    printed = io.StringIO()
    with (
        patch.object(argparse.ArgumentParser, "parse_args", parse_only),
        contextlib.redirect_stderr(printed),
        contextlib.suppress(Parsed, SystemExit),
    ):
        script.main()
    return printed.getvalue() or None


def test_a_script_complains_of_an_option_that_it_has_not():
    assert "--colour" in complaint_of_script("tests.bench.move_naming", ["folder", "--colour"])
    assert complaint_of_script("tests.bench.move_naming", ["folder"]) is None


@pytest.mark.parametrize("document", WRITTEN)
def test_commands_of_a_document_are_understood(document):
    found = {shlex.join(words): complaint_about(words) for words, _ in commands(document)}
    assert {words: why for words, why in found.items() if why} == {}


@pytest.mark.parametrize("document", [n for n in WRITTEN if n.startswith(("docs/", "README"))])
def test_commands_and_options_in_the_text_exist(document):
    text = re.sub(r"^```.*?^```$", "", DOCUMENTS[document], flags=re.DOTALL | re.MULTILINE)
    spans = re.findall(r"`([^`]+)`", text)
    own = [span.split()[1:] for span in spans if span.startswith("crossemetry ")]
    assert [
        words for words in own if isinstance(command_of(words)[0], click.Group) and words[1:]
    ] == []
    known = {option for c in contexts() for p in c.command.get_params(c) for option in p.opts}
    known |= {option for c in contexts() for p in c.command.params for option in p.secondary_opts}
    shown = {word for span in spans for word in span.split() if word.startswith("--")}
    assert shown - known == set()


@pytest.mark.skipif(shutil.which("make") is None, reason="there is no make")
def test_make_knows_what_to_do_for_the_targets_shown():
    shown = {words[1] for name in WRITTEN for words, _ in commands(name) if words[0] == "make"}
    done = subprocess.run(
        ["make", "--dry-run", *sorted(shown)], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr


@pytest.fixture
def folder(kept_landmarks, monkeypatch, tmp_path, write_film):
    """Return a folder with the films and files that the documents name; commands run in it."""
    for name in ("sample_clips", "pipeline"):
        (tmp_path / name).symlink_to(ROOT / name)
    (tmp_path / "out").mkdir()
    kept_landmarks.mkdir(exist_ok=True)
    (tmp_path / "out" / ".cache").symlink_to(kept_landmarks)
    for name in ("my_clip", "june", "july"):
        shutil.copy(CLIP, tmp_path / f"{name}.mp4")
    truth = json.loads(CLIP.with_name(f"{CLIP.stem}.truth.json").read_text(encoding="utf-8"))
    write_marks(truth, tmp_path).rename(tmp_path / "marks.toml")
    targets = block("docs/coach.md", "toml", "set_by")
    (tmp_path / "targets.toml").write_text(targets, encoding="utf-8")
    for day in ("mon", "tue"):
        write_results(
            tmp_path / "out" / day,
            [{"hand_drop_m": 0.6 + 0.01 * i, "step_back_m": 0.6 + 0.01 * i} for i in range(10)],
        )
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv(VARIABLE, str(tmp_path / "kept"))
    # A page is served until somebody is done with it; here nobody comes.
    monkeypatch.setattr(server, "serve_on_loopback", lambda _, on_ready, **others: on_ready("here"))
    monkeypatch.setattr(webbrowser, "open", lambda _: True)
    return tmp_path


def draw_board_film(write_film):
    pictures = [np.repeat(picture[..., None], 3, axis=2) for picture in good_pictures()]
    write_film("board.mp4", pictures, times_s=[0.25 * i for i in range(len(pictures))])


def is_like(shown, printed):
    """Whether two lines have the same words, and numbers that differ as between two machines."""
    pairs = list(zip(shown.split(), printed.split(), strict=False))
    if len(shown.split()) != len(printed.split()):
        return False
    return all(
        a == b
        or (
            re.fullmatch(r"-?\d+(\.\d+)?", a) is not None
            and re.fullmatch(r"-?\d+(\.\d+)?", b) is not None
            and float(a) == pytest.approx(float(b), rel=0.05, abs=0.05)
        )
        for a, b in pairs
    )


def missing_lines(shown, printed):
    """Return the first line that is shown and not printed after the one before it, if any."""
    left = iter(printed)
    return [s for s in shown if s.strip() != "..." and not any(is_like(s, p) for p in left)]


@pytest.mark.slow
@pytest.mark.parametrize("document", [n for n in WRITTEN if any(commands(n))])
def test_commands_of_a_document_run_in_its_order(document, folder, write_film, monkeypatch):
    if document != "README.md":  # the only one that shows the numbers of a sample clip
        monkeypatch.setattr(settings, "DEFAULT_MODEL", QUICK_MODEL)
    if "board.mp4" in DOCUMENTS[document]:
        draw_board_film(write_film)
    for words, shown in commands(document):
        own = own_command(words)
        if own is None:
            continue
        result = CliRunner().invoke(main, own)
        # Erasing ends with 1 where it lists files that stay, such as the copy exported just before.
        erases = own[:2] == ["athlete", "erase"] and "--dry-run" not in own
        expected = int(erases and "for_k_m" in result.stdout)
        assert result.exit_code == expected, f"{shlex.join(words)}\n{result.output}"
        missing = missing_lines(shown, result.stdout.splitlines())
        assert missing == [], f"{shlex.join(words)}\n{result.stdout}"


@pytest.mark.slow
@pytest.mark.parametrize("program", [accuracy, move_naming])
def test_programs_that_score_run_on_a_clip_with_truth(
    program, kept_landmarks, monkeypatch, tmp_path
):
    for path in CLIP.parent.glob(f"{CLIP.stem}.*"):
        (tmp_path / path.name).symlink_to(path)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("sys.argv", ["score", str(tmp_path), "--cache", str(kept_landmarks)])
    monkeypatch.setattr(settings, "DEFAULT_MODEL", QUICK_MODEL)
    assert program.main() == 0


# ---- Examples in the help of the commands.

EXAMPLES = sorted(set(re.findall(r"Example:\n +crossemetry (.*)", commands_page())))
LOG_EXAMPLES = ("log ", "athlete ", "limits ", "volume", "trend ")


def run(line):
    result = CliRunner().invoke(main, shlex.split(line))
    assert result.exit_code == 0, result.stderr


def prepare(example, folder, monkeypatch, write_film):
    """Do what somebody has done before who types this example."""
    monkeypatch.setattr(settings, "DEFAULT_MODEL", QUICK_MODEL)
    if "board.mp4" in example:
        draw_board_film(write_film)
    if "targets undo" in example:
        run("targets set throwback_pass step_back_m --low 0.5 --by me --why test")
    if "drills forget" in example:
        save_drill(drill_of(frame_of(drill_player())[0], name="fake_and_drop"))
    if example.startswith("corrections "):
        monkeypatch.setattr(correct, "_moments", lambda *_: moments())
        write_reps(folder / "out" / "my_clip" / "reps.json")
        first = ["add out/my_clip/reps.json --rep 1 --by me", "retrain --anyway --by me"]
        for line in first[: {"retrain": 1, "undo": 2}.get(example.split()[1], 0)]:
            run(f"corrections {line}")
    if example.startswith(LOG_EXAMPLES) and "athlete add" not in example:
        run('athlete add "K. M." --birth-year 2013 --consent-by "a parent"')
        run('log add --athlete "K. M." --throws 90 --minutes 30 --exertion 4')
    if "out/good" in example:
        write_results(folder / "out" / "good", [{"step_back_m": 0.6 + 0.01 * i} for i in range(10)])


@pytest.mark.slow
@pytest.mark.parametrize("example", EXAMPLES)
def test_examples_of_the_help_run_as_they_stand(example, folder, monkeypatch, write_film):
    prepare(example, folder, monkeypatch, write_film)
    arguments = []
    for word in shlex.split(example):  # one clip stands for all
        arguments += sorted(map(str, Path().glob(word)))[:1] if "*" in word else [word]
    result = CliRunner().invoke(main, arguments)
    assert result.exit_code == 0, result.stderr
    assert result.stdout


def test_every_command_has_an_example():
    without = [c.command_path for c in contexts() if "Example:" not in c.command.get_help(c)]
    assert without == []


# ---- Files and code that the documents show.


def test_example_results_follow_the_schema():
    schema = json.loads((ROOT / "pipeline/report/reps.schema.json").read_text(encoding="utf-8"))
    jsonschema.validate(
        json.loads(block("docs/programmer.md", "json", "crossemetry.reps/1")), schema
    )


def test_example_of_target_ranges_can_be_used(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text(block("docs/coach.md", "toml", "set_by"), encoding="utf-8")
    ranges = load_targets(path).for_athlete("high_to_low_shot", "school", 1.8)
    assert ranges["hand_height_before_release_m"].low == pytest.approx(1.8)
    own = load_targets(path).for_athlete("throwback_pass", "any", 1.8, athlete="K. M.")
    assert (own["step_back_m"].low, own["step_back_m"].high) == (0.5, None)


def test_example_of_a_side_file_can_be_used(tmp_path):
    text = block("docs/player.md", "toml", "stature_m")
    (tmp_path / "NAME.clip.toml").write_text(text, encoding="utf-8")
    assert read_side_file(tmp_path / "NAME.mp4").move == "throwback_pass"


def test_example_of_marks_can_be_read(tmp_path):
    path = tmp_path / "marks.toml"
    path.write_text(block("docs/camera.md", "toml", "field_m"), encoding="utf-8")
    (mark,) = read_marks(path)
    assert mark.name == "goal_left_post_foot"


@pytest.mark.slow
def test_python_examples_give_what_they_show(folder):
    text = "\n".join(text for text in blocks("docs/programmer.md", "python") if ">>>" in text)
    example = doctest.DocTestParser().get_doctest(text, {}, "programmer.md", None, None)
    assert len(example.examples) > 5
    printed = io.StringIO()
    assert doctest.DocTestRunner().run(example, out=printed.write).failed == 0, printed.getvalue()


def test_example_of_a_new_measure_is_all_that_it_takes(monkeypatch, tmp_path):
    monkeypatch.setattr(MEASURES, "_infos", dict(MEASURES._infos))
    code = block("docs/programmer.md", "python", "@measure")
    names = {}
    exec(compile(code, "programmer.md", "exec"), names)
    info = MEASURES["hands_apart_m"]
    assert (info.unit, info.decimals, info.function) == ("m", 2, names["hands_apart"])
    assert info.definition == "Distance between the two hands at the release."

    time_s = np.arange(10) / 60
    hands_m = {"left_hand": np.zeros((3, 10, 3)), "right_hand": np.full((3, 10, 3), 0.1)}
    view = SimpleNamespace(
        athlete=SimpleNamespace(joint=hands_m.get, time_s=time_s),
        instant=lambda event: np.full(3, 0.05),
        at=lambda event: slice(3, 4),
    )
    assert info.function(view).values == pytest.approx(np.full(3, 0.1 * 3**0.5))

    path = tmp_path / "targets.toml"
    path.write_text(block("docs/programmer.md", "toml", "low_of_stature"), encoding="utf-8")
    assert load_targets(path).for_athlete("high_to_low_shot", "any", 1.8)["hands_apart_m"].low == (
        pytest.approx(0.27)
    )
    (tmp_path / "words.toml").write_text(
        block("docs/programmer.md", "toml", "title"), encoding="utf-8"
    )
    texts = read_toml(tmp_path / "words.toml").table["measure"]
    known = {key for entry in shipped_texts(ENGLISH)["measure"].values() for key in entry}
    assert set(texts["hands_apart_m"]) <= known
