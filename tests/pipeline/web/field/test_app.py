"""The page for marking: what is clicked is saved as it is; nothing else is served or written."""

import json
import re
from dataclasses import asdict, replace

import pytest
from starlette.testclient import TestClient

from calibration.marks_file import read_marks
from pipeline.core.catalogue import shipped_texts
from pipeline.settings.locale import LANGUAGE_VARIABLE, UNITS_VARIABLE
from pipeline.web.field.app import HERE, MOST_MARKS, STATIC, click_u_px, make_app
from pipeline.web.guard import MOST_BODY_BYTES, LoopbackGuard

HOST = "127.0.0.1:8765"
OWN = {"origin": f"http://{HOST}"}


@pytest.fixture
def told():
    return []


@pytest.fixture
def open_page(told):
    """A function that opens the page of a field as the person at the machine does."""

    def open_it(field, *, is_known=True):
        app = make_app(field, stop=lambda: told.append("stop"), on_saved=lambda: told.append("ok"))
        client = TestClient(LoopbackGuard(app, host=HOST, token="t"), base_url=f"http://{HOST}")
        if is_known:
            client.get("/start?token=t")
        return client

    return open_it


@pytest.fixture
def page(open_page, field):
    return open_page(field)


def sent(marks):
    return {"marks": [asdict(mark) for mark in marks]}


@pytest.mark.slow
def test_saved_marks_are_read_back_the_same_and_the_page_ends(page, field, marks, told):
    answer = page.post("/save", json=sent(marks), headers=OWN)
    assert answer.json()["saved"]
    assert read_marks(field.out) == tuple(marks)
    assert told == ["ok", "stop"]


def test_solving_shows_the_camera_and_writes_nothing(page, field, marks, told):
    shown = page.post("/solve", json=sent(marks), headers=OWN).json()
    assert shown["state"] == "solved"
    assert not field.out.exists()
    assert not told


@pytest.mark.slow
def test_marks_that_give_no_camera_are_not_saved(page, field, marks, told):
    wrong = [replace(marks[0], image_px=(5.0, 5.0)), *marks[1:]]
    for some in (marks[:3], wrong):
        answer = page.post("/save", json=sent(some), headers=OWN)
        assert answer.status_code == 409
        assert answer.json()["words"].startswith("Not saved.")
    assert not field.out.exists()
    assert not told


def test_closing_writes_nothing_and_ends_the_page(page, field, told):
    assert page.post("/close", json={}, headers=OWN).json() == {"closed": True}
    assert told == ["stop"]
    assert not field.out.exists()


@pytest.mark.parametrize("path", ["/save", "/close", "/solve"])
def test_other_pages_and_strangers_save_and_close_nothing(open_page, field, marks, told, path):
    body = sent(marks)
    known, stranger = open_page(field), open_page(field, is_known=False)
    assert stranger.post(path, json=body, headers=OWN).status_code == 403
    assert known.post(path, json=body, headers={"origin": "http://evil.example"}).status_code == 403
    assert known.post(path, json=body).status_code == 403
    assert known.post(path, json=body, headers={**OWN, "host": "evil.example"}).status_code == 400
    assert known.get(path).status_code == 405
    big = json.dumps(body) + " " * MOST_BODY_BYTES
    assert known.post(path, content=big, headers=OWN).status_code == 413
    assert not field.out.exists()
    assert not told


@pytest.mark.parametrize(
    "path",
    ["/../app.py", "/%2e%2e/app.py", "/static/page.js", "/page.js/../../app.py", "/..%2fapp.py",
     "/marks.toml", "/templates/field.html", "//etc/passwd", "/frame.jpg/..%5c..%5capp.py"],
)  # fmt: skip
def test_no_path_leads_to_the_disk(page, path):
    assert page.get(path).status_code == 404


def test_the_page_its_files_and_the_picture_are_all_there_is(page, field):
    assert page.get("/frame.jpg").content == field.picture
    for name, kind in STATIC.items():
        answer = page.get(f"/{name}")
        assert answer.headers["content-type"].startswith(kind)
        assert "http://" not in answer.text.replace("http://www.w3.org/2000/svg", "")
        assert "https://" not in answer.text


def test_the_page_needs_nothing_that_its_policy_forbids(page):
    html = page.get("/").text
    assert 'style="' not in html
    assert "onclick=" not in html
    assert html.count("<script") == 2  # the file, and the data for it


