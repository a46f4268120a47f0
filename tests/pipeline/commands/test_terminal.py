import io
import re
from itertools import count
from pathlib import Path

import pytest

from pipeline.commands.terminal import (
    BatchProgress,
    EarlyFindings,
    _clock,
    batch_table,
    progress_bar,
)
from pipeline.core.progress import Progress
from pipeline.feedback.words import load_words
from pipeline.film_check.finding import Finding
from pipeline.report.run_index import FirstThing, IndexRow


class Terminal(io.StringIO):
    def isatty(self):
        return True


def test_bar_is_drawn_on_a_terminal_only(monkeypatch):
    monkeypatch.setenv("TERM", "xterm")
    for screen, drawn in ((Terminal(), True), (io.StringIO(), False)):
        monkeypatch.setattr("sys.stderr", screen)
        with progress_bar("[a] clip.mp4") as show:
            show(Progress(stage="following_players", done=5, total=10))
        text = screen.getvalue()
        assert ("[a] clip.mp4" in text) is drawn
        assert ("5/10" in text) is drawn
        assert ("following the players" in text) is drawn


def test_bar_says_how_long_it_will_take(monkeypatch):
    monkeypatch.setenv("TERM", "xterm")
    screen = Terminal()
    monkeypatch.setattr("sys.stderr", screen)
    # A clock that goes on whenever it is asked, so that nobody has to wait.
    clock = count()
    monkeypatch.setattr("rich.console.monotonic", lambda: float(next(clock)))
    with progress_bar("clip.mp4") as show:
        for done in range(0, 100, 10):
            show(Progress(stage="following_players", done=done, total=1000))
    assert re.search(r"\d:\d\d left", screen.getvalue())


def test_no_bar_and_no_early_word_when_it_is_to_be_quiet(monkeypatch, capsys):
    screen = Terminal()
    monkeypatch.setattr("sys.stderr", screen)
    with progress_bar("clip.mp4", quiet=True) as show:
        show(Progress(stage="following_players", done=5, total=10))
    early = EarlyFindings("clip.mp4", quiet=True)
    early((Finding("light", "could be better", "It is dark.", "Film by day."),))
    assert screen.getvalue() == ""
    assert len(early.notes) == 1


@pytest.mark.parametrize(
    ("left_s", "said"), [(0.2, "0:00"), (59.6, "1:00"), (125.0, "2:05"), (3600.0, "1:00:00")]
)
def test_time_left_is_in_minutes_and_seconds(left_s, said):
    assert _clock(left_s) == said


def test_what_limits_a_film_is_said_early_on_stderr_and_what_is_fine_is_not(capsys):
    dark = Finding("light", "could be better", "It is dark.", "Film by day.")
    early = EarlyFindings("clip.mp4")
    early((Finding("person", "fine", "Found."), dark))
    said = capsys.readouterr()
    assert said.out == ""
    assert "clip.mp4: 2 things looked at" in said.err
    assert "It is dark." in said.err
    assert "Film by day." in said.err
    assert "Found." not in said.err
    assert early.notes == [dark.note]


def test_film_that_is_fine_needs_no_word(capsys):
    EarlyFindings("clip.mp4")((Finding("person", "fine", "Found."),))
    assert capsys.readouterr() == ("", "")


def test_a_run_shows_the_whole_and_each_clip_with_the_time_left(monkeypatch):
    monkeypatch.setenv("TERM", "xterm")
    screen, clock = Terminal(), count()
    monkeypatch.setattr("sys.stderr", screen)
    monkeypatch.setattr("rich.console.monotonic", lambda: float(next(clock)))
    with BatchProgress(3, load_words()) as shown:
        shown.finish(Path("earlier.mp4"), lambda: None)
        shown.start(Path("[a] one.mp4"))
        shown.start(Path("two.mp4"))
        for done in range(0, 100, 10):
            shown.report(
                Path("[a] one.mp4"), Progress(stage="following_players", done=done, total=100)
            )
        shown.finish(Path("two.mp4"), lambda: None)
    text = screen.getvalue()
    for part in ("all clips", "[a] one.mp4", "two.mp4", "following the players", "2 of 3 clips"):
        assert part in text
    assert re.search(r"\d:\d\d left", text)


def test_a_run_elsewhere_prints_a_line_after_each_computed_clip(capsys):
    with BatchProgress(3, load_words()) as shown:
        shown.finish(Path("earlier.mp4"), lambda: print("earlier"))
        for name in ("one.mp4", "two.mp4"):
            shown.start(Path(name))
            shown.finish(Path(name), lambda: None)
    said = capsys.readouterr()
    assert said.out == "earlier\n"
    assert re.fullmatch(r"2 of 3 clips, \d:\d\d left\n3 of 3 clips\n", said.err)


def test_the_table_of_a_run_has_a_line_for_each_clip_in_80_columns():
    first = FirstThing(text="All of it. " * 20, headline="Longer step", move="m", key="k")
    rows = [
        IndexRow(clip="a_long_name_of_a_film_from_a_phone.mp4", n_reps=12, first=first),
        IndexRow(clip="one.mp4", n_reps=1, first=FirstThing(text="Only one rep. " * 9)),
        IndexRow(clip="none.mp4", n_reps=0, found="no reps"),
        IndexRow(clip="bad.mp4", error="bad.mp4: not a film. " * 9),
    ]
    head, *lines, chief, index = batch_table(rows, load_words(), Path("out"))
    assert head.split() == ["clip", "reps", "to", "do", "first"]
    assert len(lines) == 4
    assert max(map(len, lines)) <= 80
    assert [line.split()[-1] for line in lines[:1]] == ["step"]
    assert "failed: bad.mp4" in lines[3]
    assert chief == "To do first, in 1 of 3 clips: Longer step"
    assert index == f"index: {Path('out') / 'index.html'}"
    assert (
        "nothing was clearly out of range" in batch_table(rows[2:], load_words(), Path("out"))[-2]
    )
