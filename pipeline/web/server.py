"""Serves a page to the browser on this machine only."""

from __future__ import annotations

import secrets
import socket
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from pipeline.core.errors import OutputError
from pipeline.web.guard import START, LoopbackGuard

if TYPE_CHECKING:
    from starlette.types import ASGIApp

ADDRESS = "127.0.0.1"
_MOST_AT_ONCE = 32
_LAST_ANSWERS_S = 1


def serve_on_loopback(
    make_app: Callable[[Callable[[], None]], ASGIApp],
    *,
    on_ready: Callable[[str], None],
    port: int = 0,
    **guard: Any,  # noqa: ANN401 - as the guard names them
) -> None:
    """Serve until the application stops the server, or until Ctrl-C.

    Parameters
    ----------
    make_app
        Makes the application, given the function that stops the server.
    on_ready
        Called with the address to open, which works once.
    port
        Port on this machine; 0 = any free one.
    guard
        Options of the `LoopbackGuard`.

    Raises
    ------
    OutputError
        The port is not free.
    KeyboardInterrupt
        Ctrl-C was pressed; the last answers were sent.
    """
    import uvicorn

    try:
        listener = socket.create_server((ADDRESS, port))
    except OSError as error:
        key = "no_port" if port == 0 else "port_not_free"
        raise OutputError.of(key, why=error.strerror) from error
    with listener:
        host = f"{ADDRESS}:{listener.getsockname()[1]}"
        token = secrets.token_urlsafe(24)

        def stop() -> None:
            server.should_exit = True

        server = uvicorn.Server(
            uvicorn.Config(
                LoopbackGuard(make_app(stop), host=host, token=token, **guard),
                http="h11", ws="none", lifespan="off", log_config=None, access_log=False,
                proxy_headers=False, server_header=False, limit_concurrency=_MOST_AT_ONCE,
                timeout_graceful_shutdown=_LAST_ANSWERS_S,
            )
        )  # fmt: skip
        on_ready(f"http://{host}{START}?token={token}")
        server.run(sockets=[listener])
