import io
import re
from itertools import count

import pytest

from pipeline.commands.terminal import EarlyFindings, _clock, progress_bar
from pipeline.core.progress import Progress
from pipeline.film_check.finding import Finding


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


def test_bar_says_how_long_it_will_take_and_which_clip_of_how_many_it_is(monkeypatch):
    monkeypatch.setenv("TERM", "xterm")
    screen = Terminal()
    monkeypatch.setattr("sys.stderr", screen)
    # A clock that goes on whenever it is asked, so that nobody has to wait.
    clock = count()
    monkeypatch.setattr("rich.console.monotonic", lambda: float(next(clock)))
    with progress_bar("clip.mp4", number=(2, 5)) as show:
        for done in range(0, 100, 10):
            show(Progress(stage="following_players", done=done, total=1000))
    assert "2 of 5: clip.mp4" in screen.getvalue()
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
