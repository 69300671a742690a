"""How `curecal book` shows what the book holds: a few lines, or machine output."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from curecal.cli.shared.common import PROBLEM, print_lines, print_refused, width_of
from curecal.errors import BookError, JobRefused
from curecal.records import PlainTable

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from sqlalchemy import Connection

    from curecal.book.export_restore.export import Exported
    from curecal.book.jobs.import_job import Added
    from curecal.book.jobs.jobs import JobRevision, Listed
    from curecal.calendars import Revision
    from curecal.words.layout import Line
    from curecal.words.sentences import Words


def say_added(added: Added, now: datetime) -> None:
    """Print what adding a job changed, what still counts, and what the floor may do now."""
    from curecal.words.sentences import plain_words

    words = plain_words()
    code = "unchanged"
    if added.is_changed:
        code = "added" if added.is_new_job else "revised" if added.is_new_revision else "facts"
    name = added.read.job.name if added.read.job else added.job_id
    params = {"name": name, "job_id": added.job_id, "revision": str(added.revision)}
    texts = [words.text(f"book.{code}", params)]
    if added.same_as is not None:
        texts.append(words.text("book.same-as", {"revision": str(added.same_as)}))
    if added.new_entry_count:
        texts.append(words.text("book.entries", {"count": added.new_entry_count}))
    if added.new_series_count:
        texts.append(words.text("book.series", {"count": added.new_series_count}))
    say(texts)
    _say_left(added)
    _say_answers(added, now)
    if added.is_changed:
        say(
            [
                words.text("remind.list.unreached", {"person": name})
                for name in _unreached(added, now)
            ],
            style="warn",
        )


def say_refused(refused: JobRefused, *, as_json: bool) -> int:
    """Print what is wrong with the files of a job, and return how the command ends."""
    from curecal.words.sentences import plain_words

    findings, names = _parts(refused)
    print_refused(findings, names, plain_words(), as_json=as_json, width=None)
    return PROBLEM


def refused_json(refused: JobRefused) -> PlainTable:
    """Return what is wrong with the files of a job as machine output."""
    from curecal.words.json.plan_json import findings_json
    from curecal.words.sentences import plain_words

    findings, names = _parts(refused)
    return {"findings": findings_json(findings, names, plain_words())}


def _parts(refused: JobRefused) -> tuple[Any, Any]:
    return refused.params["findings"], refused.params["names"]


def say_namesakes(job_ids: Sequence[str]) -> None:
    """Print which other jobs have the same name, so that neither is taken for the other."""
    from curecal.words.sentences import plain_words
    from curecal.words.values import clean

    if job_ids:
        params = {"count": len(job_ids), "job_ids": ", ".join(clean(own) for own in job_ids)}
        say([plain_words().text("book.same-name", params)], style="warn")


def _unreached(added: Added, now: datetime) -> list[str]:
    """Return the names of those on the job whom no message reaches."""
    from curecal.reminders.recipients import is_out_of_reach, recipients
    from curecal.words.values import clean

    people = added.read.job.people if added.read.job else ()
    return [clean(person.name) for person in recipients(people, now) if is_out_of_reach(person)]


def _say_left(added: Added) -> None:
    """Print what is no longer in the file and counts all the same, and how to take it back."""
    from curecal.words.layout import bullet

    if not added.left:
        return
    words = words_in(added.read.job.timezone if added.read.job else "UTC")
    say([words.text("book.left", {"count": len(added.left)})], style="warn")
    lines: list[Line] = []
    for orphan in added.left:
        params = {"entry_id": orphan.entry_id, "kind": orphan.kind, "happened": orphan.at}
        lines += bullet(words.text("book.left-entry", params), width_of(None))
        if orphan.like:
            text = words.text("book.left-like", {"entries": ", ".join(orphan.like)})
            lines += bullet(text, width_of(None), indent=4)
    print_lines(lines)
    params = {"job_id": added.job_id, "entry_id": added.left[0].entry_id}
    say([words.text("book.take-back", params)])


def _say_answers(added: Added, now: datetime) -> None:
    """Print what the floor may do now, and the answer before where it was another."""
    if not added.is_changed:
        return
    from curecal.overview.told_plan import told_plan

    plan = told_plan(added.read, now)
    before = None if added.before is None else told_plan(added.before, now).get("answer")
    from curecal.words.sentences import plain_words

    say([str(plan["answer"])], style="good" if plan["may_energize"] else "bad")
    if before not in {None, plan["answer"]}:
        say([plain_words().text("note.before", {"answer": str(before)})], style="dim")


def added_json(added: Added, now: datetime) -> PlainTable:
    """Return what adding a job changed as machine output."""
    from curecal.overview.told_plan import told_plan

    before = None if added.before is None else told_plan(added.before, now).get("answer")
    return {
        "job_id": added.job_id,
        "changed": added.is_changed,
        "new_job": added.is_new_job,
        "new_revision": added.is_new_revision,
        "revision": added.revision,
        "same_as": added.same_as,
        "new_entries": added.new_entry_count,
        "new_readings": added.new_series_count,
        "left": [
            {
                "id": orphan.entry_id,
                "kind": orphan.kind,
                "at": orphan.at,
                "like": list(orphan.like),
            }
            for orphan in added.left
        ],
        "unreached": _unreached(added, now),
        "answer": told_plan(added.read, now).get("answer"),
        "answer_before": before,
    }


def exported_texts(made: Exported, job_id: str) -> list[str]:
    """Return where a job was written to, and the command that plans it from there."""
    import shlex

    from curecal.words.sentences import plain_words

    words = plain_words()
    laid = made.laid
    command = ["curecal", "plan", str(laid.job)]
    if laid.logs:
        command += [] if laid.company is None else ["--company", str(laid.company)]
        command += [part for path in laid.logs for part in ("--log", str(path))]
    texts = [
        words.text("book.exported", {"job_id": job_id, "path": str(made.folder)}),
        words.text("book.exported-plan", {"command": shlex.join(command)}),
    ]
    if laid.logs:
        texts.append(words.text("book.exported-apart"))
    return texts


def listed_of(connection: Connection, job_id: str) -> Listed:
    """Return a job of the book as a list shows it."""
    from curecal.book.jobs.jobs import list_jobs

    for listed in list_jobs(connection):
        if listed.job_id == job_id:
            return listed
    raise BookError("book-job-unknown", job_id=job_id)


def words_in(timezone: str, now: datetime | None = None) -> Words:
    """Return words that show instants in a zone's own time, near now without their year."""
    from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

    from curecal.instants import local_day
    from curecal.words.catalogue import DEFAULT_LANGUAGE, catalogue
    from curecal.words.sentences import Words
    from curecal.words.values import Reader

    try:
        zone = ZoneInfo(timezone)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        # Read with the job it was a zone; somebody wrote into the book since.
        raise BookError("book-zone-unknown", timezone=timezone) from None
    today = None if now is None else local_day(now, zone)
    return Words(catalogue(DEFAULT_LANGUAGE), Reader(tz=zone, today=today))


