"""The append-only, hash-chained record of every change, and its proof."""

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass

GENESIS = "0" * 64


@dataclass(frozen=True)
class Entry:
    """`body` is the RFC 8785 text of what was done, by whom, when, in which agency."""

    seq: int
    body: str
    prev: str
    hash: str


@dataclass(frozen=True)
class Proof:
    """`head` is the last hash that holds; `broken_at` the first entry that does not."""

    holds: bool
    entries: int
    head: str
    broken_at: int | None = None
    why: str | None = None


def entry_hash(prev: str, body: str) -> str:
    """SHA-256, in hex, of `prev` in ASCII, a line feed, and the body in UTF-8."""
    return hashlib.sha256(f"{prev}\n{body}".encode()).hexdigest()


def prove(entries: Iterable[Entry], head: str | None = None) -> Proof:
    """Names the first altered, removed or reordered entry; with a head kept outside, a cut tail."""
    last, count, head_seen = GENESIS, 0, head in (None, GENESIS)
    for entry in entries:
        wrong = _wrong(entry, last, count + 1)
        if wrong is not None:
            return Proof(holds=False, entries=count, head=last, broken_at=count + 1, why=wrong)
        last, count = entry.hash, count + 1
        head_seen = head_seen or last == head
    if not head_seen:
        why = f"the chain ends at {last}, and the head kept outside, {head}, is not in it"
        return Proof(holds=False, entries=count, head=last, broken_at=count + 1, why=why)
    added = None if head in (None, last) else "entries were added since the head was written down"
    return Proof(holds=True, entries=count, head=last, why=added)


def _wrong(entry: Entry, last: str, expected: int) -> str | None:
    if entry.seq != expected:
        return f"entry {expected} is missing or stands in another place"
    if entry.prev != last:
        return f"entry {expected} does not follow the one before it"
    if entry_hash(entry.prev, entry.body) != entry.hash:
        return f"entry {expected} was altered"
    return None
