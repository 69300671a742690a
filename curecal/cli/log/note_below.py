"""Layers under a finished one that nobody noted: when they were finished is asked with it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from curecal.cli.log.note_checks import check_not_ahead
from curecal.cli.log.note_writing import EntryRefusedError, Target, write
from curecal.cli.shared.common import instant_asked
from curecal.errors import UsageError
from curecal.job_files.entry_refusals import laid_before, untold_finish
from curecal.trade.names import comparable_name

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime, tzinfo

    from curecal.job_files import ReadJob
    from curecal.job_files.entry_refusals import UntoldFinish
    from curecal.site_log_files.append import Appended, NewEntry
    from curecal.words.sentences import Words

_NOBODY_KNOWS = frozenset({"", "?", "unknown", "don't know", "i don't know"})


class FinishesBelow:
    """When layers below were finished: as options say it, else as somebody at a terminal does."""

    def __init__(self, said: Sequence[str], words: Words, *, sure: bool, may_ask: bool) -> None:
        self.words = words
        self.sure = sure
        self.may_ask = may_ask
        self._said: dict[str, str] = {}
        for pair in said:
            name, equals, when = pair.partition("=")
            if not equals or not name.strip() or comparable_name(name) in self._said:
                raise UsageError("below-unreadable", text=pair[:60])
            self._said[comparable_name(name)] = when.strip()
        self._asked: set[str] = set()
        self._unused = set(self._said)

    def entry(self, untold: UntoldFinish, told: NewEntry) -> NewEntry | None:
        """Return the entry of a layer that is not noted as done; None where nobody can say.

        Args:
            untold: The layer, and when the one on top of it was finished.
            told: The entry that brought the question up.

        Returns:
            The entry; where nobody knows, finished with the layer on top, which is the last it can
            have been.
        """
        if untold.layer_id in self._asked:
            return None
        self._asked.add(untold.layer_id)
        when = self._when(untold, may_ask=untold.is_all and self.may_ask)
        if when is None:
            return None
        from dataclasses import replace

        tz = self.words.reader.site_tz
        is_known = comparable_name(when) not in _NOBODY_KNOWS
        values: dict[str, object] = {"layer": untold.layer_id}
        if not is_known or self.sure:
            values["sure"] = True
        lower = replace(told, values=values, zone=untold.finding.zone_id, note=None)
        if is_known:
            at = _instant(when, untold.done_at, tz)
            check_not_ahead(at, told.recorded, tz)
            return replace(lower, at=at.astimezone(tz))
        note = self.words.text("note.finish-unknown", {"layer": untold.finding.params["layer"]})
        return replace(lower, at=untold.done_at.astimezone(tz), note=note)

    def check_all_used(self) -> None:
        """Refuse an option that answers nothing that was asked.

        Raises:
            UsageError: No layer of that name is under the finished one and not yet noted.
        """
        if self._unused:
            raise UsageError("below-not-asked", layer=min(self._unused)[:60])

    def _when(self, untold: UntoldFinish, *, may_ask: bool) -> str | None:
        under = untold.under
        for name in (comparable_name(under), comparable_name(untold.layer_id)):
            if name in self._said:
                self._unused.discard(name)
                return self._said[name]
        from curecal.cli.readings.ask_readings import on_terminal

        if not (may_ask and on_terminal()):
            return None
        question = self.words.text("note.ask-below", {"under": under})
        asked = click.prompt(
            question, default="", show_default=False, value_proc=self._readable, err=True
        )
        return str(asked)

    def _readable(self, text: str) -> str:
        from curecal.instants import Toward

        if comparable_name(text) not in _NOBODY_KNOWS:
            try:
                instant_asked(text, self.words.reader.site_tz, Toward.PAST)
            except UsageError as error:
                raise click.UsageError(self.words.error(error)) from None
        return text


def _instant(when: str, done_at: datetime, tz: tzinfo) -> datetime:
    """Return an instant as typed; a day alone ends at the latest with the layer on top."""
    from curecal.instants import Toward, end_of_day, local_day

    at = instant_asked(when, tz, Toward.PAST)
    return done_at if at == end_of_day(local_day(done_at, tz), tz) else at


def write_with_below(
    target: Target, entry: NewEntry, before: ReadJob, below: FinishesBelow
) -> tuple[Appended, ...]:
    """Write an entry, and with a finish those of the layers below that nobody had noted.

    Args:
        target: Where they go.
        entry: The entry.
        before: The job as it was read without it.
        below: Who says when the layers below were finished.

    Returns:
        What was written, from the bottom up; the entry itself is the last.

    Raises:
        EntryRefusedError: An entry is not understood, or nobody says when a layer was finished.
    """
    lower: list[NewEntry] = []
    while True:
        try:
            return write(target, [*lower, entry], before, at_last=below.check_all_used)
        except EntryRefusedError as error:
            impossible = laid_before(error.findings)
            if impossible:
                raise EntryRefusedError(impossible, error.names) from None
            untold = untold_finish(error.findings)
            answer = None if untold is None else below.entry(untold, entry)
            if answer is None:
                raise
            # As the floor was built; of one instant, what was asked for last lies lowest.
            lower = sorted([answer, *lower], key=lambda told: told.at)