def test_markup_in_names_is_text(open_page, field, marks):
    nasty = "</script><img src=x onerror=alert(1)>&"
    named = replace(marks[0], name=nasty)
    html = open_page(replace(field, marks=(named, *marks[1:]))).get("/").text
    assert nasty not in html
    assert "<img src=x" not in html
    assert "<b>clip" not in html
    assert "&lt;b&gt;clip.mp4" in html
    start = html.split('id="start">')[1].split("</script>")[0]
    assert json.loads(start)["marks"][0]["name"] == nasty


def test_a_name_of_undecodable_bytes_is_shown_somehow(open_page, field):
    path = field.clip_path.with_name("clip\udcff.mp4")
    assert open_page(replace(field, clip_path=path)).get("/").status_code == 200


@pytest.mark.parametrize(
    "body",
    [b"", b"[]", b"{", b'{"marks": 1}', b'{"marks": [1]}', b"\xff", b"[" * 5000,
     b'{"marks": [{"name": "a"}]}', b'{"marks": [], "out": "/tmp/x"}'],
)  # fmt: skip
def test_what_is_no_list_of_marks_is_refused(page, field, body):
    answer = page.post("/save", content=body, headers=OWN)
    assert answer.status_code in (400, 409)
    assert not answer.json()["saved"]
    assert not field.out.exists()


@pytest.mark.parametrize(
    "change",
    [{"name": "\ud800"}, {"name": "a\nb"}, {"name": "x" * 61}, {"field_m": [1, 2]},
     {"field_m": [float("nan"), 0, 0]}, {"image_px": [10**400, 0]}, {"uncertainty_px": 0}],
)  # fmt: skip
def test_a_mark_that_cannot_be_meant_is_told_and_not_saved(page, field, marks, change):
    body = sent(marks)
    body["marks"][0] |= change
    answer = page.post("/save", content=json.dumps(body), headers=OWN)
    assert answer.status_code == 400
    assert not field.out.exists()


def test_more_marks_than_anyone_sets_are_refused(page, marks):
    many = [replace(marks[0], name=f"m{i}") for i in range(MOST_MARKS + 1)]
    assert "more than the page takes" in page.post("/solve", json=sent(many), headers=OWN).text


def test_a_place_that_cannot_be_written_is_told(open_page, field, marks, told):
    field.out.mkdir()
    answer = open_page(field).post("/save", json=sent(marks), headers=OWN)
    assert answer.status_code == 500
    assert "cannot be written" in answer.json()["words"]
    assert not told


def test_a_click_is_as_sure_as_stated_and_less_so_in_more_pixels(page):
    assert click_u_px((1280, 720)) == 2.0
    assert click_u_px((2160, 3840)) == 6.0
    assert 'value="6.0"' in page.get("/").text  # twice that of 1920 x 1080


def test_the_page_is_read_in_the_language_and_units_that_the_environment_asks_for(
    open_page, field, marks, monkeypatch
):
    monkeypatch.setenv(LANGUAGE_VARIABLE, "es")
    monkeypatch.setenv(UNITS_VARIABLE, "feet")
    page = open_page(field)
    shown = page.get("/").text
    assert '<html lang="es">' in shown
    assert "Marca el campo" in shown
    english = shipped_texts("en")["field"]
    said = [text for text in english.values() if len(text.split()) > 3 and "ft" not in text]
    assert [text for text in said if text in shown] == []
    view = page.post("/solve", json=sent(marks), headers=OWN).json()
    assert re.match(r"La cámara está a 4 ft 7 in del suelo, con \d+ in de margen", view["words"])


def test_all_that_the_script_says_stands_in_the_catalogue():
    script = (HERE / "static" / "page.js").read_text(encoding="utf-8")
    names = re.findall(
        r"text\((?:next \? |marks\.places\.length \? )?'(\w+)'(?: : '(\w+)')?", script
    )
    said = {name for pair in names for name in pair if name}
    assert len(said) > 25
    assert said <= set(shipped_texts("en")["field"])
    assert not re.search(r"'[A-Z][a-z]+ [a-z]+ [a-z ]*[.?]'", script)


def test_what_is_wrong_with_marks_is_told_in_the_language_of_the_page(
    open_page, field, marks, monkeypatch
):
    monkeypatch.setenv(LANGUAGE_VARIABLE, "es")
    page = open_page(field)
    outside = [replace(marks[0], image_px=(-5.0, 9.0)), *marks[1:]]
    told = page.post("/solve", json=sent(outside), headers=OWN).json()
    assert "[-5, 9] está fuera de la imagen de" in told["words"]
    assert told["wrong"] == [marks[0].name]
    no_place = {"marks": [{"name": "cone"}]}
    for path in ("/solve", "/save"):
        words = page.post(path, json=no_place, headers=OWN).json()["words"]
        assert words.startswith("La página, marks[1].field_m: falta. Deben ser tres números")
