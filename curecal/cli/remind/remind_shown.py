"""How `curecal remind` shows what is wanted, what became of it, and a simulation."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from curecal.cli.shared.common import print_json, width_of
from curecal.records import PlainTable, PlainView

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from datetime import datetime

    from sqlalchemy import Connection

    from curecal.book.connection.open_book import Book
    from curecal.book.jobs.jobs import Listed
    from curecal.book.outbox.outbox_rows import OutboxRow, Wanted
    from curecal.reminders.reminder_types import Recipient
    from curecal.reminders.simulation.simulate import Simulation
    from curecal.trade.job import Job
    from curecal.trade.rules import Rules
    from curecal.words.sentences import Words

SCHEMA = 1


def wanted_shown(
    book: Book, job_id: str | None, *, now: datetime, only_due: bool, as_json: bool
) -> None:
    """Print reminders; only what is due now with the messages not out yet, or all of them."""
    from curecal.book.jobs.jobs import list_jobs
    from curecal.cli.book.book_shown import words_in
    from curecal.errors import BookError

    until = now if only_due else None
    with book.reading() as connection:
        words = words_of_book(connection, now)
        jobs = [job for job in list_jobs(connection) if job_id in {None, job.job_id}]
        if job_id is not None and not jobs:
            raise BookError("book-job-unknown", job_id=job_id)
        rows = [row for job in jobs for row in _rows(connection, job, until)]
        held = hold_text(connection, words)
    rows.sort(key=lambda row: row["at"])
    if as_json:
        print_json({"schema": SCHEMA, "reminders": rows})
        return
    if held:
        _say(held)
    if not jobs:
        _say(words.text("remind.list.no-jobs"))
    elif not rows:
        _say(words.text("remind.list.none" if until is None else "remind.list.none-due"))
    zones = {job.job_id: job.timezone for job in jobs}
    for row in rows:
        _say(_line(row, rows, words_in(zones[row["job_id"]], now), now), hang=4)


def _rows(connection: Connection, job: Listed, until: datetime | None) -> Iterator[PlainTable]:
    """Yield the reminders of a job; with an instant those due by then, and messages not out yet."""
    from curecal.book.message_states import UNSENT
    from curecal.book.outbox.outbox import messages_of
    from curecal.book.outbox.reminders import wanted_of

    for wanted in wanted_of(connection, job.job_id):
        if until is None or wanted.fire_at <= until:
            about = wanted.payload.get("subject")
            yield _row(job, wanted, at=wanted.fire_at, state="wanted", about=about)
    if until is not None:
        for message in messages_of(connection, job_id=job.job_id, states=sorted(UNSENT)):
            yield _row(job, message, at=message.next_try_at, state=message.state.value)


def _row(
    job: Listed, found: Wanted | OutboxRow, *, at: datetime, state: str, about: object = None
) -> PlainTable:
    return {
        "job_id": job.job_id,
        "job": job.name,
        "zone": found.zone_id or None,
        "kind": found.kind,
        "about": about or None,
        "to": found.recipient,
        "channel": found.channel,
        "at": at,
        "state": state,
    }


def _line(row: PlainTable, rows: Sequence[PlainTable], words: Words, now: datetime) -> str:
    """Return a reminder in a line: its zone where the job's others are of another."""
    zones = {other["zone"] for other in rows if other["job_id"] == row["job_id"]} - {None}
    # What it is about stands behind what it says, where it is a visit or a test.
    about = (f"name.{group}.{row['about']}" for group in ("visit", "hold"))
    params = {
        "due_at": row["at"],
        "job": row["job"],
        "zone": row["zone"] if len(zones) > 1 else None,
        "person": row["to"],
        "channel": row["channel"],
        "what": words.text(f"name.about.{row['kind']}"),
        "about": next((words.text(key) for key in about if key in words.catalogue), None),
    }
    return words.text(f"remind.list.{'due' if row['at'] <= now else 'line'}", params)


def hold_text(connection: Connection, words: Words) -> str:
    """Return what is on hold and why, a line each; empty where nothing is."""
    from datetime import datetime

    from curecal.book.meta import DAMAGED, held_jobs, hold_of
    from curecal.reminders.sending.send_holds import is_clock_unsure
    from curecal.reminders.timing.clock_jump import DOUBTS

    lines = []
    held, names = hold_of(connection), names_of_jobs(connection)
    if held:
        params = {
            "since_at": _past(datetime.fromisoformat(held["since"])),
            "reason": _reason(words, held["reason"]),
        }
        key = "held-clock" if held["reason"] in DOUBTS else "held"
        lines.append(words.text(f"remind.list.{key}", params))
    elif is_clock_unsure(connection):
        lines.append(words.text("remind.list.clock-unsure"))
    for job_id, reason in held_jobs(connection).items():
        params = {"job": names[job_id], "id": job_id, "reason": _reason(words, reason)}
        key = "held-damaged" if reason == DAMAGED else "held-job"
        lines.append(words.text(f"remind.list.{key}", params))
    return "\n".join(lines)


