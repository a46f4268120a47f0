import io

from pipeline.progress import Progress
from pipeline.terminal import progress_bar


class Terminal(io.StringIO):
    def isatty(self):
        return True


def test_bar_is_drawn_on_a_terminal_only(monkeypatch):
    monkeypatch.setenv("TERM", "xterm")
    for screen, drawn in ((Terminal(), True), (io.StringIO(), False)):
        monkeypatch.setattr("sys.stderr", screen)
        with progress_bar("[a] clip.mp4") as show:
            show(Progress(stage="following the players", done=5, total=10))
        text = screen.getvalue()
        assert ("[a] clip.mp4" in text) is drawn
        assert ("5/10" in text) is drawn
