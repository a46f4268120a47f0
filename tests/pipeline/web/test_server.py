"""A page is served on this machine alone, and ends when it is told to."""

import threading
from http.cookiejar import CookieJar
from urllib.request import HTTPCookieProcessor, ProxyHandler, build_opener

from starlette.applications import Starlette
from starlette.background import BackgroundTask
from starlette.responses import PlainTextResponse
from starlette.routing import Route

from pipeline.web.server import serve_on_loopback


def test_the_server_answers_until_it_is_stopped():
    answers = []

    def make_app(stop):
        async def end(_):
            return PlainTextResponse("bye", background=BackgroundTask(stop))

        return Starlette(routes=[Route("/", end)])

    def visit(address):
        client = build_opener(HTTPCookieProcessor(CookieJar()), ProxyHandler({}))
        for part in (address, address.split("/start")[0]):
            with client.open(part, timeout=10) as answer:
                answers.append((answer.status, answer.read(), answer.headers))

    def ready(address):
        assert address.startswith("http://127.0.0.1:")
        visitor.append(threading.Thread(target=visit, args=(address,)))
        visitor[0].start()

    visitor = []
    serve_on_loopback(make_app, on_ready=ready)
    visitor[0].join()
    assert [status for status, _, _ in answers] == [200, 200]
    assert answers[1][1] == b"bye"
    assert "server" not in answers[1][2]
