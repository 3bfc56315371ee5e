"""Is this installation fit to work? What was observed, judged in plain words with advice."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

MIB = 2**20
LEAST_FREE = 200 * MIB
"""Bytes below which a service is about to stop; this and the next are our own choice."""
SPARE_COPIES = 3
"""An upgrade and a backup each write the data once more, and the data grow."""
CLOCK_SLACK = timedelta(seconds=5)
WAITS_AT_MOST = timedelta(minutes=15)
BACKUP_AGES_AFTER = timedelta(days=2)
_LOCAL = frozenset({"127.0.0.1", "::1", "localhost"})


class Verdict(StrEnum):
    FINE = "fine"
    LOOK = "look"
    WRONG = "wrong"


@dataclass(frozen=True)
class Check:
    name: str
    verdict: Verdict
    says: str
    advice: str = ""


@dataclass(frozen=True)
class Observed:
    """`damage`, `unwritable`: why, "" if not. `schema`: found and the newest known. `server_now`:
    the clock of the database, None where it has none of its own. `broken`: what does not hold.
    `waiting_since`: of the long work that waits longest. `leaks_unusable`: why the list of leaked
    passwords is, "" if not."""

    now: datetime
    host: str
    https: bool
    secure_cookies: bool
    unwritable: str
    damage: str
    schema: tuple[str, str]
    database_bytes: int
    free_bytes: int
    server_now: datetime | None
    last_entry_at: datetime | None
    entries: int
    broken: tuple[str, ...]
    last_backup_at: datetime | None
    waiting_since: datetime | None = None
    leaks_unusable: str = ""


def selftest(seen: Observed) -> tuple[Check, ...]:
    return tuple(
        next(iter(found), Check(name, Verdict.FINE, fine))
        for name, fine, found in (
            ("settings", "They fit together.", _settings(seen)),
            ("database", "It answers, takes changes and is whole.", _database(seen)),
            ("migrations", f"Schema {seen.schema[0]}, the newest.", _migrations(seen)),
            ("disk", f"{_size(seen.free_bytes)} are free.", _disk(seen)),
            ("clock", "It agrees with what was written last.", _clock(seen)),
            ("ledger", f"{seen.entries} entries hold.", _ledger(seen)),
            ("backup", "The last one is recent.", _backup(seen)),
            ("work", "No long work waits for long.", _work(seen)),
        )
    )


def _settings(seen: Observed) -> Iterator[Check]:
    if seen.leaks_unusable:
        yield Check(
            "settings",
            Verdict.WRONG,
            f"The list of leaked passwords will not do: {seen.leaks_unusable}.",
            "Set MARCHSTONE_LEAKED_PASSWORDS to a list of SHA-1 hashes ordered by hash, or leave "
            "it empty: until then the service does not start, and nobody sets a password.",
        )
    if seen.host not in _LOCAL and not seen.https:
        yield Check(
            "settings",
            Verdict.WRONG,
            f"It listens on {seen.host}, and passwords would cross the network readable.",
            "Put it behind a proxy with HTTPS, listen on 127.0.0.1, and set MARCHSTONE_PUBLIC_URL.",
        )
    if seen.https and not seen.secure_cookies:
        yield Check(
            "settings",
            Verdict.WRONG,
            "People use HTTPS, but the session cookie may travel without it.",
            "Leave MARCHSTONE_SECURE_COOKIES empty.",
        )
    if not seen.https:
        yield Check(
            "settings",
            Verdict.LOOK,
            "No public address with https:// is set.",
            "That is fine on this machine alone. Phones keep the limits for use without signal "
            "only over HTTPS.",
        )


def _database(seen: Observed) -> Iterator[Check]:
    if seen.damage:
        yield Check(
            "database",
            Verdict.WRONG,
            f"It is damaged: {seen.damage}.",
            "Stop the service, keep the file as it is, and restore the last backup beside it.",
        )
    if seen.unwritable:
        yield Check(
            "database",
            Verdict.WRONG,
            f"It takes no change: {seen.unwritable}.",
            "Look for a full disk, missing rights on the folder, or another program that holds it.",
        )


def _migrations(seen: Observed) -> Iterator[Check]:
    found, newest = seen.schema
    if not found:
        advice = "The first start of the service makes it."
        yield Check("migrations", Verdict.LOOK, "There is no schema yet.", advice)
    elif found != newest:
        advice = "The next start brings it up to date. Make a backup first."
        yield Check(
            "migrations", Verdict.LOOK, f"Schema {found}, this program knows {newest}.", advice
        )


def _disk(seen: Observed) -> Iterator[Check]:
    free = f"{_size(seen.free_bytes)} are free, the data take {_size(seen.database_bytes)}."
    if seen.free_bytes < LEAST_FREE:
        yield Check("disk", Verdict.WRONG, free, "Make room now: without it nothing can be stored.")
    elif seen.free_bytes < SPARE_COPIES * seen.database_bytes:
        advice = "Make room: a backup and an upgrade each write the data once more."
        yield Check("disk", Verdict.LOOK, free, advice)


def _clock(seen: Observed) -> Iterator[Check]:
    advice = "Set the clock and keep it by NTP: every signature and reading carries its time."
    if seen.last_entry_at is not None and seen.now < seen.last_entry_at - CLOCK_SLACK:
        behind = seen.last_entry_at - seen.now
        says = f"It is {_duration(behind)} behind the last entry of the ledger."
        yield Check("clock", Verdict.WRONG, says, advice)
    if seen.server_now is not None and abs(seen.now - seen.server_now) > CLOCK_SLACK:
        apart = _duration(abs(seen.now - seen.server_now))
        says = f"This machine and the database server are {apart} apart."
        yield Check("clock", Verdict.WRONG, says, advice)


def _ledger(seen: Observed) -> Iterator[Check]:
    if seen.broken:
        yield Check(
            "ledger",
            Verdict.WRONG,
            "; ".join(seen.broken),
            "Somebody changed the record past the program. Keep this database as evidence, look "
            "for who could, and compare with the last backup: marchstone prove says more.",
        )


def _backup(seen: Observed) -> Iterator[Check]:
    advice = "Run marchstone backup every night, and carry the file to another machine."
    if seen.last_backup_at is None:
        yield Check("backup", Verdict.LOOK, "None was ever made.", advice)
    elif seen.now - seen.last_backup_at > BACKUP_AGES_AFTER:
        age = _duration(seen.now - seen.last_backup_at)
        yield Check("backup", Verdict.LOOK, f"The last one is {age} old.", advice)


def _work(seen: Observed) -> Iterator[Check]:
    if seen.waiting_since is not None and seen.now - seen.waiting_since > WAITS_AT_MOST:
        waits = _duration(seen.now - seen.waiting_since)
        advice = "Is a process for it running? See MARCHSTONE_WORKERS and marchstone work."
        yield Check("work", Verdict.LOOK, f"Some has waited for {waits}.", advice)


def _size(count: int) -> str:
    return f"{count / 2**30:.1f} GiB" if count >= 2**30 else f"{count / MIB:.1f} MiB"


def _duration(time: timedelta) -> str:
    seconds = int(time.total_seconds())
    for unit, size in (("days", 86400), ("hours", 3600), ("minutes", 60)):
        if seconds >= 2 * size:
            return f"{seconds // size} {unit}"
    return f"{seconds} s"
