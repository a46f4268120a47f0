"""Only the browser that opened the printed address, on this machine, gets an answer."""

import pytest
from starlette.applications import Starlette
from starlette.responses import PlainTextResponse
from starlette.routing import Route
from starlette.testclient import TestClient

from pipeline.settings.locale import LANGUAGE_VARIABLE
from pipeline.web.guard import MOST_BODY_BYTES, LoopbackGuard

HOST = "127.0.0.1:8765"
OWN = {"origin": f"http://{HOST}"}


@pytest.fixture
def heard():
    return []


@pytest.fixture
def guard(heard):
    async def answer(request):
        heard.append((request.method, await request.body()))
        return PlainTextResponse("ok")

    return LoopbackGuard(
        Starlette(routes=[Route("/", answer, methods=["GET", "POST"])]), host=HOST, token="secret"
    )


@pytest.fixture
def client(guard):
    return TestClient(guard, base_url=f"http://{HOST}")


@pytest.fixture
def known(client):
    assert client.get("/start?token=secret").status_code == 200
    return client


def test_the_printed_address_leads_to_the_page(known, heard):
    answer = known.get("/")
    assert answer.text == "ok"
    assert heard == [("GET", b"")]


def test_the_cookie_is_for_this_page_alone(client):
    cookie = client.get("/start?token=secret").headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=Strict" in cookie
    assert "secret" not in cookie


@pytest.mark.parametrize("query", ["", "?token=", "?token=wrong", "?token=secret&token=secret"])
def test_a_missing_or_wrong_token_gets_nothing(client, heard, query):
    answer = client.get(f"/start{query}")
    assert answer.status_code == 403
    assert "set-cookie" not in answer.headers
    assert client.get("/").status_code == 403
    assert not heard


def test_the_token_works_once(guard, known):
    other = TestClient(guard, base_url=f"http://{HOST}")
    answer = other.get("/start?token=secret")
    assert answer.status_code == 403
    assert "opened already" in answer.text
    assert known.get("/start?token=secret").status_code == 200  # the same browser again


def test_a_look_ahead_does_not_use_the_token_up(client):
    assert client.head("/start?token=secret").status_code == 405
    assert client.get("/start?token=secret").status_code == 200


@pytest.mark.parametrize("cookie", ["crossemetry_8765=guess", "crossemetry_8765=", "a=b; ;=;x"])
def test_a_guessed_cookie_gets_nothing(client, heard, cookie):
    assert client.get("/", headers={"cookie": cookie}).status_code == 403
    assert not heard


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1", "localhost:8765", "127.0.0.1:1", ""])
def test_another_host_is_refused(known, heard, host):
    for path in ("/", "/start?token=secret"):
        assert known.get(path, headers={"host": host}).status_code == 400
    assert not heard


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://evil.example"},
        {"origin": "http://127.0.0.1:9999"},
        {"origin": "null"},
        {},
        {**OWN, "sec-fetch-site": "cross-site"},
        {**OWN, "sec-fetch-site": "same-site"},
    ],
)
def test_a_request_of_another_page_changes_nothing(known, heard, headers):
    assert known.post("/", content="x", headers=headers).status_code == 403
    assert not heard


def test_a_picture_on_another_page_is_not_shown(known, heard):
    assert known.get("/", headers={"sec-fetch-site": "cross-site"}).status_code == 403
    assert not heard


def test_the_page_itself_may_send(known, heard):
    headers = {**OWN, "sec-fetch-site": "same-origin"}
    assert known.post("/", content="x" * MOST_BODY_BYTES, headers=headers).status_code == 200
    assert heard == [("POST", b"x" * MOST_BODY_BYTES)]


def test_too_much_is_refused_whatever_its_headers_say(known, heard):
    assert known.post("/", content="x" * (MOST_BODY_BYTES + 1), headers=OWN).status_code == 413

    def pieces():  # sent without a length
        for _ in range(70):
            yield b"x" * 1024

    assert known.post("/", content=pieces(), headers=OWN).status_code == 413
    assert not heard


def test_every_answer_keeps_to_itself(known, client):
    for answer in (known.get("/"), client.get("/", headers={"host": "evil.example"})):
        assert "default-src 'none'" in answer.headers["content-security-policy"]
        assert "frame-ancestors 'none'" in answer.headers["content-security-policy"]
        assert answer.headers["cache-control"] == "no-store"
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert answer.headers["referrer-policy"] == "no-referrer"
        assert "access-control-allow-origin" not in answer.headers


def test_other_methods_are_not_passed_on_without_proof(known, heard):
    for method in ("PUT", "DELETE", "OPTIONS", "PATCH"):
        assert known.request(method, "/").status_code == 403
    assert not heard


def test_a_refusal_is_in_the_language_that_is_read(guard, monkeypatch):
    monkeypatch.setenv(LANGUAGE_VARIABLE, "es")
    spanish = LoopbackGuard(Starlette(), host=HOST, token="secret")
    for asked, language, says in (
        (spanish, "es", "Abre la dirección que mostró el programa."),
        (guard, "en", "Open the address that the program printed."),
    ):
        client = TestClient(asked, base_url=f"http://{HOST}")
        assert client.get("/").text == says
        assert f'lang="{language}"' in client.get("/start?token=secret").text
