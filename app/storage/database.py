"""Hands out transactions; nobody else begins, commits or rolls back."""

from collections.abc import Iterator
from contextlib import contextmanager

from sqlmodel import Session

from app.domain.errors import MarchstoneError
from app.storage.engine import for_reading, for_writing, make_engine
from app.storage.troubles import commit_told_plainly, told_plainly

_KEEP = "keep even if refused"


class Database:
    def __init__(self, url: str) -> None:
        self.engine = make_engine(url)
        self._readers, self._writers = for_reading(self.engine), for_writing(self.engine)
        self.commits = 0
        """Of this process: whoever keeps an answer knows by it that something changed."""

    @contextmanager
    def reading(self) -> Iterator[Session]:
        with told_plainly(), Session(self._readers, autoflush=False) as tx:
            yield tx

    @contextmanager
    def writing(self) -> Iterator[Session]:
        """Commits at the exit; any exception undoes everything, but see `keep_even_if_refused`."""
        with told_plainly(), Session(self._writers) as tx:
            try:
                yield tx
            except MarchstoneError:
                if tx.info.get(_KEEP):
                    _commit(tx)
                raise
            _commit(tx)
            self.commits += 1

    def dispose(self) -> None:
        self.engine.dispose()


def _commit(tx: Session) -> None:
    tx.flush()  # what is refused here was certainly not stored
    with commit_told_plainly():
        tx.commit()


def keep_even_if_refused(tx: Session) -> None:
    """What was written so far is saved although the caller is about to be refused.

    For a failed sign-in: a count that the refusal itself undoes would never slow anybody down.
    """
    tx.info[_KEEP] = True
