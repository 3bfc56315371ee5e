"""A file of trends, CSV or Parquet: its first bytes tell which."""

from collections.abc import Set
from typing import BinaryIO

from app.domain.measurable import check_measurable
from app.domain.trends import Trends
from app.exchange.trend_columns import Sizes
from app.exchange.trends_csv import read_named_trends
from app.exchange.trends_parquet import MAGIC, read_parquet_trends


def read_trends_file(
    source: BinaryIO, known_vital_signs: Set[str], check_size: Sizes = lambda _rows, _signs: None
) -> tuple[Trends, list[str]]:
    """(trends, what the file calls the patients); raises Refused."""
    begins = source.read(len(MAGIC))
    source.seek(0)
    read = read_parquet_trends if begins == MAGIC else read_named_trends
    trends, names = read(source, known_vital_signs, check_size)
    check_measurable(trends)
    return trends, names