def names_of_jobs(connection: Connection) -> dict[str, str]:
    """Return what the jobs of the book are called, by id: no two alike."""
    from curecal.book.jobs.book_overview import names_by_id
    from curecal.trade.names import told_apart

    return told_apart(names_by_id(connection))


def words_of_book(connection: Connection, now: datetime) -> Words:
    """Return words in the time that most jobs of the book keep; of none in UTC."""
    from curecal.book.jobs.book_overview import usual_timezone
    from curecal.cli.book.book_shown import words_in
    from curecal.words.sentences import plain_words

    timezone = usual_timezone(connection)
    return plain_words() if timezone is None else words_in(timezone, now)


def done_shown(book: Book, key: str, job_id: str | None, *, as_json: bool) -> None:
    """Print what was done, and what is on hold all the same."""
    from datetime import UTC, datetime

    from curecal.book.meta import held_jobs, hold_of

    with book.reading() as connection:
        held, jobs = hold_of(connection), held_jobs(connection)
        names = names_of_jobs(connection)
        words = words_of_book(connection, datetime.now(UTC))
        rest = hold_text(connection, words)
    if as_json:
        print_json({"schema": SCHEMA, "hold": held, "jobs": jobs})
        return
    # What is held as a whole lets nothing of a job go either.
    if key == "remind.list.paused" or (key and not (job_id and held)):
        click.echo(words.text(key, {"job": names.get(str(job_id))}))
    if key != "remind.list.paused" and rest:
        click.echo(rest)


def _past(at: datetime) -> datetime:
    """Return the full minute of what has happened: instants are shown rounded up."""
    return at.replace(second=0, microsecond=0)


def _reason(words: Words, code: str) -> str:
    key = f"name.remind-hold.{code}"
    return words.text(key) if key in words.catalogue else code


def status_shown(book: Book, *, now: datetime, as_json: bool) -> None:
    """Print holds, signs of life, and how many messages stand where."""
    with book.reading() as connection:
        words, names = words_of_book(connection, now), names_of_jobs(connection)
        status = _status(connection, now)
        held = hold_text(connection, words)
    if as_json:
        print_json({"schema": SCHEMA, **status})
        return
    for line in (held, *_status_lines(status, words, names)):
        if line:
            _say(line, hang=2)


def _status(connection: Connection, now: datetime) -> PlainTable:
    """Return whether messages go out, and what stands in the way, as plain data."""
    from curecal.book.meta import STALE_S, beats, held_jobs, hold_of
    from curecal.reminders.sending.send_holds import (
        counts_of,
        is_clock_unsure,
        rule_troubles,
        troubled,
        unreached_of,
    )

    alive = sorted(beats(connection), key=lambda beat: beat.at)
    last = alive[-1] if alive else None
    # Who let messages go again left a sign of life as well, and knows of no channel.
    note = next((beat.note for beat in reversed(alive) if "down" in beat.note), {})
    return {
        "hold": hold_of(connection),
        "held_jobs": held_jobs(connection),
        "clock_confirmed": not is_clock_unsure(connection),
        "stale": last is None or (now - last.at).total_seconds() > STALE_S,
        "last_sign": last.at if last else None,
        "last_sign_by": last.name if last else None,
        "messages": counts_of(connection),
        "not_arrived": troubled(connection),
        "down": note.get("down") or {},
        "troubles": note.get("troubles") or {},
        "rules": rule_troubles(connection),
        "unreached": unreached_of(connection),
    }


def _status_lines(status: PlainTable, words: Words, names: Mapping[str, str]) -> Iterator[str]:
    if status["last_sign"] is None:
        yield words.text("remind.list.beat-none")
    else:
        last = {"name": status["last_sign_by"], "at": _past(status["last_sign"])}
        yield words.text("remind.list.beat", last)
        if status["stale"]:
            yield words.text("remind.list.beat-stale")
    for channel, reason in status["down"].items():
        yield words.text("remind.list.down", {"channel": channel, "reason": reason})
    for key, of_jobs in (("trouble", status["troubles"]), ("rules", status["rules"])):
        for job_id, code in of_jobs.items():
            yield words.text(
                f"remind.list.{key}", {"job": names.get(job_id, job_id), "reason": code}
            )
    for job_id, people in status["unreached"].items():
        for name in people:
            said = words.text("remind.list.unreached", {"person": name})
            yield f"{names.get(job_id, job_id)}: {said}"
    for state, count in status["messages"].items():
        params = {"state": words.name("remind-state", state), "count": count}
        yield words.text("remind.list.counts", params)
    for message in status["not_arrived"]:
        yield _trouble_line(words, message, names)


