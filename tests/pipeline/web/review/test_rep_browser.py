"""The page on a rep in a real browser: the frame drawn is the one shown, and changes are quick."""

import time

import pytest

from pipeline.log.store import opened_log
from pipeline.web.review.browser_copy import make_proxy, proxy_path
from tests.fixtures.rep_films import (
    GREY_STEP,
    grey_of,
    rep_context,
    shot_film,
    stamps_of,
    write_numbered,
)
from tests.fixtures.rep_pages import served

DRAWN = '#drawing[data-frame]:not([data-frame=""])'

# The shade of the picture that the film shows, and the frame that is drawn, in one and the same
# step of the browser: they are compared as a person sees them.
SEEN = """() => {
  const film = document.getElementById('film');
  const canvas = document.createElement('canvas');
  canvas.width = canvas.height = 8;
  const pen = canvas.getContext('2d', {willReadFrequently: true});
  pen.drawImage(film, 0, 0, 8, 8);
  const [red, green, blue] = pen.getImageData(4, 4, 1, 1).data;
  return [(red + green + blue) / 3, Number(document.getElementById('drawing').dataset.frame)];
}"""


@pytest.fixture(scope="module")
def film(tmp_path_factory):
    return shot_film(tmp_path_factory.mktemp("film"))


@pytest.fixture
def log(tmp_path, film):
    with opened_log(f"sqlite:///{tmp_path / 'log.sqlite3'}") as store:
        film.logged(store)
        yield store


@pytest.fixture
def address(log, tmp_path):
    with served(rep_context(log, tmp_path)) as where:
        yield where


@pytest.fixture
def open_tab(chromium, address):
    contexts = []

    def open_it(width=1280, **told):
        context = chromium.new_context(viewport={"width": width, "height": 900}, **told)
        contexts.append(context)
        tab = context.new_page()
        tab.wrong = []
        tab.on("pageerror", lambda error: tab.wrong.append(str(error)))
        tab.on("console", lambda line: line.type == "error" and tab.wrong.append(line.text))
        tab.goto(f"{address}/start?token=t")
        tab.wait_for_url(f"{address}/")
        tab.goto(f"{address}/clip/1/rep/1")
        tab.wait_for_selector(DRAWN)
        return tab

    yield open_it
    for context in contexts:
        context.close()


@pytest.fixture
def tab(open_tab):
    return open_tab()


def drawn(tab):
    return int(tab.get_attribute("#drawing", "data-frame"))


def wait_drawn(tab, frame):
    tab.wait_for_selector(f'#drawing[data-frame="{frame}"]')


def seek(tab, frame):
    tab.evaluate(
        "frame => { const s = document.querySelector('.scrub'); s.value = frame;"
        "s.dispatchEvent(new Event('input', {bubbles: true})); }",
        frame,
    )
    wait_drawn(tab, frame)


def is_shown(tab):
    """Whether the frame that is drawn is the one whose shade the film shows."""
    shade, frame = tab.evaluate(SEEN)
    return abs(shade - grey_of(frame)) < GREY_STEP / 2


def value_of(tab, key):
    return tab.inner_text(f'[data-key="{key}"] .value')


def frames_of(tab):
    scrub = tab.locator(".scrub")
    return int(scrub.get_attribute("min")), int(scrub.get_attribute("max"))


def test_the_frame_that_is_drawn_is_the_one_that_is_shown(tab):
    first, last = frames_of(tab)
    for frame in [last, first, *range(first + 1, last, 5), last - 1, first + 1]:
        seek(tab, frame)
        assert is_shown(tab), frame
    assert tab.wrong == []


def test_frames_are_stepped_one_by_one_by_keys_and_buttons(tab):
    first, _ = frames_of(tab)
    seek(tab, first + 20)
    tab.click("#where")
    for key, frame in ((".", 21), (".", 22), (",", 21)):
        tab.keyboard.press(key)
        wait_drawn(tab, first + frame)
        assert is_shown(tab)
    tab.click("#forth")
    wait_drawn(tab, first + 22)
    tab.click("#back")
    wait_drawn(tab, first + 21)
    for _ in range(6):  # faster than the film can follow
        tab.keyboard.press(".")
    wait_drawn(tab, first + 27)
    assert is_shown(tab)


def test_keys_go_to_events_and_by_tenths(tab):
    release = int(tab.get_attribute('[data-event="release"]', "aria-valuenow"))
    seek(tab, release - 3)
    tab.click("#where")
    tab.keyboard.press("]")
    wait_drawn(tab, release)
    tab.keyboard.press("[")
    wait_drawn(tab, int(tab.get_attribute('[data-event="hands_high"]', "aria-valuenow")))
    before = drawn(tab)
    tab.keyboard.press("ArrowRight")
    tab.wait_for_selector(f'#drawing:not([data-frame="{before}"])')
    assert 4 <= drawn(tab) - before <= 7


