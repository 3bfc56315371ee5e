"""A day as the people of an agency live it."""

from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo


def local_day(at: datetime, zone: str) -> date:
    """`zone` is an IANA name."""
    return at.astimezone(ZoneInfo(zone)).date()


def next_day(at: datetime, zone: str) -> datetime:
    """When the next day begins there."""
    return datetime.combine(local_day(at, zone) + timedelta(days=1), time(), ZoneInfo(zone))


def day_words(day: date) -> str:
    """1 Mar 2026."""
    return f"{day.day} {day:%b %Y}"


def years_later(day: date, years: int) -> date:
    """The same day of a later year; 29 February falls back to the 28th."""
    try:
        return day.replace(year=day.year + years)
    except ValueError:
        return day.replace(year=day.year + years, day=28)
