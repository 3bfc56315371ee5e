"""`marchstone schema`: the JSON schema of a file or a result."""

from argparse import Namespace
from typing import Any

from pydantic import BaseModel

from app.cli.output import FINE, print_json
from app.exchange.band_shapes import BandsShape
from app.exchange.profile_schema import ProfileFile
from app.exchange.report_schema import ReportRow
from app.exchange.result_json import AuditShape, CheckShape, ReplayShape


def run(arguments: Namespace) -> int:
    print_json(_schema(arguments.name))
    return FINE


def _schema(name: str) -> dict[str, Any]:
    shapes: dict[str, type[BaseModel]] = {
        "profile": ProfileFile,
        "report": ReportRow,
        "check": CheckShape,
        "audit": AuditShape,
        "replay": ReplayShape,
        "bands": BandsShape,
    }
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **shapes[name].model_json_schema(by_alias=True),
    }
