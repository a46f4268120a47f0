"""Lets only the person at this machine use a local web page, and refuses every other request.

The printed address holds a token that works once. The browser that opens it gets a cookie, which
every other request needs. The Origin header reveals another page in the same browser; the Host
header reveals a foreign name that points at this machine.
"""

from __future__ import annotations

import secrets
from collections.abc import Callable, Iterable
from http.cookies import CookieError, SimpleCookie
from typing import TYPE_CHECKING
from urllib.parse import parse_qs

from pipeline.core.catalogue import Language
from pipeline.core.messages import shipped
from pipeline.settings.locale import known_reading

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

START = "/start"
MOST_BODY_BYTES = 64 * 1024

POLICY = "; ".join(
    [
        "default-src 'none'", "script-src 'self'", "style-src 'self'", "img-src 'self'",
        "connect-src 'self'", "media-src 'self'",
        "form-action 'none'", "base-uri 'none'", "frame-ancestors 'none'",
    ]
)  # fmt: skip

OWN_POLICY = "; ".join(
    [
        "default-src 'self'", "base-uri 'none'", "object-src 'none'", "form-action 'self'",
        "frame-ancestors 'none'",
    ]
)  # fmt: skip
"""For a page with forms and film that loads only its own files."""

REPORT_POLICY = "; ".join(
    [
        "default-src 'none'", "img-src 'self' data:", "media-src 'self' data:",
        "style-src 'unsafe-inline'", "base-uri 'none'", "form-action 'none'",
        "frame-ancestors 'none'",
    ]
)  # fmt: skip
"""For a report, which holds its own style and pictures, and no script."""

NO_REFERRER, OWN_REFERRER = "no-referrer", "same-origin"
"""Forms sent by the browser itself need the second: with the first it omits their origin."""

Headers = tuple[tuple[bytes, bytes], ...]


def _headers(policy: str, referrer: str) -> Headers:
    return (
        (b"content-security-policy", policy.encode()),
        (b"cache-control", b"no-store"),  # the film's picture stays out of the browser's cache
        (b"cross-origin-opener-policy", b"same-origin"),
        (b"cross-origin-resource-policy", b"same-origin"),
        (b"referrer-policy", referrer.encode()),
        (b"x-content-type-options", b"nosniff"),
    )


# Not a redirect: after a link in another page, a browser sends the same-site cookie only with a
# request that this page makes itself.
_LEADS_ON = (
    '<!doctype html><html lang="{language}"><meta charset="utf-8"><meta http-equiv="refresh" '
    'content="0;url=/"><title>Crossemetry</title><p><a href="/">{go_on}</a></p></html>'
)


