"""Serves a page to the browser on this machine, and to nobody else, until it is done."""

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
    """Serve until the application says stop, or until it is interrupted.

    Parameters
    ----------
    make_app
        Makes the application; it is handed the function that stops the server.
    on_ready
        Told the address to open, which works once.
    port
        Of this machine; 0 = any that is free.
    guard
        Options of the `LoopbackGuard`.

    Raises
    ------
    OutputError
        No port is to be had on this machine.
    KeyboardInterrupt
        Interrupted by Ctrl-C, after the last answers.
    """
    import uvicorn

    try:
        listener = socket.create_server((ADDRESS, port))
    except OSError as error:
        told_as = "no_port" if port == 0 else "port_not_free"
        raise OutputError.of(told_as, why=error.strerror) from error
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
