"""A file of trends, CSV or Parquet: its first bytes tell which."""

from collections.abc import Set
from typing import BinaryIO

from app.domain.trends import Trends
from app.exchange.trends_csv import read_named_trends
from app.exchange.trends_parquet import MAGIC, read_parquet_trends


def read_trends_file(source: BinaryIO, known_vital_signs: Set[str]) -> tuple[Trends, list[str]]:
    """(trends, what the file calls the patients); raises Refused."""
    begins = source.read(len(MAGIC))
    source.seek(0)
    if begins == MAGIC:
        return read_parquet_trends(source, known_vital_signs)
    return read_named_trends(source, known_vital_signs)
