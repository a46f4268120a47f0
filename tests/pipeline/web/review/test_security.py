"""Only the person at this machine gets in; nothing else is served, nothing written for others."""

import json
from itertools import product

import pytest
from sqlalchemy import func, select

from pipeline.log.marks import add_cue
from pipeline.log.schema import CLIPS, CUES, JOBS, REVIEW_MARKS
from pipeline.web.guard import MOST_BODY_BYTES
from tests.fixtures.reviewed import HOST, OWN, SOME_REPS, context_of, logged, mark, page_of

GETS = ("/", "/cues", "/film", "/film/jobs", "/clip/1/report", "/clip/1/rep/1", "/static/page.css")
POSTS = ("/marks", "/marks/undo", "/cues", "/film/jobs", "/film/upload")
STRANGE = [
    {"host": "evil.example"}, {"host": "evil.example:8765"}, {"host": "127.0.0.1"},
    {"host": "localhost:8765"}, {"host": "[::1]:8765"},
]  # fmt: skip
CROSS = [
    {"origin": "http://evil.example"}, {"origin": "null"}, {"origin": "http://127.0.0.1:9"}, {},
    {"origin": f"http://{HOST}", "sec-fetch-site": "cross-site"},
]  # fmt: skip


@pytest.fixture
def nothing_written(context, log, data):
    """Check at the end that no request has left anything behind."""

    def state():
        with log.reading() as connection:
            rows = [
                connection.execute(select(func.count()).select_from(table)).scalar()
                for table in (REVIEW_MARKS, CUES, JOBS, CLIPS)
            ]
        return rows, sorted(str(path) for path in data.rglob("*") if "sqlite3-" not in path.name)

    before = state()
    yield
    assert state() == before


def form_for(path, clip):
    return {
        "/marks": {"clip": clip, "number": 1, "version": 0, "kind": "agree"},
        "/marks/undo": {"mark": 1},
        "/cues": {"text": "x"},
        "/film/jobs": {"go": 1},
        "/film/upload": {"who": 1},
    }[path]


@pytest.mark.usefixtures("nothing_written")
def test_another_page_in_the_browser_writes_nothing(page, clip):
    for path, headers in product(POSTS, CROSS):
        answer = page.post(path, data=form_for(path, clip), headers=headers)
        assert answer.status_code == 403, (path, headers)


@pytest.mark.usefixtures("nothing_written")
def test_a_name_that_was_pointed_at_this_machine_is_refused(page, clip):
    for headers in STRANGE:
        for path in GETS:
            assert page.get(path, headers=headers).status_code == 400, (path, headers)
        for path in POSTS:
            both = {**OWN, **headers}
            answer = page.post(path, data=form_for(path, clip), headers=both)
            assert answer.status_code == 400, (path, headers)


@pytest.mark.usefixtures("nothing_written")
def test_without_the_cookie_nothing_is_shown_or_taken(context, clip):
    stranger = page_of(context, is_known=False)
    for path in GETS:
        assert stranger.get(path).status_code == 403
    for path in POSTS:
        assert stranger.post(path, data=form_for(path, clip), headers=OWN).status_code == 403


def test_the_token_works_once_and_no_other_does(context):
    page = page_of(context, is_known=False)
    assert page.get("/start?token=x").status_code == 403
    assert page.get("/start").status_code == 403
    assert page.get("/start?token=t&token=t").status_code == 403
    cookie = page.get("/start?token=t").headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=Strict" in cookie
    page.cookies.clear()
    assert page.get("/start?token=t").status_code == 403
    assert page.get("/").status_code == 403


TO_THE_DISK = [
    "/../etc/passwd", "/%2e%2e/%2e%2e/etc/passwd", "/static/../app.py", "/static/..%2fapp.py",
    "/static/%2e%2e%5capp.py", "/static//etc/passwd", "/static/", "/film/../../etc/passwd",
    "/clip/1/rep/1/../../../../etc/passwd", "/clip/1/rep/..%2f..%2fx/picture",
    "/clip/1/rep/1/picture/../report.html", "/clip/..%2f1/report", "/clip/1/reps.json",
    "/clip/-1/report", "/clip/1e0/report", "/clip/1/report/../reps.json", "//etc/passwd",
]  # fmt: skip


