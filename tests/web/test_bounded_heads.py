"""A request that never ends its head may not fill the memory; all others are read as they come."""

import socket
import threading
import time
from collections.abc import Iterator

import pytest
import uvicorn
from fastapi import FastAPI, Request

from app.main import _config
from app.web.bounded_heads import LONGEST_HEAD

PATIENCE_S = 30
LINES = 40 * LONGEST_HEAD // 1024


@pytest.fixture(scope="module")
def port() -> Iterator[int]:
    app = FastAPI()

    @app.post("/length")
    async def length(request: Request) -> int:
        return len(await request.body())

    with socket.create_server(("127.0.0.1", 0)) as listening:
        server = uvicorn.Server(_config(app))
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]})
        thread.start()
        while not server.started:
            time.sleep(0.01)
        yield listening.getsockname()[1]
        server.should_exit = True
        thread.join(PATIENCE_S)


def told(port: int, *pieces: bytes) -> bytes:
    """All that comes back until the service closes, which may be before all is sent."""
    with socket.create_connection(("127.0.0.1", port), timeout=PATIENCE_S) as line:
        try:
            for piece in pieces:
                line.sendall(piece)
        except OSError:
            pass  # closed meanwhile, as it should be
        back = b""
        try:
            while more := line.recv(65_536):
                back += more
        except ConnectionError:
            pass
        return back


def refused(answer: bytes) -> bool:
    """A reset line may swallow the words, never tell a success."""
    return answer == b"" or answer.startswith(b"HTTP/1.1 400 ")


def start(more: bytes = b"") -> bytes:
    return b"POST /length HTTP/1.1\r\nhost: here\r\nconnection: close\r\n" + more


@pytest.mark.parametrize(
    ("begun", "again"),
    [
        pytest.param(b"GET /", b"a" * 1024, id="address"),
        pytest.param(start(b"x-one: "), b"a" * 1024, id="one header"),
        pytest.param(start(), b"x: " + b"a" * 1019 + b"\r\n", id="many headers"),
        pytest.param(
            start(b"transfer-encoding: chunked\r\n\r\n1;"), b"a" * 1024, id="a chunk's extension"
        ),
    ],
)
def test_what_never_ends_is_refused_and_closed(port: int, begun: bytes, again: bytes) -> None:
    assert refused(told(port, begun, *[again] * LINES))


def test_the_refusal_is_told(port: int) -> None:
    answer = told(port, start(b"x-one: "), b"a" * (LONGEST_HEAD - 100), b"a" * 200)

    assert answer.startswith(b"HTTP/1.1 400 ")
    assert answer.endswith(b"The head of the request is too long.")


def test_a_long_head_that_ends_is_read(port: int) -> None:
    header = b"x-one: " + b"a" * (LONGEST_HEAD - 1000) + b"\r\n"

    answer = told(port, start(header + b"content-length: 2\r\n\r\n"), b"{}")

    assert answer.startswith(b"HTTP/1.1 200 ")
    assert answer.endswith(b"\r\n\r\n2")


def test_a_body_longer_than_any_head_is_read_in_pieces(port: int) -> None:
    length = 8 * LONGEST_HEAD
    answer = told(
        port,
        start(b"content-length: %d\r\n\r\n" % length),
        *[b"a" * (length // 16)] * 16,
    )

    assert answer.startswith(b"HTTP/1.1 200 ")
    assert answer.endswith(b"\r\n\r\n%d" % length)


def test_many_requests_on_one_line_are_not_added_up(port: int) -> None:
    one = (
        b"POST /length HTTP/1.1\r\nhost: here\r\nx-one: "
        + b"a" * (LONGEST_HEAD // 2)
        + b"\r\ncontent-length: 2\r\n\r\n{}"
    )
    with socket.create_connection(("127.0.0.1", port), timeout=PATIENCE_S) as line:
        for _ in range(4):
            line.sendall(one)
            back = b""
            while not back.endswith(b"\r\n\r\n2"):
                more = line.recv(65_536)
                assert more
                back += more
            assert back.startswith(b"HTTP/1.1 200 ")


def test_no_request_at_all_is_refused(port: int) -> None:
    assert told(port, b"\x16\x03\x01 hello\r\n\r\n").startswith(b"HTTP/1.1 400 ")