class LoopbackGuard:
    """Passes the requests of the right browser to an application, and refuses all others.

    Parameters
    ----------
    app
        The guarded application.
    host
        Address and port as the browser names them, such as ``127.0.0.1:8000``.
    token
        Secret of the printed address; valid once.
    policy, referrer
        Values of the headers Content-Security-Policy and Referrer-Policy.
    streamed
        Gives for a path how many bytes it takes as a stream. None = only a small body, which is
        read whole before the application runs.
    language
        Language of refusals; None = that of the environment.
    """

    def __init__(
        self,
        app: ASGIApp,
        *,
        host: str,
        token: str,
        policy: str = POLICY,
        referrer: str = NO_REFERRER,
        streamed: Callable[[str], int | None] = lambda path: None,
        language: Language | None = None,
    ) -> None:
        self._app = app
        self._host = host
        self._token = token
        self._headers = _headers(policy, referrer)
        self._streamed = streamed
        self._language = known_reading(language).language
        self._is_used = False
        self._secret = secrets.token_urlsafe(32)
        # A cookie holds for all ports of a host, so its name contains the port.
        self._cookie = f"crossemetry_{host.rpartition(':')[2]}"

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http":
            if scope["type"] == "websocket":
                await send({"type": "websocket.close", "code": 1008})
            return
        headers: dict[bytes, list[bytes]] = {}
        for name, value in scope["headers"]:
            headers.setdefault(name.lower(), []).append(value)
        send = _with_headers(send, self._headers)
        if headers.get(b"host") != [self._host.encode()]:
            await self._refuse(send, 400, "own_address")
        elif scope["path"] == START:
            await self._start(scope, headers, send)
        elif not self._has_cookie(headers):
            await self._refuse(send, 403, "open_printed")
        elif not self._is_own(scope["method"], headers):
            await self._refuse(send, 403, "another_page")
        else:
            await self._pass_on(scope, headers, receive, send)

    async def _pass_on(
        self, scope: Scope, headers: dict[bytes, list[bytes]], receive: Receive, send: Send
    ) -> None:
        """Pass a request to the application, with its body limited in length."""
        most_bytes = self._streamed(scope["path"]) if scope["method"] == "POST" else None
        if most_bytes is not None:
            if not _declares_at_most(headers, most_bytes):
                await self._refuse(send, 413, "too_much")
            else:
                await self._app(scope, _counted(receive, most_bytes), send)
            return
        body = await _body(headers, receive)
        if body is None:
            await self._refuse(send, 413, "too_much")
        else:
            await self._app(scope, _replayed(body, receive), send)

    async def _start(self, scope: Scope, headers: dict[bytes, list[bytes]], send: Send) -> None:
        """Turn the token into a cookie, once."""
        given = parse_qs(scope["query_string"].decode("latin-1")).get("token", [])
        if scope["method"] != "GET":
            await self._refuse(send, 405, "opening_only")
        elif self._has_cookie(headers):  # a browser may have prefetched this address
            await self._lead_on(send)
        elif len(given) != 1 or not secrets.compare_digest(given[0].encode(), self._token.encode()):
            await self._refuse(send, 403, "open_printed")
        elif self._is_used:
            await self._refuse(send, 403, "opened_already")
        else:
            self._is_used = True
            cookie = f"{self._cookie}={self._secret}; Path=/; HttpOnly; SameSite=Strict"
            await self._lead_on(send, [(b"set-cookie", cookie.encode())])

    async def _refuse(self, send: Send, status: int, why: str) -> None:
        """Answer with the text of ``[loopback]`` that gives the reason."""
        await _answer(send, status, shipped(self._language).text(f"loopback.{why}"))

    async def _lead_on(self, send: Send, extra: Iterable[tuple[bytes, bytes]] = ()) -> None:
        go_on = shipped(self._language).text("loopback.go_on")
        page = _LEADS_ON.format(language=self._language, go_on=go_on)
        await _answer(send, 200, page, kind="text/html", extra=extra)

    def _has_cookie(self, headers: dict[bytes, list[bytes]]) -> bool:
        for line in headers.get(b"cookie", []):
            try:
                found = SimpleCookie(line.decode("latin-1")).get(self._cookie)
            except CookieError:
                continue
            if found and secrets.compare_digest(found.value.encode(), self._secret.encode()):
                return True
        return False

    def _is_own(self, method: str, headers: dict[bytes, list[bytes]]) -> bool:
        """Whether the page itself made the request; a request that changes state must prove it."""
        origins = headers.get(b"origin", [])
        if any(origin != f"http://{self._host}".encode() for origin in origins):
            return False
        sites = headers.get(b"sec-fetch-site", [])
        if any(site not in (b"same-origin", b"none") for site in sites):
            return False
        return method in ("GET", "HEAD") or len(origins) == 1


async def _body(headers: dict[bytes, list[bytes]], receive: Receive) -> bytes | None:
    """Read a request's body; None if it is too long, whatever its headers declare."""
    if not _declares_at_most(headers, MOST_BODY_BYTES):
        return None
    body = bytearray()
    while True:
        message = await receive()
        if message["type"] != "http.request":
            return bytes(body)
        body += message.get("body", b"")
        if len(body) > MOST_BODY_BYTES:
            return None
        if not message.get("more_body", False):
            return bytes(body)


def _declares_at_most(headers: dict[bytes, list[bytes]], most_bytes: int) -> bool:
    """Whether the declared length of a request is within a limit; the body may be longer."""
    declared = b"".join(headers.get(b"content-length", [])) or b"0"
    return declared.isdigit() and int(declared[:15]) <= most_bytes


def _counted(receive: Receive, most_bytes: int) -> Receive:
    """Pass on a streamed body, and disconnect when it exceeds the limit."""
    n_bytes = 0

    async def receive_on() -> Message:
        nonlocal n_bytes
        if n_bytes > most_bytes:
            return {"type": "http.disconnect"}
        message = await receive()
        n_bytes += len(message.get("body", b""))
        return {"type": "http.disconnect"} if n_bytes > most_bytes else message

    return receive_on


def _replayed(body: bytes, receive: Receive) -> Receive:
    """Replay a body that was read, then pass on what follows."""
    messages: list[Message] = [{"type": "http.request", "body": body, "more_body": False}]

    async def receive_on() -> Message:
        # A streamed answer waits here for the message that the browser has disconnected.
        return messages.pop() if messages else await receive()

    return receive_on


def _with_headers(send: Send, headers: Headers) -> Send:
    """Add the protective headers that an answer does not set itself."""

    async def send_on(message: Message) -> None:
        if message["type"] == "http.response.start":
            own = [*message.get("headers", [])]
            named = {name.lower() for name, _ in own}
            added = [header for header in headers if header[0] not in named]
            message = {**message, "headers": [*own, *added]}
        await send(message)

    return send_on


async def _answer(
    send: Send,
    status: int,
    words: str,
    *,
    kind: str = "text/plain",
    extra: Iterable[tuple[bytes, bytes]] = (),
) -> None:
    body = words.encode()
    headers = [
        (b"content-type", f"{kind}; charset=utf-8".encode()),
        (b"content-length", str(len(body)).encode()),
        *extra,
    ]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})
