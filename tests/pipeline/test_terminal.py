import io

from pipeline.finding import Finding
from pipeline.progress import Progress
from pipeline.terminal import EarlyFindings, progress_bar


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
