"""A bar for what takes longer than a second, on a terminal only."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from click._termui_impl import ProgressBar

Progress = Callable[[int, int], None]
"""Told how much of how much is done."""

# Whoever waits for less needs no bar.
_WORTH_SAYING_S = 1.0


@contextmanager
def progress(what: str, **params: str) -> Iterator[Progress | None]:
    """Give what shows how far something is, on the error output; None where nobody looks.

    The bar appears after a second, and not for what is done by then.
    """
    if not sys.stderr.isatty():
        yield None
        return
    from curecal.words.sentences import plain_words

    label = plain_words().text(f"progress.{what}", params)
    begun_s = time.monotonic()
    bars: list[ProgressBar[int]] = []

    def show(done: int, count: int) -> None:
        if not bars:
            if time.monotonic() - begun_s < _WORTH_SAYING_S or done >= count:
                return
            bars.append(click.progressbar(length=count, label=label, file=sys.stderr))
        bar = bars[0]
        # What lies ahead may grow while it is done.
        bar.length = max(count, 1)
        bar.update(max(0, min(done, count) - bar.pos))

    try:
        yield show
        for bar in bars:
            bar.update((bar.length or 0) - bar.pos)
    finally:
        for bar in bars:
            bar.render_finish()
