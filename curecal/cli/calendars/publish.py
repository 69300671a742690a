"""`curecal calendars publish`: the calendars into collections on a CalDAV server."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from curecal.cli.calendars.write import anyway_option, withdraw_option
from curecal.cli.shared.common import (
    PROBLEM,
    job_options,
    json_option,
    planned_or_told,
    print_json,
    print_lines,
    width_of,
)
from curecal.errors import DeliveryError, ErrorCode
from curecal.records import PlainTable

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from curecal.cli.calendars.calendar_files import Asked
    from curecal.cli.shared.common import PlannedJob
    from curecal.delivery.caldav.address import Address
    from curecal.delivery.caldav.collections_store import CalendarCollections
    from curecal.delivery.caldav.http_client import Web
    from curecal.words.layout import Line
    from curecal.words.report.published_calendars import Issued
    from curecal.words.sentences import Words

_LIMIT_S, _LONGEST_S = 60, 3600


@click.command("publish")
@job_options
@click.argument("url", metavar="URL")
@click.option(
    "--for",
    "reader",
    type=click.Choice(["crew", "electrician", "owner"]),
    help="URL is this person's own calendar; publish only theirs.",
)
@withdraw_option
@anyway_option
@click.option(
    "--timeout",
    "limit_s",
    type=click.IntRange(1, _LONGEST_S),
    default=_LIMIT_S,
    show_default=True,
    metavar="SECONDS",
    help="How long one request to the server may take.",
)
@json_option
def command(
    *,
    job: Path,
    url: str,
    reader: str | None,
    withdrawn: Sequence[str],
    anyway: bool,
    limit_s: int,
    as_json: bool,
    width: int | None,
    **asked: Any,
) -> int:
    """Put the calendars on a CalDAV server.

    Under URL each person gets a calendar named after the job, made where it is missing. With
    --for, URL is one person's calendar that is there already; what else is in it is left alone.

    Name and password come from CURECAL_CALDAV_USER and CURECAL_CALDAV_PASSWORD, else from the
    netrc file. No proxy is used.
    """
    from curecal.cli.calendars.calendar_files import Asked
    from curecal.delivery.caldav.address import address_of

    address = address_of(url)

    made = planned_or_told(job, as_json=as_json, width=width, **asked)
    if made is None:
        return PROBLEM
    how = Asked(asked.get("as_of") is not None, withdrawn, anyway)
    with _connected(address, limit_s) as web:
        store = _store(made, web, address, reader)
        try:
            standing = _publish(made, store, how)
        except DeliveryError:
            if store.sent_count:
                # What has left is said; the error that follows says why not all of it.
                _tell(made, store, (), as_json=as_json, width=width)
            raise
    _tell(made, store, standing, as_json=as_json, width=width)
    return 0


def _connected(address: Address, limit_s: int) -> Web:
    import os
    from pathlib import Path

    from curecal.delivery.caldav.credentials import credentials_for
    from curecal.delivery.caldav.http_client import Web

    try:
        home = Path.home()
    except RuntimeError:
        home = None
    return Web(address, credentials_for(address.host, os.environ, home=home), limit_s=limit_s)


def _store(made: PlannedJob, web: Web, address: Address, reader: str | None) -> CalendarCollections:
    from curecal.cli.calendars.calendar_files import feeds_of
    from curecal.delivery.caldav.collections_store import CalendarCollections

    feeds = feeds_of(made)
    if reader is None:
        return CalendarCollections.beneath(web, feeds, address)
    mine = [feed for feed in feeds if feed.audience == reader]
    return CalendarCollections(web, mine, {mine[0].audience: address})


def _publish(made: PlannedJob, store: CalendarCollections, asked: Asked) -> Sequence[str]:
    """Publish, and return the zones whose entry goes on without a zone in the job."""
    from curecal.cli.calendars.calendar_files import ledger_of, publish
    from curecal.errors import StoreMoved

    with ledger_of(made, anyway=asked.anyway) as ledger:
        try:
            return publish(made, ledger, store, asked=asked).left_standing
        except StoreMoved as moved:
            if moved.code != ErrorCode.CALENDAR_MOVED_ON_SERVER:
                raise
            raise DeliveryError("dav-moving", url=store.reached[0].url) from None


def _tell(
    made: PlannedJob,
    store: CalendarCollections,
    standing: Sequence[str],
    *,
    as_json: bool,
    width: int | None,
) -> None:
    from curecal.words.layout import paragraph
    from curecal.words.report.headline import headline
    from curecal.words.report.published_calendars import issued_json, issued_lines

    told = _told(store, standing)
    if as_json:
        print_json({**issued_json(told), **_notes_json(store)})
        return
    columns = width_of(width)
    answer = paragraph(headline(made.plan, made.words), columns, style="head")
    issued = issued_lines(told, words=made.words, width=columns)
    print_lines([*answer, (), *issued, *_notes(store, made.words, columns)])


def _told(store: CalendarCollections, standing: Sequence[str]) -> Issued:
    from curecal.words.report.published_calendars import CalendarOutcome, EntryOutcome, Issued

    return Issued(
        tuple(
            CalendarOutcome(
                reached.url,
                tuple(
                    EntryOutcome(event.uid, event.sequence, event.title, event.change.value)
                    for event in reached.events.values()
                ),
                any(event.change != "unchanged" for event in reached.events.values()),
            )
            for reached in store.reached
        ),
        tuple(standing),
    )


def _notes(store: CalendarCollections, words: Words, columns: int) -> list[Line]:
    """Return what a person did in a calendar that mattered, and how far publishing came."""
    from curecal.words.layout import paragraph

    said: list[str] = []
    for reached in store.reached:
        said += [words.text("published.put-back", {"title": title}) for title in reached.put_back]
        for key, found in (("kept", reached.alarms_kept), ("gone", reached.alarms_gone)):
            for alarms in found:
                params = {"title": alarms.title, "alarm_count": alarms.alarm_count}
                said.append(words.text(f"published.alarms-{key}", params))
    if store.sent_count < store.due_count:
        params = {"sent_count": store.sent_count, "due": store.due_count}
        said.append(words.text("published.part", params))
    return [line for text in said for line in paragraph(text, columns, style="warn")]


def _notes_json(store: CalendarCollections) -> PlainTable:
    return {
        "complete": store.sent_count == store.due_count,
        "sent": store.sent_count,
        "due": store.due_count,
        "collections": [
            {
                "for": reached.audience.value,
                "url": reached.url,
                "created": reached.created,
                "put_back": reached.put_back,
                "alarms_kept": {alarms.title: alarms.alarm_count for alarms in reached.alarms_kept},
                "alarms_gone": {alarms.title: alarms.alarm_count for alarms in reached.alarms_gone},
            }
            for reached in store.reached
        ],
    }
