"""HTTP as this service reads it: by httptools, whose parser would take a head of any length."""

from typing import Any

from uvicorn.protocols.http.httptools_impl import HttpToolsProtocol

LONGEST_HEAD = 64 * 1024
"""Bytes that may have come while neither a head nor a piece of a body is whole."""


class BoundedHeads(HttpToolsProtocol):
    """What goes on for longer is refused (400) and its connection closed, so that nobody fills the
    memory with it. Each read of the line is judged once, after it was parsed."""

    def __init__(self, *args: Any, **named: Any) -> None:
        super().__init__(*args, **named)
        self._unfinished = 0

    def data_received(self, data: bytes) -> None:
        self._unfinished += len(data)
        super().data_received(data)
        if self._unfinished > LONGEST_HEAD and not self.transport.is_closing():
            self.send_400_response("The head of the request is too long.")

    def on_headers_complete(self) -> None:
        self._unfinished = 0
        super().on_headers_complete()

    def on_body(self, body: bytes) -> None:
        self._unfinished = 0
        super().on_body(body)
