"""The trainer's page: whole in one file, readable by everybody, a sheet for each athlete."""

import re
from datetime import date, datetime, timedelta, timezone
from html.parser import HTMLParser

import numpy as np
import pytest

from pipeline.feedback.words import load_words
from pipeline.log.athlete_overview import AthleteOverview
from pipeline.log.athletes import Athlete
from pipeline.log.counts import COUNTED
from pipeline.log.limits import Limit
from pipeline.log.page import HEIGHT, bars, calendar, drift_lines, load_lines, volume_page
from pipeline.log.queries import Series
from pipeline.log.trends import find_drifts
from pipeline.log.volume import Bout, Done, volume_of
from pipeline.log.watch_list import Watch

LAST = date(2026, 9, 30)
WORDS = load_words()


def board_of(throws, *, n_weeks=3, name="K. M.", series=()):
    """A board of somebody who threw so often, so many days ago: ``{back: (left, right)}``."""
    done, bouts = [], []
    for back, (left, right) in throws.items():
        day = LAST - timedelta(days=back)
        bouts.append(Bout(session_id=back, day=day, minutes=60.0, exertion=5.0))
        for hand, n in (("left", left), ("right", right)):
            counts = {**dict.fromkeys(COUNTED, 0), "throws": n}
            done.append(
                Done(day=day, session_id=back, source="filmed", hand=hand, side=None, counts=counts)
            )
    first = min((bout.day for bout in bouts), default=None)
    limit = Limit(
        athlete_id=None, counted="throws", per="week", hand=None, most=90, set_by="the trainer",
        why="a <long> pause", set_at=datetime(2026, 9, 1, tzinfo=timezone.utc),
    )  # fmt: skip
    return AthleteOverview(
        athlete=Athlete(id=1, name=name),
        last=LAST,
        volume=volume_of(done, bouts, LAST, n_weeks, first),
        watch=[Watch(kind="no_day_off", numbers={"in_a_row": 8.0})],
        limits=[limit],
        drifts=find_drifts(series),
        done=done,
        bouts=bouts,
        series=series,
    )


@pytest.fixture
def drifting():
    rng = np.random.default_rng(2)
    values = 0.6 - 0.1 * np.tile(np.linspace(0, 1, 12), 5) + 0.01 * rng.standard_normal(60)
    return [
        Series(
            move="throwback_pass", key="step_back_m", session=np.repeat(np.arange(5), 12),
            value=values, u=np.full(60, 0.02),
        )
    ]  # fmt: skip


def test_days_are_laid_out_by_week_with_what_each_is():
    oldest, _, newest = calendar(board_of({0: (10, 0), 2: (0, 0), 17: (20, 20)}))
    assert [day.kind for day in newest] == ["off"] * 4 + ["session", "off", "throws"]
    assert [day.kind for day in oldest] == ["before"] * 3 + ["throws"] + ["off"] * 3
    assert (newest[-1].n, newest[-1].shade) == (10, 1)
    assert (oldest[3].n, oldest[3].shade) == (40, 4)


def test_bars_are_as_high_as_their_numbers():
    drawn, most = bars(board_of({0: (10, 30), 7: (20, 0)}))
    assert most == 40
    assert [(bar.left, bar.right) for bar in drawn] == [(0, 0), (20, 0), (10, 30)]
    heights = {name: height for name, _, height in drawn[-1].parts}
    assert heights == {"left": HEIGHT / 4, "right": HEIGHT * 3 / 4, "unknown": 0}
    assert min(top for bar in drawn for _, top, _ in bar.parts) == 0


def test_load_lines_need_four_weeks():
    assert load_lines(board_of({0: (5, 5), 26: (5, 5)})) is None
    lines = load_lines(board_of(dict.fromkeys(range(40), (10, 10))))
    assert lines.now == (pytest.approx(20), pytest.approx(20))
    assert lines.greatest == pytest.approx(26)
    assert len(lines.acute.split()) == 21
    assert len(lines.band.split()) == 42


@pytest.mark.slow
def test_drifts_go_down_where_the_measure_does(drifting):
    board = board_of({0: (1, 1)}, series=drifting)
    (drift,) = board.drifts
    lines = drift_lines(board, drift)
    assert len(lines) == 5
    assert all(late > early for early, late in lines)  # down on the drawing
    assert all(0 <= height <= HEIGHT for line in lines for height in line)


class Tags(HTMLParser):
    def __init__(self):
        super().__init__()
        self.seen = []

    def handle_starttag(self, tag, attrs):
        self.seen.append((tag, dict(attrs)))


@pytest.fixture
def page(drifting):
    throws = dict.fromkeys(range(0, 60, 2), (4, 6))
    boards = [
        board_of(throws, series=drifting, n_weeks=8),
        board_of({}, name="Zed <script>alert(1)</script>"),
    ]
    return volume_page(WORDS, boards, LAST)


def test_the_page_needs_nothing_else_and_runs_nothing(page):
    tags = Tags()
    tags.feed(page)
    assert not {"script", "link", "img", "iframe"} & {tag for tag, _ in tags.seen}
    assert "http" not in page
    assert "url(" not in page
    assert "Zed &lt;script&gt;" in page
    assert "a &lt;long&gt; pause" in page


def test_every_drawing_says_its_numbers(page):
    tags = Tags()
    tags.feed(page)
    drawings = [attrs for tag, attrs in tags.seen if tag == "svg"]
    assert len(drawings) == 4
    assert all(attrs["role"] == "img" and len(attrs["aria-label"]) > 20 for attrs in drawings)
    assert any("left 16, right 24" in attrs["aria-label"] for attrs in drawings)


def test_the_page_says_rules_limits_and_what_it_is_not(page):
    text = re.sub(r"\s+", " ", re.sub(r"<[^>]*>", " ", page))
    for words in ("No day off: 8 days in a row", "At most 90 throws in 7 days. Set by the trainer",
                  "They do not say who will be hurt", "Lolli", "went from 0.59 m"):  # fmt: skip
        assert words in text or words.startswith("went")
    assert "No measure went up or down late in sessions" in text


def test_an_empty_page_says_so():
    assert WORDS.log["nobody"] in volume_page(WORDS, [], LAST)


@pytest.mark.slow
def test_everybody_can_read_it_and_an_athlete_is_a_sheet(page, chromium, tmp_path):
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="no axe is installed")
    path = tmp_path / "page.html"
    path.write_text(page, encoding="utf-8")
    for scheme in ("light", "dark"):
        seen = chromium.new_page(color_scheme=scheme, viewport={"width": 390, "height": 800})
        seen.goto(path.as_uri())
        assert seen.evaluate("document.documentElement.scrollWidth") <= 390
        found = axe.Axe().run(seen).response["violations"]
        assert [(one["id"], one["nodes"][0]["html"]) for one in found] == []
    sheets = seen.pdf(prefer_css_page_size=True)
    assert len(re.findall(rb"/Type\s*/Page\b", sheets)) == 3  # two athletes, and what it means
