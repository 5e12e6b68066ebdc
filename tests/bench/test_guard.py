"""What a foreign page or program could send is refused at the door, on http and on the websocket alike."""

from __future__ import annotations

import socket
from collections.abc import Callable
from typing import Any

import httpx
import pytest

from halfshaft.bench.guard import LARGEST_BODY_BYTES, Guard
from tests.bench.conftest import Bench, run_alone

SOCKET = "/_nicegui_ws/socket.io/?EIO=4&transport=websocket"


def _handshake(bench: Bench, host: str, origin: str | None) -> int:
    """Status that a websocket opening handshake (RFC 6455, 4.1) is answered with; the key is that of its 1.3."""
    lines = [
        f"GET {SOCKET} HTTP/1.1",
        f"Host: {host}",
        "Upgrade: websocket",
        "Connection: Upgrade",
        "Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==",
        "Sec-WebSocket-Version: 13",
        *([f"Origin: {origin}"] if origin is not None else []),
    ]
    with socket.create_connection(("127.0.0.1", bench.port), timeout=20) as line:
        line.sendall(("\r\n".join(lines) + "\r\n\r\n").encode())
        return int(line.recv(64).split()[1])


def test_the_websocket_opens_to_our_own_page_only(small_bench: Bench):
    here = f"127.0.0.1:{small_bench.port}"
    # 101 Switching Protocols: the good case first, else every refusal below could have another cause
    assert _handshake(small_bench, here, f"http://{here}") == 101
    assert _handshake(small_bench, f"localhost:{small_bench.port}", f"http://localhost:{small_bench.port}") == 101
    for host, origin in [
        (here, "http://shop.example"),
        (here, "null"),
        (here, f"https://{here}"),
        (here, f"http://127.0.0.1:{small_bench.port + 1}"),
        (here, f"http://{here}.shop.example"),
        (here, None),
        ("shop.example", "http://shop.example"),
        (f"shop.example:{small_bench.port}", f"http://{here}"),
    ]:
        assert _handshake(small_bench, host, origin) == 403, (host, origin)


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({}, 200),
        ({"Origin": "{address}"}, 200),
        ({"Host": "shop.example"}, 421),
        ({"Host": "127.0.0.1"}, 421),
        ({"Host": "127.0.0.1.shop.example:{port}"}, 421),
        ({"Origin": "http://shop.example"}, 403),
        ({"Origin": "null"}, 403),
        ({"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "no-cors", "Sec-Fetch-Dest": "image"}, 403),
        # somebody follows a link: the page may open, it gives nothing to who linked to it
        ({"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "navigate", "Sec-Fetch-Dest": "document"}, 200),
        ({"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "navigate", "Sec-Fetch-Dest": "iframe"}, 403),
    ],
)
def test_pages_answer_only_to_this_machine(small_bench: Bench, headers: dict[str, str], status: int):
    sent = {k: v.format(address=small_bench.address.rstrip("/"), port=small_bench.port) for k, v in headers.items()}
    assert httpx.get(small_bench.address, headers=sent, timeout=30).status_code == status


def test_the_bench_listens_on_loopback_only(small_bench: Bench):
    with open("/proc/net/tcp", encoding="ascii") as table:
        rows = [line.split() for line in table][1:]
    # proc(5): local address as hex of the host's byte order, state 0A is listening
    ours = [row[1] for row in rows if row[3] == "0A" and int(row[1].split(":")[1], 16) == small_bench.port]
    assert ours == [f"0100007F:{small_bench.port:04X}"]


def test_every_answer_forbids_frames_and_foreign_content(small_bench: Bench):
    told = httpx.get(small_bench.address, timeout=30).headers
    policy = dict(part.strip().split(" ", 1) for part in told["content-security-policy"].split(";"))
    assert policy["default-src"] == "'none'"
    assert policy["frame-ancestors"] == "'none'"
    assert policy["connect-src"] == f"'self' ws://127.0.0.1:{small_bench.port}"
    assert "http" not in policy["script-src"]
    assert told["x-content-type-options"] == "nosniff"


@pytest.mark.parametrize(
    "path", ["/../build.toml", "/build.toml", "/%2e%2e/build.toml", "/out/../build.toml", "/_nicegui/../../build.toml"]
)
def test_no_path_reads_the_build_folder(small_bench: Bench, path: str):
    with socket.create_connection(("127.0.0.1", small_bench.port), timeout=20) as line:
        request = f"GET {path} HTTP/1.1\r\nHost: 127.0.0.1:{small_bench.port}\r\nConnection: close\r\n\r\n"
        line.sendall(request.encode())
        answer = b""
        while piece := line.recv(65536):
            answer += piece
    assert b"[bracket.corner]" not in answer
    assert answer.split()[1] in (b"404", b"400")


def _ask(guard: Guard, headers: dict[str, str], body: list[bytes], method: str = "POST") -> int:
    """Status of one request put to the door in process, its body in the pieces given."""
    pieces: list[dict[str, Any]] = [{"type": "http.request", "body": piece, "more_body": True} for piece in body]
    told: list[Any] = []

    async def receive() -> Any:
        return pieces.pop(0) if pieces else {"type": "http.request", "body": b"", "more_body": False}

    async def send(message: Any) -> None:
        told.append(message)

    raw = [(k.lower().encode(), v.encode()) for k, v in headers.items()]
    scope = {"type": "http", "method": method, "path": "/", "headers": raw}
    run_alone(guard(scope, receive, send))
    return int(told[0]["status"])


def _counting() -> tuple[Guard, list[int]]:
    taken: list[int] = []

    async def inside(scope: Any, receive: Callable[[], Any], send: Callable[[Any], Any]) -> None:
        size = 0
        while True:
            message = await receive()
            if message["type"] == "http.disconnect":
                await send({"type": "http.response.start", "status": 400, "headers": []})
                return
            size += len(message["body"])
            if not message["more_body"]:
                break
        taken.append(size)
        await send({"type": "http.response.start", "status": 200, "headers": []})

    return Guard(inside, 8123), taken


OURS = {"Host": "127.0.0.1:8123", "Origin": "http://127.0.0.1:8123", "Content-Type": "multipart/form-data; boundary=x"}


def test_what_is_too_large_is_refused_before_and_while_it_comes():
    guard, taken = _counting()
    assert _ask(guard, {**OURS, "Content-Length": "10"}, [b"0123456789"]) == 200
    assert _ask(guard, {**OURS, "Content-Length": str(LARGEST_BODY_BYTES + 1)}, []) == 413
    assert _ask(guard, {**OURS, "Content-Length": "9" * 400}, []) == 413
    assert _ask(guard, {**OURS, "Content-Length": "-1"}, []) == 400
    # no length told, as when it comes in chunks
    assert _ask(guard, OURS, [b"x" * 4_000_000] * 6) == 400
    assert taken == [10]


@pytest.mark.parametrize("kind", ["application/xml", "text/html", "image/svg+xml", ""])
def test_other_kinds_of_content_are_refused(kind: str):
    guard, taken = _counting()
    assert _ask(guard, {**OURS, "Content-Type": kind, "Content-Length": "3"}, [b"abc"]) == 415
    assert taken == []


def test_what_changes_something_must_say_where_from():
    guard, _ = _counting()
    without = {key: value for key, value in OURS.items() if key != "Origin"}
    assert _ask(guard, {**without, "Content-Length": "3"}, [b"abc"]) == 403
    assert _ask(guard, {**OURS, "Content-Length": "3"}, [b"abc"], method="TRACE") == 405


@pytest.mark.parametrize("left", [True, False])
def test_a_page_left_before_it_is_answered_is_no_fault(left: bool):
    """The page's library raises RuntimeError then; where the asker still waits, it is a fault and stays one."""

    async def inside(scope: Any, receive: Callable[[], Any], send: Callable[[Any], Any]) -> None:
        await receive()
        raise RuntimeError("No response returned.")

    async def receive() -> Any:
        return {"type": "http.disconnect" if left else "http.request"}

    async def send(message: Any) -> None:
        raise AssertionError("nothing is sent")

    scope = {"type": "http", "method": "GET", "path": "/", "headers": [(b"host", b"127.0.0.1:8123")]}
    if left:
        run_alone(Guard(inside, 8123)(scope, receive, send))
    else:
        with pytest.raises(RuntimeError):
            run_alone(Guard(inside, 8123)(scope, receive, send))
