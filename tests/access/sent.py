"""What a change must bring along to come as far as the question whether it is allowed.

Bodies of the API come from its own description; what stands here goes to pages, and to routes
that take a file.
"""

from typing import Any

from fastapi import FastAPI

KEY = {"Idempotency-Key": "walked by the table of roles"}
CSV = {"content": b"device,read_at\n", "headers": {"Content-Type": "text/csv"}}
STEP = {"data": {"to": "contained"}}
SENT: dict[tuple[str, str], dict[str, Any]] = {
    ("POST", "/{agency}/findings/{number}"): STEP,
    ("POST", "/{agency}/devices/{tag}/findings"): STEP,
    ("POST", "/{agency}/devices/{tag}/quarantine/custody"): {"data": {"at": "2026-03-01T08:00"}},
    ("POST", "/{agency}/policy/upload"): {"files": {"profile": ("ours.json", b"{}")}},
    ("POST", "/{agency}/policy/{number}/wall/{category}/{alarm}"): {
        "data": {"steps": "1", "edit_version": "1"}
    },
    ("POST", "/api/v1/{agency}/readings"): CSV,
    ("POST", "/api/v1/{agency}/recordings"): {**CSV, "params": {"name": "x", "category": "child"}},
}


def sent_to(app: FastAPI, method: str, path: str) -> dict[str, Any]:
    """As keywords of a request."""
    if (method, path) in SENT:
        return SENT[method, path]
    if not path.startswith("/api/"):
        return {}
    params = {"category": "child"} if path.endswith("/evidence") else {}
    example = None if method == "GET" else _example(app.openapi(), path, method)
    return {"json": example, "params": params, "headers": KEY} if example else {"params": params}


def _example(described: dict[str, Any], path: str, method: str) -> Any:
    way = described["paths"][path][method.lower()]
    body = way.get("requestBody", {}).get("content", {}).get("application/json")
    if body is None:
        return None
    named = body["schema"].get("$ref", "").rpartition("/")[2]
    return described["components"]["schemas"][named]["example"] if named else body.get("example")
