"""The page in a real browser: reps by keyboard, film added, ranges tried, all of it readable."""

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from sqlalchemy import func, select

from pipeline.core.files import VARIABLE
from pipeline.log.schema import ATHLETES, REPS, REVIEW_MARKS
from pipeline.log.store import opened_log
from pipeline.report.manifest import MANIFEST_NAME
from tests.fixtures.kept_for import analyse_for
from tests.fixtures.logged import rep_of
from tests.fixtures.reviewed import judged, logged

ROOT = Path(__file__).resolve().parents[4]
CLIP = ROOT / "sample_clips" / "throwback_youth.mp4"
SIZES = [{"width": 390, "height": 844}, {"width": 1280, "height": 900}]
N_REPS = 12


@pytest.fixture
def filled(data, write_film):
    """A data folder with a dozen faults, and something of every other kind."""
    reps = [judged(rep_of(i, step_back_m=0.1), inside=0.001 * i) for i in range(1, N_REPS + 1)]
    reps += [judged(rep_of(20, step_back_m=0.5), word="too close to call", inside=0.5),
             rep_of(21, move="unknown")]  # fmt: skip
    with opened_log() as log:
        logged(log, write_film("film.mp4"), reps, age_years=20)
    return data


@pytest.fixture
def address(filled):
    """Address of the page of a running program."""
    command = [sys.executable, "-m", "pipeline", "review", "--no-browser", "--by", "Coach K."]
    environment = {**os.environ, VARIABLE: str(filled)}
    with subprocess.Popen(
        command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True,
        env=environment,
    ) as process:  # fmt: skip
        try:
            yield re.search(r"http\S+", process.stdout.readline())[0]
        finally:
            process.terminate()
            process.wait(20)


@pytest.fixture
def tab(chromium, address):
    page = chromium.new_page(viewport=SIZES[1])
    page.set_default_timeout(60_000)
    page.wrong = []
    page.on("pageerror", lambda error: page.wrong.append(str(error)))
    page.on(
        "console",
        lambda line: (
            line.type == "error"
            and "404" not in line.text  # a rep that has no picture
            and page.wrong.append(line.text)
        ),
    )
    page.goto(address)
    page.wait_for_selector("#reps")
    page.home = address.split("/start")[0]
    yield page
    page.close()


def counted(table):
    with opened_log() as log, log.reading() as connection:
        return connection.execute(select(func.count()).select_from(table)).scalar()


def marks():
    with opened_log() as log, log.reading() as connection:
        query = select(REVIEW_MARKS.c.kind, REVIEW_MARKS.c.why, REVIEW_MARKS.c.by)
        return [tuple(row) for row in connection.execute(query.order_by(REVIEW_MARKS.c.id))]


def press(tab, key):
    """Press a key that sends something, and wait for the page that comes then."""
    with tab.expect_navigation():
        tab.keyboard.press(key)
    tab.wait_for_selector("#reps .rep.now, .empty")


def test_ten_reps_are_reviewed_by_keyboard_alone(tab):
    def waiting():
        return int(tab.inner_text(".kinds a[aria-current] strong"))

    assert waiting() == N_REPS
    for _ in range(6):
        press(tab, "a")
    tab.keyboard.press("j")
    tab.keyboard.press("j")
    assert tab.evaluate("[...document.querySelectorAll('.rep')].findIndex("
                        "(rep) => rep.classList.contains('now'))") == 2  # fmt: skip
    tab.keyboard.press("k")
    for why in "124":
        tab.keyboard.press("d")
        tab.keyboard.press(why)
        press(tab, "Enter")
    press(tab, "a")
    assert waiting() == N_REPS - 10
    whys = ["measured_wrong", "fine_here", "not_a_rep"]
    assert marks() == [
        *[("agree", None, "Coach K.")] * 6,
        *(("disagree", why, "Coach K.") for why in whys),
        ("agree", None, "Coach K."),
    ]
    press(tab, "u")
    assert waiting() == N_REPS - 9
    assert marks()[-1][0] == "undo"
    tab.keyboard.press("n")
    tab.keyboard.type("jk good one")
    press(tab, "Enter")
    assert marks()[-1][0] == "note"
    assert tab.wrong == []
    with tab.expect_navigation():
        tab.keyboard.press("Enter")
    assert re.search(r"/clip/\d+/rep/\d+", tab.url)


def test_a_range_is_tried_and_kept(tab, data):
    tab.goto(f"{tab.home}/targets?move=throwback_pass&measure=step_back_m")
    tab.fill("#low", "0.05")
    with tab.expect_navigation():
        tab.click("text=See what would change")
    assert "12 of the last 13 reps" in tab.inner_text("#preview")
    assert not (data / "targets.toml").exists()
    tab.fill("#why", "still growing")
    with tab.expect_navigation():
        tab.click("#save")
    assert "The range is kept" in tab.inner_text("main")
    assert "still growing" in (data / "targets.toml").read_text()
    assert tab.wrong == []


