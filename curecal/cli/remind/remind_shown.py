"""How `curecal remind` shows what is wanted, what became of it, and a simulation."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from curecal.cli.shared.common import print_json, width_of
from curecal.records import PlainTable, PlainView

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import datetime

    from sqlalchemy import Connection

    from curecal.book.connection.open_book import Book
    from curecal.book.jobs.jobs import Listed
    from curecal.reminders.simulation.simulate import Simulation
    from curecal.trade.job import Job
    from curecal.trade.rules import Rules
    from curecal.words.sentences import Words

SCHEMA = 1


def wanted_shown(book: Book, job_id: str | None, *, until: datetime | None, as_json: bool) -> None:
    """Print reminders; with an instant those due by then, and the messages not out yet."""
    from curecal.book.jobs.jobs import list_jobs
    from curecal.book.message_states import UNSENT
    from curecal.book.outbox.outbox import messages_of
    from curecal.book.outbox.reminders import wanted_of
    from curecal.errors import BookError
    from curecal.words.sentences import plain_words

    words = plain_words()
    rows: list[PlainTable] = []
    with book.reading() as connection:
        jobs = [job for job in list_jobs(connection) if job_id in {None, job.job_id}]
        if job_id is not None and not jobs:
            raise BookError("book-job-unknown", job_id=job_id)
        for job in jobs:
            rows += [
                _row(
                    job,
                    reminder.kind,
                    reminder.recipient,
                    reminder.channel,
                    reminder.fire_at,
                    "wanted",
                )
                for reminder in wanted_of(connection, job.job_id)
                if until is None or reminder.fire_at <= until
            ]
            if until is not None:
                rows += [
                    _row(
                        job,
                        message.kind,
                        message.recipient,
                        message.channel,
                        message.next_try_at,
                        message.state.value,
                    )
                    for message in messages_of(connection, job_id=job.job_id, states=sorted(UNSENT))
                ]
        held = hold_text(connection, words)
        zones = {job.job_id: job.timezone for job in jobs}
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
    for row in rows:
        _say(_line(row, zones[str(row["job_id"])]), hang=4)


def _row(
    job: Listed, kind: str, recipient: str, channel: str, at: datetime, state: str
) -> PlainTable:
    return {
        "job_id": job.job_id,
        "job": job.name,
        "kind": kind,
        "to": recipient,
        "channel": channel,
        "at": at,
        "state": state,
    }


def _line(row: PlainTable, timezone: str) -> str:
    from curecal.cli.book.book_shown import words_in

    words = words_in(timezone)
    params = {
        "due_at": row["at"],
        "job": row["job"],
        "person": row["to"],
        "channel": row["channel"],
        "what": words.text(f"name.reminder.{row['kind']}"),
    }
    return words.text("remind.list.line", params)


def hold_text(connection: Connection, words: Words) -> str:
    """Return what is on hold and why, a line each; empty where nothing is."""
    from datetime import datetime

    from curecal.book.meta import DAMAGED, held_jobs, hold_of

    lines = []
    held = hold_of(connection)
    if held:
        params = {
            "since_at": _past(datetime.fromisoformat(held["since"])),
            "reason": _reason(words, held["reason"]),
        }
        lines.append(words.text("remind.list.held", params))
    for job_id, reason in held_jobs(connection).items():
        params = {"job": job_id, "reason": _reason(words, reason)}
        key = "held-damaged" if reason == DAMAGED else "held-job"
        lines.append(words.text(f"remind.list.{key}", params))
    return "\n".join(lines)


def _words_of(connection: Connection) -> Words:
    """Return words in the time that most jobs of the book keep; of none in UTC."""
    from collections import Counter

    from curecal.book.jobs.jobs import list_jobs
    from curecal.cli.book.book_shown import words_in
    from curecal.words.sentences import plain_words

    zones = Counter(job.timezone for job in list_jobs(connection)).most_common(1)
    return words_in(zones[0][0]) if zones else plain_words()


def _past(at: datetime) -> datetime:
    """Return the full minute of what has happened: instants are shown rounded up."""
    return at.replace(second=0, microsecond=0)


def _reason(words: Words, code: str) -> str:
    key = f"name.remind-hold.{code}"
    return words.text(key) if key in words.catalogue else code


def status_shown(book: Book, *, now: datetime, as_json: bool) -> None:
    """Print holds, signs of life, and how many messages stand where."""
    from curecal.book.meta import STALE_S, beats, held_jobs, hold_of
    from curecal.reminders.sending.send_holds import (
        counts_of,
        rule_troubles,
        troubled,
        unreached_of,
    )

    with book.reading() as connection:
        words = _words_of(connection)
        counts = counts_of(connection)
        alive = beats(connection)
        held, jobs = hold_of(connection), held_jobs(connection)
        lines = [hold_text(connection, words)]
        bad = troubled(connection)
        unreached, rules = unreached_of(connection), rule_troubles(connection)
    newest = max(alive, key=lambda item: item.at, default=None)
    last = newest.at if newest else None
    # Who let messages go again left a sign of life as well, and knows of no channel.
    notes = sorted(
        ((beat.at, beat.note) for beat in alive if "down" in beat.note), key=lambda one: one[0]
    )
    note = notes[-1][1] if notes else {}
    down, troubles = note.get("down") or {}, note.get("troubles") or {}
    stale = last is None or (now - last).total_seconds() > STALE_S
    if as_json:
        print_json(
            {
                "schema": SCHEMA,
                "hold": held,
                "held_jobs": jobs,
                "stale": stale,
                "last_sign": last,
                "messages": counts,
                "not_arrived": bad,
                "down": down,
                "troubles": troubles,
                "rules": rules,
                "unreached": unreached,
            }
        )
        return
    if newest is None:
        lines.append(words.text("remind.list.beat-none"))
    else:
        lines.append(words.text("remind.list.beat", {"name": newest.name, "at": _past(newest.at)}))
        if stale:
            lines.append(words.text("remind.list.beat-stale"))
    lines += [
        words.text("remind.list.down", {"channel": channel, "reason": reason})
        for channel, reason in down.items()
    ]
    lines += [
        words.text("remind.list.trouble", {"job": job_id, "reason": code})
        for job_id, code in troubles.items()
    ]
    lines += [
        words.text("remind.list.rules", {"job": job_id, "reason": code})
        for job_id, code in rules.items()
    ]
    lines += [
        f"{job_id}: {words.text('remind.list.unreached', {'person': name})}"
        for job_id, names in unreached.items()
        for name in names
    ]
    for state, count in counts.items():
        params = {"state": words.name("remind-state", state), "count": count}
        lines.append(words.text("remind.list.counts", params))
    lines += [_trouble_line(words, message) for message in bad]
    for line in lines:
        if line:
            _say(line, hang=2)


def _trouble_line(words: Words, message: PlainView) -> str:
    """Return what became of a message that did not arrive, or may not have."""
    key = f"name.reminder.{message['kind']}"
    what = words.text(key) if key in words.catalogue else str(message["kind"])
    state = words.name("remind-state", str(message["state"]))
    params = {"person": message["to"], "what": what, "state": state, "reason": message["reason"]}
    return words.text("remind.list.not-arrived", {**params, "job": message["job_id"]})


def simulation_shown(
    simulation: Simulation, job: Job, rules: Rules, *, cold: bool, full: bool, as_json: bool
) -> None:
    """Print every message in order."""
    from curecal.delivery.text_message import short
    from curecal.planning.plan import State
    from curecal.reminders.messages.texts import compose, reach_of, reader_words
    from curecal.reminders.recipients import is_out_of_reach, recipients
    from curecal.reminders.simulation.simulate import messages_of_play
    from curecal.trade.job import Role
    from curecal.words.sentences import words_for
    from curecal.words.values import clean

    people = {person.id: person for person in recipients(job.people)}
    own = words_for(job, rules)
    reach = reach_of(job, simulation.plan.as_of)
    unreached = [clean(person.name) for person in people.values() if is_out_of_reach(person)]
    rows: list[PlainTable] = []
    sizes = messages_of_play(simulation)
    for played in sorted(simulation.played, key=lambda one: (one.at, one.message)):
        person = people[played.reminder.recipient]
        role = person.roles[0] if person.roles else Role.OWNER
        said = compose(
            played.reminder, reader_words(job, rules, person, played.at), role=role, reach=reach
        )
        brief = short(said.short)
        rows.append(
            {
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
        )
    if as_json:
        document = {"schema": SCHEMA, "job_id": job.id, "messages": rows}
        print_json({**document, "unreached": unreached})
        return
    _played_shown(rows, sizes, own, full=full)
    params = {"until_at": simulation.plan.as_of, "count": len(sizes)}
    _say(own.text("remind.list.played", params))
    for person_id, person in people.items():
        mine = {p.message for p in simulation.played if p.reminder.recipient == person_id}
        several = len([number for number in mine if sizes[number] > 1])
        params = {"person": person.name, "count": len(mine), "several_count": several}
        _say(own.text("remind.list.per-person", params), indent=2)
    _say(own.text(f"remind.list.assumed{'-cold' if cold else ''}"))
    for name in unreached:
        _say(own.text("remind.list.unreached", {"person": name}))
    for zone in simulation.plan.zones:
        if zone.state is not State.IN_SERVICE:
            _say(own.text("remind.list.stuck", {"why": zone.why}))


def _played_shown(
    rows: Sequence[PlainView], sizes: Mapping[int, int], own: Words, *, full: bool
) -> None:
    """Print each message of a play, its lines under its own head."""
    begun: set[int] = set()
    for row in rows:
        number = row["message"]
        params = {"at": row["at"], "person": row["person"], "channel": row["channel"]}
        what = row["subject"]
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
