"""A ledger in memory, for tests of what is shown from one."""

from __future__ import annotations

from dataclasses import replace

from curecal.calendars import History
from curecal.errors import StoreMoved


class MemoryLedger:
    """Keeps the history of one job; its generation counts what was put."""

    def __init__(self) -> None:
        self.kept = History("0")

    def history(self, job_id: str) -> History:
        del job_id
        return self.kept

    def put(self, job_id: str, made: History, *, expected: str) -> History:
        del job_id
        if expected != self.kept.generation:
            raise StoreMoved("ledger-moved", path="memory")
        number = str(int(self.kept.generation) + 1)
        self.kept = replace(
            made, generation=number, ledger_id="f00d", raised={}, edited=frozenset()
        )
        return self.kept