def _trouble_line(words: Words, message: PlainView, names: Mapping[str, str]) -> str:
    """Return what became of a message that did not arrive, or may not have."""
    key = f"name.about.{message['kind']}"
    what = words.text(key) if key in words.catalogue else str(message["kind"])
    state = words.name("remind-state", str(message["state"]))
    params = {"person": message["to"], "what": what, "state": state, "reason": message["reason"]}
    return words.text("remind.list.not-arrived", {**params, "job": names[message["job_id"]]})


def simulation_shown(
    simulation: Simulation, job: Job, rules: Rules, *, cold: bool, full: bool, as_json: bool
) -> None:
    """Print every message in order."""
    from curecal.planning.plan import State
    from curecal.reminders.recipients import is_out_of_reach, recipients
    from curecal.words.sentences import words_for
    from curecal.words.values import clean

    people = {person.id: person for person in recipients(job.people)}
    unreached = [clean(person.name) for person in people.values() if is_out_of_reach(person)]
    rows = list(_played_rows(simulation, job, rules, people))
    if as_json:
        document = {"schema": SCHEMA, "job_id": job.id, "messages": rows}
        print_json({**document, "unreached": unreached})
        return
    from curecal.reminders.simulation.simulate import messages_of_play

    own, sizes = words_for(job, rules), messages_of_play(simulation)
    _played_shown(rows, sizes, own, full=full)
    params = {"until_at": simulation.plan.as_of, "count": len(sizes)}
    _say(own.text("remind.list.played", params))
    for person_id, person in people.items():
        mine = {p.message for p in simulation.played if p.reminder.recipient == person_id}
        several = len([number for number in mine if sizes[number] > 1])
        params = {"person": person.name, "count": len(mine), "several_count": several or None}
        _say(own.text("remind.list.per-person", params), indent=2)
    _say(own.text(f"remind.list.assumed{'-cold' if cold else ''}"))
    for name in unreached:
        _say(own.text("remind.list.unreached", {"person": name}))
    for zone in simulation.plan.zones:
        if zone.state is not State.IN_SERVICE:
            _say(own.text("remind.list.stuck", {"why": zone.why}))


def _played_rows(
    simulation: Simulation, job: Job, rules: Rules, people: Mapping[str, Recipient]
) -> Iterator[PlainTable]:
    """Yield every line of every message that was played, as its reader would have it."""
    from curecal.delivery.text_message import short
    from curecal.reminders.messages.texts import compose, reach_of, reader_words
    from curecal.trade.job import Role
    from curecal.words.values import clean

    reach = reach_of(job, simulation.plan.as_of)
    for played in sorted(simulation.played, key=lambda one: (one.at, one.message)):
        person = people[played.reminder.recipient]
        role = person.roles[0] if person.roles else Role.OWNER
        words = reader_words(job, rules, person.language, played.at)
        said = compose(played.reminder, words, role=role, reach=reach)
        brief = short(said.short)
        yield {
            "at": played.at,
            "kind": played.reminder.kind,
            "zone": played.reminder.zone_id,
            "person": clean(person.name),
            "channel": played.reminder.channel.value,
            "subject": said.subject,
            "text": said.body,
            "short": brief.text,
            "parts": brief.part_count,
            "message": played.message,
        }


def _played_shown(
    rows: Sequence[PlainView], sizes: Mapping[int, int], own: Words, *, full: bool
) -> None:
    """Print each message of a play, its lines under its own head."""
    begun: set[int] = set()
    for row in rows:
        number = row["message"]
        params = {"at": row["at"], "person": row["person"], "channel": row["channel"]}
        # The short form begins with what the subject says.
        what = row["subject"] if full else None
        if sizes[number] > 1:
            what = own.text("remind.list.lines", {"count": sizes[number]})
        if number not in begun:
            _say(own.text("remind.list.simulated", {**params, "what": what}), hang=4)
        begun.add(number)
        for line in str(row["text"]).splitlines() if full else [str(row["short"])]:
            _say(line, indent=4)


def _say(text: str, *, indent: int = 0, hang: int = 0) -> None:
    """Print a text in lines as wide as the reader's, its further ones `hang` columns in."""
    from curecal.words.layout import wrap

    width = width_of(None) - indent
    first, *rest = wrap(text, width)
    further = wrap(" ".join(rest), width - hang) if rest else []
    click.echo(" " * indent + first)
    for line in further:
        click.echo(" " * (indent + hang) + line)