@pytest.mark.usefixtures("nothing_written")
def test_no_path_leads_to_the_disk(page):
    for path in TO_THE_DISK:
        answer = page.get(path)
        assert answer.status_code in (404, 400), path
        assert "root:" not in answer.text, path


def test_a_picture_or_report_comes_from_the_folder_the_log_knows_alone(
    log, write_film, tmp_path, data
):
    secret = tmp_path / "secret.html"
    secret.write_text("secret")
    results = tmp_path / "out" / "film"
    results.mkdir(parents=True)
    (results / "report.html").symlink_to(secret)
    (results / "rep_01.jpg").write_bytes(b"\xff\xd8picture")
    (results / "rep_02.jpg").symlink_to(secret)
    clip = logged(log, write_film("film.mp4"), SOME_REPS)
    with log.writing() as connection:
        connection.execute(CLIPS.update().values(results_path=str(results)))
    page = page_of(context_of(log))
    assert page.get(f"/clip/{clip}/rep/1/picture").content == b"\xff\xd8picture"
    assert page.get(f"/clip/{clip}/rep/2/picture").status_code == 404
    assert page.get(f"/clip/{clip}/report").status_code == 404


def test_every_answer_keeps_the_page_to_itself(page):
    for path in GETS:
        headers = page.get(path).headers
        policy = headers["content-security-policy"]
        assert "frame-ancestors 'none'" in policy, path
        assert "unsafe" not in policy or path.endswith("/report"), path
        assert "http" not in policy, path
        assert headers["x-content-type-options"] == "nosniff", path
        assert headers["cache-control"] == "no-store", path


def test_the_pages_hold_no_script_and_no_style_of_their_own(page, clip):
    for path in ("/", "/cues", "/film", f"/clip/{clip}/rep/1"):
        html = page.get(path).text
        assert "<style" not in html
        assert " style=" not in html
        assert "onclick" not in html
        for tag in html.split("<script")[1:]:
            assert 'src="/static/' in tag.split(">")[0] or "application/json" in tag.split(">")[0]


NASTY = "</script><img src=x onerror=alert(1)>\"'&"


def test_markup_in_names_notes_and_cues_is_text(log, write_film, data):
    clip = logged(log, write_film("film.mp4"), athlete=NASTY[:50])
    with log.writing() as connection:
        connection.execute(CLIPS.update().values(file_name=NASTY))
        add_cue(connection, NASTY, by=NASTY, at=_now())
    page = page_of(context_of(log, by=NASTY))
    mark(page, clip, kind="note", text=NASTY)
    for path in ("/", "/?last=1", "/cues", "/film", f"/clip/{clip}/rep/1"):
        html = page.get(path).text
        assert "<img src=x" not in html, path
    stale = mark(page, clip, kind="note", text=NASTY)
    assert stale.status_code == 409
    assert "<img src=x" not in stale.text


@pytest.mark.usefixtures("nothing_written")
def test_a_form_that_is_too_long_is_refused(page, clip):
    form = {**form_for("/marks", clip), "text": "x" * MOST_BODY_BYTES}
    assert page.post("/marks", data=form, headers=OWN).status_code == 413
    many = {f"field_{i}": "x" for i in range(100)} | form_for("/marks", clip)
    assert page.post("/marks", data=many, headers=OWN).status_code == 400


@pytest.mark.parametrize(
    "address", ["//evil.example", "http://evil.example", "/\\evil.example", "javascript:alert(1)"]
)
def test_a_form_never_leads_to_another_place(page, clip, address):
    answer = mark(page, clip, next=address)
    assert answer.headers["location"] == f"/clip/{clip}/rep/1?last=1" or answer.headers[
        "location"
    ].startswith("/?")


@pytest.mark.usefixtures("nothing_written")
def test_json_and_other_bodies_are_no_marks(page, clip):
    body = json.dumps(form_for("/marks", clip))
    for kind in ("application/json", "text/plain"):
        answer = page.post("/marks", content=body, headers={**OWN, "content-type": kind})
        assert answer.status_code == 400


def _now():
    from datetime import datetime, timezone

    return datetime.now(tz=timezone.utc)
