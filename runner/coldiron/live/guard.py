"""Who may ask, and what goes back with every answer: a layer of ASGI around the page's server.

The page is on loopback, where every user and every web page of this machine can knock. So the address has a
token that nobody can guess, in its path: an event stream can send no header, a cookie would go to every port
of the machine, a query would stand in copied links. A foreign page that knows the address by accident is
known by its Origin, one that has bent a name of its own to 127.0.0.1 by the Host it asks for.
"""

from __future__ import annotations

import hmac
from collections.abc import Awaitable, Callable, MutableMapping
from typing import Any

LARGEST_BODY_BYTES = 16_384
HEADERS = {
    "content-security-policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; img-src 'self' data: "
        "blob:; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
    ),
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-resource-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cache-control": "no-store",
    "permissions-policy": "camera=(), microphone=(), geolocation=()",
}

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]


class Guard:
    """Lets through what may ask, with its path cut to what is behind the token.

    Parameters
    ----------
    app : callable
        The ASGI application behind it.
    token : str
        First word of every path.
    port : int
        Port that the server listens on.
    """

    def __init__(self, app: App, token: str, port: int) -> None:
        self._app = app
        self._token = token.encode()
        self._hosts = {f"{name}:{port}" for name in ("127.0.0.1", "localhost")}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a request, or hand it on."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        if scope["type"] != "http":
            return

        async def send_guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                own = [(name.encode(), value.encode()) for name, value in HEADERS.items()]
                kept = [pair for pair in message.get("headers", []) if pair[0].decode() not in HEADERS]
                message["headers"] = [*kept, *own]
            await send(message)

        refused = self._refused(scope)
        if refused is not None:
            status, words = refused
            await _say(send_guarded, status, words)
            return
        _, _, rest = scope["path"].removeprefix("/").partition("/")
        body = receive
        if scope["method"] == "POST":
            whole = await _whole(receive)
            if whole is None:
                await _say(send_guarded, 413, f"at most {LARGEST_BODY_BYTES} bytes")
                return
            body = _once(whole)
        await self._app({**scope, "path": f"/{rest}", "raw_path": f"/{rest}".encode()}, body, send_guarded)

    def _refused(self, scope: Scope) -> tuple[int, str] | None:
        """Status and words for who may not ask; None for who may."""
        headers: dict[bytes, list[str]] = {}
        for name, value in scope["headers"]:
            headers.setdefault(name.lower(), []).append(value.decode("latin-1"))
        hosts = headers.get(b"host", [])
        if len(hosts) != 1 or hosts[0].lower() not in self._hosts:
            return 421, "this is another machine's name"
        origins = headers.get(b"origin", [])
        allowed = {f"http://{host}" for host in self._hosts}
        if any(origin not in allowed for origin in origins):
            return 403, "pages from elsewhere have no business here"
        if headers.get(b"sec-fetch-site", ["same-origin"])[0] not in ("same-origin", "none"):
            return 403, "pages from elsewhere have no business here"
        first, _, _ = scope["path"].removeprefix("/").partition("/")
        if not hmac.compare_digest(first.encode(), self._token):
            return 404, "not here"
        if scope["method"] not in ("GET", "HEAD", "POST"):
            return 405, "GET or POST"
        if scope["method"] == "POST":
            if not origins:
                return 403, "only the page itself may ask"
            kind = headers.get(b"content-type", [""])[0].partition(";")[0].strip().lower()
            if kind != "application/json":
                return 415, "application/json"
            length = headers.get(b"content-length", [""])[0]
            if not length.isdigit() or int(length) > LARGEST_BODY_BYTES:
                return 413, f"at most {LARGEST_BODY_BYTES} bytes, and say how many"
        return None


async def _whole(receive: Receive) -> bytes | None:
    """Body of a request, unless it is too large."""
    body = b""
    while True:
        message = await receive()
        if message["type"] == "http.disconnect":
            return body
        body += bytes(message.get("body", b""))
        if len(body) > LARGEST_BODY_BYTES:
            return None
        if not message.get("more_body", False):
            return body


def _once(body: bytes) -> Receive:
    async def receive() -> Message:
        return {"type": "http.request", "body": body, "more_body": False}

    return receive


async def _say(send: Send, status: int, words: str) -> None:
    body = f"{words}\n".encode()
    headers = [
        (b"content-type", b"text/plain; charset=utf-8"),
        (b"content-length", str(len(body)).encode()),
    ]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})