def test_an_athlete_is_forgotten_only_by_name(tab):
    tab.goto(f"{tab.home}/athletes")
    tab.click("text=K. M.")
    tab.click("text=Forget this athlete")
    tab.fill("#forget-name", "K.")
    with tab.expect_navigation():
        tab.click("text=Forget everything")
    assert counted(ATHLETES) == 1
    tab.wrong.clear()  # the browser tells of the answer that refused
    with tab.expect_navigation():
        tab.click("text=Go back")
    tab.click("text=Forget this athlete")
    tab.fill("#forget-name", "k. m.")
    with tab.expect_navigation():
        tab.click("text=Forget everything")
    assert (counted(ATHLETES), counted(REPS), counted(REVIEW_MARKS)) == (0, 0, 0)
    assert tab.wrong == []


def test_what_stays_is_listed_before_and_after_an_athlete_is_forgotten(tab, write_film, tmp_path):
    film, out = write_film("shot.mp4", n_frames=20), tmp_path / "out"
    with opened_log() as log:
        written = analyse_for(log, film, "Dot Kid", out, tmp_path / "cache")
        analyse_for(log, film, "Zed", tmp_path / "again", tmp_path / "cache")
    (out / "shot" / "consent.pdf").write_bytes(b"signed")
    (out / "shot" / "reps.csv").write_text("my own table")
    tab.goto(f"{tab.home}/athletes")
    tab.click("text=Dot Kid")
    tab.click("text=Forget this athlete")
    tab.wait_for_selector("#plan")
    planned = tab.inner_text("main")
    for told in (str(written[0]), "consent.pdf", "changed since", "shot.mp4 is a film of Zed too"):
        assert told in planned
    tab.check("text=Take them away too")
    tab.fill("#forget-name", "dot kid")
    with tab.expect_navigation():
        tab.click("text=Forget everything")
    done = tab.inner_text("#forgotten")
    assert f"{out / 'shot' / 'reps.csv'}: changed since the program wrote it" in done
    assert "consent.pdf" in done
    assert (out / "shot" / "consent.pdf").read_bytes() == b"signed"
    assert sorted(path.name for path in (out / "shot").iterdir()) == [
        "consent.pdf", MANIFEST_NAME, "reps.csv",
    ]  # fmt: skip
    assert not (tmp_path / "again" / "shot").exists()
    assert list((tmp_path / "cache").iterdir()) == []
    assert film.is_file()
    assert tab.wrong == []


PAGES = ("/", "/?kind=close", "/?last=1", "/athletes", "/athlete/1", "/athlete/1/forget", "/film",
         "/agreement", "/cues", "/targets", "/targets?move=throwback_pass&measure=step_back_m",
         "/clip/1/rep/1")  # fmt: skip


def test_every_page_fits_a_phone_and_has_no_serious_fault_for_anybody(tab):
    axe = pytest.importorskip("axe_playwright_python.sync_playwright").Axe()
    press(tab, "a")
    faults = []
    for path in PAGES:
        for size in SIZES:
            tab.set_viewport_size(size)
            tab.goto(f"{tab.home}{path}")
            if tab.evaluate("document.documentElement.scrollWidth") > size["width"]:
                faults.append((path, size["width"], "is wider than the screen"))
        for scheme in ("light", "dark"):
            tab.emulate_media(color_scheme=scheme)
            for found in axe.run(tab).response["violations"]:
                if found["impact"] in ("serious", "critical"):
                    nodes = [node["html"][:160] for node in found["nodes"]][:2]
                    faults.append((path, scheme, found["id"], nodes))
    assert not faults, json.dumps(faults, indent=1)


@pytest.mark.slow
def test_a_film_is_sent_analysed_and_reported(tab, data):
    tab.goto(f"{tab.home}/film")
    tab.set_input_files("#film", str(CLIP))
    tab.select_option("select[name=move]", "throwback_pass")
    tab.click("text=Send and analyse")
    tab.wait_for_selector(".job.running", timeout=30_000)
    tab.reload()
    tab.wait_for_selector(".job.done", timeout=300_000)
    with tab.expect_navigation():
        tab.click(".job.done >> text=Report")
    assert "Crossemetry" in tab.inner_text(".maker")
    assert tab.locator("article.rep").count() >= 1
    (film,) = (data / "review" / "film").glob("film-*.mp4")
    assert film.read_bytes() == CLIP.read_bytes()