def say_job(listed: Listed) -> None:
    """Print what the book holds of a job, in short."""
    from curecal.words.values import clean

    words = words_in(listed.timezone)
    say([f"{clean(listed.job_id)}: {clean(listed.name)}"], style="head")
    params = {"count": listed.revision_count, "recorded_at": listed.recorded_at}
    texts = [
        words.text("book.revisions", params) if listed.revision_count else words.text("book.bare"),
        words.text("book.log", {"count": listed.entry_count}),
    ]
    if listed.hold:
        texts.append(words.text("book.hold", {"reason": listed.hold}))
    say(texts, indent=2)


def say(texts: Sequence[str], *, style: str = "", indent: int = 0) -> None:
    """Print texts, each a paragraph of its own."""
    from curecal.words.layout import paragraph

    lines: list[Line] = []
    for text in texts:
        lines += paragraph(text, width_of(None), style=style, indent=indent)
    print_lines(lines)


def listed_json(listed: Listed) -> PlainTable:
    """Return a listed job as machine output."""
    return {
        "job_id": listed.job_id,
        "job": listed.name,
        "timezone": listed.timezone,
        "generation": listed.generation,
        "revisions": listed.revision_count,
        "entries": listed.entry_count,
        "recorded_at": listed.recorded_at,
        "hold": listed.hold or None,
    }


def revision_json(revision: JobRevision) -> PlainTable:
    """Return a revision of a job as machine output."""
    return {
        "revision": revision.number,
        "recorded_at": revision.recorded_at,
        "job_sha256": revision.job_sha256,
        "company_sha256": revision.company_sha256,
        "materials_sha256": revision.materials_sha256,
        "told": revision.told,
    }


def published_json(revision: Revision) -> PlainTable:
    """Return a published calendar entry as machine output."""
    return {
        "uid": revision.uid,
        "audience": revision.audience.value,
        "sequence": revision.sequence,
        "changed_at": revision.changed_at,
        "cancelled": revision.cancelled,
        "summary": revision.summary,
    }
