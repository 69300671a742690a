"""Publishing: first into the ledger, then into its outputs."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime

from curecal.calendars.event import Feed
from curecal.calendars.ical.ical_writer import drafts
from curecal.calendars.revision import History, Ledger, LogMark
from curecal.calendars.revisions.log_marks import log_marks
from curecal.calendars.revisions.lost_ledger import after_loss
from curecal.calendars.revisions.outputs import (
    Output,
    ShownCalendar,
    refuse_foreign,
    refuse_without_entries,
)
from curecal.calendars.revisions.revise import Goes, Revised, RevisionChange, revise
from curecal.errors import ErrorCode, SourceError, StoreMoved
from curecal.trade.site_log import Entry

# Two that write at once are through at the second try; more lost tries are no accident.
_TRIES = 5


def issue(
    feeds: Sequence[Feed],
    ledger: Ledger,
    *,
    now: datetime,
    goes: Goes,
    log: Iterable[Entry] = (),
    outputs: Sequence[Output] = (),
    anyway: bool = False,
    still_holds: Callable[[], bool] = lambda: True,
) -> Revised:
    """Bring what is published of a job to what its feeds say.

    Args:
        feeds: All feeds of one job.
        ledger: Where it is kept what was published.
        now: The instant of publishing.
        goes: How what the feeds no longer have goes.
        log: The log that the feeds were made from.
        outputs: Where people see it.
        anyway: Whether a person wants it published although entries are missing, or the ledger
            is not the one that the outputs were written from.
        still_holds: Whether the feeds are still those of the job: asked once it is known what is
            published, so that nothing published since is overwritten by what is older.

    Returns:
        What was published, and what became of each event.

    Raises:
        StoreMoved: somebody else kept publishing the same job between every two looks.
        SourceError: as of `refuse_foreign` and `refuse_without_entries`, or the feeds do not hold
            any more (`calendar-job-changed`); nothing was changed.
        CurecalError: as of the ledger, the outputs and `revise`.
    """
    job_id = feeds[0].job_id
    wanted = [draft for feed in feeds for draft in drafts(feed)]
    rests_on = log_marks(log)
    revised: Revised | None = None
    moved: StoreMoved | None = None
    kept = History("")
    for left in reversed(range(_TRIES + 1)):
        history, shown = _look(job_id, ledger, outputs)
        # Who has published since shows what holds now, this one's news included.
        if revised and history.revisions != kept.revisions:
            return revised
        if moved and not left:
            raise moved
        if revised is None and not still_holds():
            raise SourceError(ErrorCode.CALENDAR_JOB_CHANGED, job_id=job_id)
        basis = _basis(history, shown, rests_on, anyway=anyway)
        made = revise(wanted, basis, now, goes=goes)
        try:
            kept = ledger.put(job_id, _after(basis, made, rests_on), expected=history.generation)
            revised = _with_news_of(revised, made)
            for output in outputs:
                output.show(job_id, revised, kept)
        except StoreMoved as error:
            moved = error
        else:
            return revised
    raise AssertionError


def _with_news_of(before: Revised | None, made: Revised) -> Revised:
    """Return what was published, and what became of each event since before the first try."""
    told = before.changes if before else {}
    news = {uid: one for uid, one in made.changes.items() if one is not RevisionChange.UNCHANGED}
    return replace(made, changes={**made.changes, **told, **news})


def _basis(
    history: History,
    shown: Sequence[ShownCalendar],
    rests_on: Mapping[str, LogMark],
    *,
    anyway: bool,
) -> History:
    """Return what to go on from: what the ledger knows, or what is left without the right one."""
    try:
        refuse_without_entries(history, rests_on)
    except SourceError:
        if not anyway:
            raise
    is_lost = history.is_lost
    try:
        refuse_foreign(history, shown)
    except SourceError:
        if not anyway:
            raise
        is_lost = True
    if is_lost:
        return after_loss(history, [left for one in shown for left in one.salvaged()])
    edited = frozenset(uid for one in shown for uid in one.edited)
    return replace(history, raised=_raised(shown), edited=edited)


def _look(
    job_id: str, ledger: Ledger, outputs: Sequence[Output]
) -> tuple[History, list[ShownCalendar]]:
    """Return what the ledger knows and what the outputs show, as they stood together."""
    history = ledger.history(job_id)
    while True:
        shown = [one for output in outputs for one in output.look(job_id, history.revisions)]
        # Outputs that somebody wrote between the two looks would seem those of another ledger.
        after = ledger.history(job_id)
        if after.generation == history.generation:
            return history, shown
        history = after


def _raised(shown: Iterable[ShownCalendar]) -> dict[str, int]:
    """The highest SEQUENCE that stands of each event in an output."""
    found: dict[str, int] = {}
    for one in shown:
        for uid, sequence in one.stands.items():
            found[uid] = max(sequence, found.get(uid, 0))
    return found


def _after(history: History, revised: Revised, rests_on: Mapping[str, LogMark]) -> History:
    """Return what the ledger is to keep: an event not counted past a loss is no surer for it."""
    revisions = {one.uid: one for one in revised.revisions}
    suspect = {
        uid
        for uid in history.suspect
        if uid in revisions and revisions[uid].sequence < history.first
    }
    return replace(
        history, revisions=revisions, suspect=frozenset(suspect), rests_on=dict(rests_on)
    )
