"""The page in a real browser: a goal and cones are clicked, and the camera is the true one."""

import json
import re
import subprocess
import sys
from pathlib import Path

import pytest

from calibration.marks_file import read_marks
from pipeline.scene.from_marks import solve_scene_marks

ROOT = Path(__file__).resolve().parents[4]
CLIP = ROOT / "sample_clips" / "shot_left_hand.mp4"
CORNERS = ("left_post_foot", "right_post_foot", "left_crossbar_corner", "right_crossbar_corner")
CONES = ("cone_1", "cone_2", "cone_3", "cone_4")


@pytest.fixture
def program(tmp_path):
    """The program with its page open, and the address that it printed."""
    command = [
        sys.executable, "-m", "pipeline", "calibrate", "field", str(CLIP), "--goal", "6x6",
        "--out", str(tmp_path / "marks.toml"), "--no-browser",
    ]  # fmt: skip
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True) as process:
        try:
            yield process, re.search(r"http\S+", process.stdout.readline())[0]
        finally:
            process.kill()


@pytest.fixture
def tab(chromium):
    page = chromium.new_page(viewport={"width": 1280, "height": 900})
    page.wrong = []
    page.on("pageerror", lambda error: page.wrong.append(str(error)))
    page.on("console", lambda line: line.type == "error" and page.wrong.append(line.text))
    yield page
    page.close()


def test_clicked_goal_and_cones_give_the_true_camera(tab, program, tmp_path):
    process, address = program
    truth = json.loads(CLIP.with_suffix(".truth.json").read_text(encoding="utf-8"))
    # The shooter's left and right in the file of truth are those seen here, from behind him; its
    # x and y point the other way.
    there = {mark["name"].removeprefix("goal_"): mark for mark in truth["ground_marks"]}
    tab.goto(address)
    tab.wait_for_selector("#overlay .dashed")

    def click(name):
        box = tab.locator("#frame").bounding_box()
        x_px, y_px = there[name]["image_px"]
        width, height = truth["size_px"]
        tab.mouse.click(box["x"] + x_px * box["width"] / width,
                        box["y"] + y_px * box["height"] / height)  # fmt: skip

    for name in CORNERS:
        click(name)
    tab.click("#one summary")
    for name in CONES:
        x_m, y_m, _ = there[name]["field_m"]
        tab.fill("#right", str(-x_m))
        tab.fill("#away", str(-y_m))
        tab.click("#place button")
        click(name)
    # A stroke of a key too many, taken back.
    tab.keyboard.press("Shift+ArrowUp")
    tab.keyboard.press("Control+z")
    tab.wait_for_selector("#result.solved", timeout=60_000)
    tab.set_viewport_size({"width": 390, "height": 844})
    assert tab.evaluate("document.documentElement.scrollWidth") <= 390
    tab.click("#save")
    tab.wait_for_selector("#done:not([hidden])", timeout=60_000)
    assert process.wait(30) == 0
    assert tab.wrong == []

    marks = read_marks(tmp_path / "marks.toml")
    assert [mark.name for mark in marks] == [*(f"goal_{name}" for name in CORNERS), *CONES]
    camera = solve_scene_marks(marks, size_px=tuple(truth["size_px"])).camera
    true_m = truth["camera"]["position_field_m"][2]
    assert camera.height_m == pytest.approx(true_m, abs=2 * camera.uncertainty("height_m"))
    assert camera.height_m == pytest.approx(true_m, abs=0.1)
