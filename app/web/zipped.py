"""Pages that phones fetch over a weak line are packed where the browser takes it.

Only for pages that hold no secret beside what somebody typed: packing would let a listener guess
it.
"""

import gzip

from fastapi import Request
from fastapi.responses import Response


def zipped(request: Request, response: Response) -> Response:
    if "gzip" not in request.headers.get("accept-encoding", ""):
        return response
    response.body = gzip.compress(bytes(response.body), mtime=0)
    response.headers["Content-Length"] = str(len(response.body))
    response.headers["Content-Encoding"] = "gzip"
    response.headers.add_vary_header("Accept-Encoding")
    return response
