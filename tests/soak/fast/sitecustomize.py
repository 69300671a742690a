"""A clock that runs fast: Python loads this first in a process that has its folder on the path.

`SOAK_CLOCK` names the file that `fast_clock.py` writes. The clock of the wall and the time since
the machine started run by it, together. Waiting, time limits and all that a line or a disk takes
stay in real seconds: they do not hurry. Leases are about such things and have a clock of their own.
"""

from __future__ import annotations

import datetime as dt
import importlib.abc
import importlib.util
import os
import sys
import time
from pathlib import Path

if file := os.environ.get("SOAK_CLOCK"):
    sys.path.insert(0, str(Path(__file__).parents[1]))
    from fast_clock import FastClock

    CLOCK = FastClock(Path(file))
    REAL = dt.datetime
    MACHINE = time.clock_gettime

    class Kind(type):
        """What is a date and time is one of ours: ours makes none of its own."""

        def __instancecheck__(cls, made: object) -> bool:
            return isinstance(made, REAL)

        def __subclasscheck__(cls, other: type) -> bool:
            return issubclass(other, REAL)

    class Fast(REAL, metaclass=Kind):
        """The standard one, with another now."""

        __slots__ = ()

        def __new__(cls, *parts: object, **named: object) -> REAL:  # type: ignore[misc]
            return REAL.__new__(REAL, *parts, **named)  # type: ignore[call-overload]

        @classmethod
        def now(cls, tz: dt.tzinfo | None = None) -> REAL:  # type: ignore[override]
            return REAL.fromtimestamp(CLOCK.wall_s(), tz)

    def clock_gettime(which: int) -> float:
        """Return the time of one of the machine's clocks."""
        return CLOCK.boot_s() if which == time.CLOCK_BOOTTIME else MACHINE(which)

    dt.datetime = Fast  # type: ignore[misc]
    time.clock_gettime = clock_gettime

    class Leases(importlib.abc.MetaPathFinder):
        """Gives books, once they are loaded, a clock of leases that knows how long a line takes."""

        name = "curecal.book.connection.open_book"

        def find_spec(self, name: str, *_how: object) -> object:
            if name != self.name:
                return None
            sys.meta_path.remove(self)
            spec = importlib.util.find_spec(name)
            load = spec.loader.exec_module

            def loaded(module: object) -> None:
                load(module)
                module.Book.lease_now = lambda _book, _connection: module.LeaseNow(
                    "soak", CLOCK.lease_s()
                )

            spec.loader.exec_module = loaded
            return spec

    sys.meta_path.insert(0, Leases())