def test_the_film_plays_slowly_and_repeats_the_rep(tab):
    tab.select_option("#speed", "0.125")
    assert tab.evaluate("document.getElementById('film').playbackRate") == 0.125
    tab.select_option("#speed", "1")
    finish = int(tab.get_attribute('[data-event="finish"]', "aria-valuenow"))
    seek(tab, finish - 2)
    tab.click("#where")
    tab.keyboard.press("Space")
    start = int(tab.get_attribute('[data-event="start"]', "aria-valuenow"))
    deadline = time.time() + 10
    while drawn(tab) > finish - 5 and time.time() < deadline:
        time.sleep(0.02)
    assert start <= drawn(tab) <= finish
    tab.keyboard.press("Space")
    assert tab.evaluate("document.getElementById('film').paused")
    tab.keyboard.press("l")
    assert tab.get_attribute("#loop", "aria-pressed") == "false"


def test_a_dragged_event_changes_a_number_and_undo_gives_it_back(tab):
    key = "fake_to_release_s"
    before = value_of(tab, key)
    tab.locator('[data-event="release"]').scroll_into_view_if_needed()
    box = tab.locator('[data-event="release"]').bounding_box()
    was = int(tab.get_attribute('[data-event="release"]', "aria-valuenow"))
    first, last = frames_of(tab)
    lane = tab.locator(".lane").bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    tab.mouse.move(x, y)
    tab.mouse.down()
    tab.mouse.move(x - 6.3 * lane["width"] / (last - first), y, steps=5)
    tab.mouse.up()
    tab.wait_for_selector(f'[data-key="{key}"] .by-coach')
    now = int(tab.get_attribute('[data-event="release"]', "aria-valuenow"))
    assert was - 7 <= now <= was - 5
    wait_drawn(tab, now)
    assert is_shown(tab)
    assert value_of(tab, key) != before
    assert "frame" in tab.inner_text("#changes")
    tab.click("[data-undo]")
    tab.wait_for_selector("#changes .undone")
    assert value_of(tab, key) == before
    assert int(tab.get_attribute('[data-event="release"]', "aria-valuenow")) == was
    assert not tab.query_selector(".by-coach")
    assert tab.wrong == []


def test_an_event_is_moved_by_keys(tab):
    release = tab.locator('[data-event="release"]')
    was = int(release.get_attribute("aria-valuenow"))
    release.focus()
    tab.keyboard.press("ArrowLeft")
    tab.keyboard.press("ArrowLeft")
    tab.keyboard.press("Enter")
    tab.wait_for_selector('[data-event="release"].by-coach')
    assert int(release.get_attribute("aria-valuenow")) == was - 2
    assert tab.evaluate("document.activeElement.dataset.event") == "release"
    wait_drawn(tab, was - 2)


def test_a_joint_is_dragged_to_its_place(tab):
    tab.click("#mend summary")
    tab.click("#mend-joints")
    seek(tab, int(tab.get_attribute('[data-event="release"]', "aria-valuenow")))
    tab.locator("#drawing").scroll_into_view_if_needed()
    tab.select_option("#joint", label="right hand")
    tab.locator("#drawing").focus()
    for _ in range(4):
        tab.keyboard.press("Shift+ArrowUp")
    tab.keyboard.press("Enter")
    tab.wait_for_selector('[data-key="release_height_m"] .by-coach')
    assert "Right hand moved" in tab.inner_text("#changes")
    assert tab.wrong == []


def test_a_number_that_has_the_focus_is_drawn(tab):
    tab.focus("#number-hand_height_before_release_m")
    assert "drawn" in tab.get_attribute('[data-key="hand_height_before_release_m"]', "class")
    assert tab.inner_text("#read").startswith("Read in frames")


def test_a_film_that_the_browser_does_not_play_is_shown_by_its_copy(open_tab, log, film, tmp_path):
    told = {"pix_fmt": "yuv420p10le", "x265-params": "log-level=none"}
    phone = write_numbered(tmp_path / "phone.mp4", stamps_of(180), "libx265", **told)
    make_proxy(phone, proxy_path(film.cache, film.analysis.clip.digest))
    with log.writing() as connection:
        from pipeline.log.schema import CLIPS

        connection.execute(CLIPS.update().values(film_path=str(phone)))
    tab = open_tab()
    assert tab.get_attribute("#film", "data-which") == "copy"
    first, last = frames_of(tab)
    for frame in (last, first + 7, first + 30):
        seek(tab, frame)
        assert is_shown(tab), frame


@pytest.mark.parametrize("width", [390, 1280])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_page_fits_and_can_be_used_by_everyone(open_tab, width, scheme):
    axe = pytest.importorskip(
        "axe_playwright_python.sync_playwright", reason="axe is not installed"
    )
    tab = open_tab(width, color_scheme=scheme, has_touch=width == 390, bypass_csp=True)
    tab.click("#mend summary")
    tab.click("#mend-joints")
    assert tab.evaluate("document.documentElement.scrollWidth") <= width
    found = axe.Axe().run(tab).response["violations"]
    assert [one["id"] for one in found if one["impact"] in ("serious", "critical")] == []
    assert tab.wrong == []
