"""The door of the bench: requests from this machine's own pages in, everything else refused before any page sees it.

What a foreign web page could try: a request with a name of its own in Host (rebinding), a request or a websocket
with its own Origin, framing the bench. Sources: RFC 9110 (Host), RFC 6454 (Origin), W3C Fetch Metadata, W3C CSP 3.
"""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Mapping, MutableMapping
from typing import Any

Scope = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[MutableMapping[str, Any]]]
Send = Callable[[MutableMapping[str, Any]], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

LARGEST_BODY_BYTES = 20_000_000  # a mesh of a part as a shop scans it; a build's own text is a thousandth
_KINDS = ("multipart/form-data", "text/plain", "application/json", "application/octet-stream")
_READING = ("GET", "HEAD")

# the page's own library compiles its templates in the browser, which needs unsafe-eval and inline scripts and styles
_POLICY = (
    "default-src 'none'; script-src 'self' 'unsafe-inline' 'unsafe-eval'; style-src 'self' 'unsafe-inline'; "
    "img-src 'self' data: blob:; font-src 'self' data:; connect-src 'self' ws://{host}; worker-src 'self' blob:; "
    "media-src 'none'; object-src 'none'; frame-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
)


class Guard:
    """ASGI middleware round the whole app. `port` is the one the bench listens on."""

    def __init__(self, app: App, port: int) -> None:
        self.app = app
        self._hosts = {f"{name}:{port}" for name in ("127.0.0.1", "localhost", "[::1]")}
        if port == 80:
            self._hosts |= {"127.0.0.1", "localhost", "[::1]"}
        self._origins = {f"http://{host}" for host in self._hosts}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] not in ("http", "websocket"):
            await self.app(scope, receive, send)
            return
        headers = _headers(scope)
        host = headers.get("host", [""])[0].lower()
        refused = self._refused(scope, headers)
        if scope["type"] == "websocket":
            if refused:
                # closed before it is accepted: the server answers 403
                await send({"type": "websocket.close", "code": 1008, "reason": refused[1]})
                return
            await self.app(scope, receive, send)
            return
        if refused:
            await _answer(send, *refused)
            return
        asker = _Asker(receive)
        try:
            await self.app(scope, asker, _safe(send, host))
        except RuntimeError:
            if not asker.left:  # nobody waits any more: the page was left before it was answered
                raise

    def _refused(self, scope: Scope, headers: Mapping[str, list[str]]) -> tuple[int, str] | None:
        hosts, origins = headers.get("host", []), headers.get("origin", [])
        if len(hosts) != 1 or hosts[0].lower() not in self._hosts:
            return 421, "this bench answers only to its own name on this machine"
        if len(origins) > 1 or any(origin.lower() not in self._origins for origin in origins):
            return 403, "another page may not ask this bench for anything"
        reading = scope["type"] == "http" and scope["method"] in _READING
        if not origins and not reading:
            return 403, "who asks must say where from"
        site = headers.get("sec-fetch-site", ["none"])[0]
        going = (
            headers.get("sec-fetch-mode", [""])[0] == "navigate"
            and headers.get("sec-fetch-dest", [""])[0] == "document"
        )
        if site not in ("same-origin", "none") and not (reading and going):
            return 403, "another page may not ask this bench for anything"
        if scope["type"] == "websocket":
            return None
        return _body_refused(scope["method"], headers)


def _body_refused(method: str, headers: Mapping[str, list[str]]) -> tuple[int, str] | None:
    if method not in (*_READING, "POST", "PUT", "DELETE", "OPTIONS"):
        return 405, "no such method here"
    told = headers.get("content-length", ["0"])
    if len(told) > 1 or not told[0].isascii() or not told[0].isdigit():
        return 400, "a length that is none"
    if int(told[0][:12]) > LARGEST_BODY_BYTES:
        return 413, f"larger than {LARGEST_BODY_BYTES // 1_000_000} MB"
    kind = headers.get("content-type", [""])[0].split(";")[0].strip().lower()
    if method not in _READING and told[0] != "0" and kind not in _KINDS:
        return 415, "a kind of content that is not taken"
    return None


def _headers(scope: Scope) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for name, value in scope.get("headers", []):
        found.setdefault(name.decode("latin-1").lower(), []).append(value.decode("latin-1").strip())
    return found


class _Asker:
    """What is received: a body in pieces is counted as it comes; past the limit it ends as if the asker had gone."""

    def __init__(self, receive: Receive) -> None:
        self._receive = receive
        self._taken = 0
        self.left = False

    async def __call__(self) -> MutableMapping[str, Any]:
        message = await self._receive()
        if message["type"] == "http.request":
            self._taken += len(message.get("body", b""))
            if self._taken > LARGEST_BODY_BYTES:
                return {"type": "http.disconnect"}
        self.left = self.left or message["type"] == "http.disconnect"
        return message


def _safe(send: Send, host: str) -> Send:
    async def tell(message: MutableMapping[str, Any]) -> None:
        if message["type"] == "http.response.start":
            message["headers"] = [*message.get("headers", []), *_safe_headers(host)]
        await send(message)

    return tell


def _safe_headers(host: str) -> list[tuple[bytes, bytes]]:
    return [
        (b"content-security-policy", _POLICY.format(host=host).encode("latin-1")),
        (b"x-content-type-options", b"nosniff"),
        (b"x-frame-options", b"DENY"),
        (b"referrer-policy", b"no-referrer"),
        (b"cross-origin-opener-policy", b"same-origin"),
        (b"cross-origin-resource-policy", b"same-origin"),
        (b"permissions-policy", b"camera=(), microphone=(), geolocation=()"),
    ]


async def _answer(send: Send, status: int, words: str) -> None:
    headers = [(b"content-type", b"text/plain; charset=utf-8"), (b"connection", b"close"), *_safe_headers("127.0.0.1")]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": words.encode()})
