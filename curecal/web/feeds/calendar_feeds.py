"""Calendar feeds: the bytes that the ledger published, put together once and kept while they hold.

Programs ask over and over. Within two seconds they are answered from memory; after that the book is
asked whether anything moved, and only then are bytes made anew.
"""

from __future__ import annotations

import hashlib
import threading
import time
from collections import OrderedDict
from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING

from flask import Response, request

from curecal.book.jobs.jobs import read_in
from curecal.book.ledger.ledger import published_for
from curecal.book.link_purpose import LinkPurpose
from curecal.book.links.links import Link, find_link
from curecal.book.links.person_links import audiences_for, generations_of, is_known_as
from curecal.calendars.build_calendars import calendar_name
from curecal.calendars.event import READERS, Audience
from curecal.calendars.ical.ical_writer import document, job_head, person_head
from curecal.calendars.ical.round_trip_check import refuse_faults
from curecal.calendars.revision import Revision
from curecal.job_files import load_rules
from curecal.planning.site_log.authority import persons_named
from curecal.records import Record, record
from curecal.web.link_use import note_link_use
from curecal.words.reader_language import language_of
from curecal.words.sentences import words_for

if TYPE_CHECKING:
    from _typeshed.wsgi import StartResponse, WSGIApplication, WSGIEnvironment
    from sqlalchemy import Connection

    from curecal.trade.job import Person, Role
    from curecal.web.serving import Serving

_HOLDS_S = 2.0
# As long as a year of an office each, they take 40 MB.
_KEPT = 200
_ETAG_SIGNS = 32
# A link is a few seconds old, and its job not published yet.
_AGAIN_S = "30"
_HEADERS = {"Cache-Control": "private, no-cache"}
_TYPE = "text/calendar; charset=utf-8"
_NAME = "curecal.ics"


@record
class FeedJob(Record):
    """A job in a feed: how often it had changed, and whose calendars of it the reader has."""

    job_id: str
    generation: int
    audiences: frozenset[Audience]


@record(kw_only=True)
class KeptFeed(Record):
    """A feed as it was put together; `jobs` say from what, `looked_s` when that was asked last.

    `data` is empty where nothing is published yet.
    """

    link_id: str
    jobs: tuple[FeedJob, ...]
    data: bytes
    etag: str
    looked_s: float


class CalendarFeeds:
    """The feeds of a book, each kept by the secret that opens it."""

    def __init__(self, serving: Serving) -> None:
        self._serving = serving
        self._lock = threading.Lock()
        self._kept: OrderedDict[str, KeptFeed] = OrderedDict()
        # Of a job only its people are kept: a job with its readings may be large.
        self._people: dict[str, tuple[int, tuple[Person, ...]]] = {}

    def answer(self, secret: str) -> Response | None:
        """Return the answer to a request for a feed; None for a link that opens none.

        Args:
            secret: The secret of the address.

        Raises:
            BookError: the book cannot be read.
        """
        feed = self._feed(secret)
        if feed is None:
            return None
        if not feed.data:
            return Response(status=503, headers={"Retry-After": _AGAIN_S, **_HEADERS})
        if request.if_none_match.contains_weak(feed.etag):
            response = Response(status=304, headers=_HEADERS)
        else:
            response = Response(feed.data, content_type=_TYPE, headers=_HEADERS)
        response.set_etag(feed.etag)
        return response

    def in_front_of(self, app: WSGIApplication, headers: Mapping[str, str]) -> WSGIApplication:
        """Return an app that gives out what is kept and fresh by itself: most of what is asked.

        Args:
            app: Answers everything else.
            headers: What every answer of the pages has.
        """

        def answer(environ: WSGIEnvironment, start: StartResponse) -> Iterable[bytes]:
            feed = self._fresh_in(environ)
            asked = environ.get("HTTP_IF_NONE_MATCH")
            etag = None if feed is None else f'"{feed.etag}"'
            if feed is None or asked not in {None, etag}:
                # A list of tags, or a weak one, is read where all else is.
                return app(environ, start)
            told = [("ETag", str(etag)), *_HEADERS.items(), *headers.items()]
            if asked == etag:
                start("304 NOT MODIFIED", told)
                return ()
            start(
                "200 OK",
                [("Content-Type", _TYPE), ("Content-Length", str(len(feed.data))), *told],
            )
            return () if environ["REQUEST_METHOD"] == "HEAD" else (feed.data,)

        return answer

    def _fresh_in(self, environ: WSGIEnvironment) -> KeptFeed | None:
        """Return the feed that is asked for, where it is kept and nothing else is to be weighed."""
        before, _, after = environ.get("PATH_INFO", "").partition("/f/")
        if before or environ["REQUEST_METHOD"] not in {"GET", "HEAD"}:
            return None
        secret, _, name = after.partition("/")
        with self._lock:
            kept = self._kept.get(secret)
        if kept is None or name != _NAME or not kept.data:
            return None
        return kept if time.monotonic() - kept.looked_s < _HOLDS_S else None

    def _feed(self, secret: str) -> KeptFeed | None:
        with self._lock:
            kept = self._kept.get(secret)
        looked_s = time.monotonic()
        if kept is not None and looked_s - kept.looked_s < _HOLDS_S:
            return kept
        found = self._looked(secret, kept, looked_s)
        with self._lock:
            if found is None:
                self._kept.pop(secret, None)
            else:
                self._kept[secret] = found
                self._kept.move_to_end(secret)
                while len(self._kept) > _KEPT:
                    self._kept.popitem(last=False)
        return found

    def _looked(self, secret: str, kept: KeptFeed | None, looked_s: float) -> KeptFeed | None:
        """Return the feed as the book has it now: with the bytes that are kept, where they hold."""
        now = self._serving.now()
        with self._serving.book.reading() as connection:
            link = find_link(connection, secret)
            if link is None or link.purpose is not LinkPurpose.FEED or not link.works_at(now):
                return None
            jobs = self._jobs(connection, link, now)
            if not jobs:
                # Whoever left the job has no calendar of it any more.
                return None
            is_same = kept is not None and (kept.link_id, kept.jobs) == (link.id, jobs)
            data = b"" if is_same else _put_together(connection, link, jobs, now)
        note_link_use(self._serving, link, now)
        if kept is not None and is_same:
            return replace(kept, looked_s=looked_s)
        etag = hashlib.sha256(data).hexdigest()[:_ETAG_SIGNS]
        return KeptFeed(link_id=link.id, jobs=jobs, data=data, etag=etag, looked_s=looked_s)

    def _jobs(self, connection: Connection, link: Link, now: datetime) -> tuple[FeedJob, ...]:
        found = []
        for job_id, count in generations_of(connection, link.job_id or None).items():
            people = self._people_of(connection, job_id, count)
            mine = (
                persons_named(people, link.person)
                if link.job_id
                else [person for person in people if is_known_as(person, link.person)]
            )
            roles: set[Role] = set()
            for person in mine:
                if person.is_on_the_job(now):
                    roles |= person.every_role
            if audiences := audiences_for(roles):
                found.append(FeedJob(job_id, count, audiences))
        return tuple(found)

    def _people_of(self, connection: Connection, job_id: str, count: int) -> tuple[Person, ...]:
        known = self._people.get(job_id)
        if known is None or known[0] != count:
            job = read_in(connection, job_id).job
            known = (count, () if job is None else tuple(job.people))
            self._people[job_id] = known
        return known[1]


def _put_together(
    connection: Connection, link: Link, jobs: tuple[FeedJob, ...], now: datetime
) -> bytes:
    """Return the bytes of a feed; none where nothing is published of its jobs."""
    revisions: list[Revision] = []
    for one in jobs:
        revisions += published_for(connection, one.job_id, one.audiences)
    if not revisions:
        return b""
    data = document(_head(connection, link, jobs, now), revisions)
    refuse_faults(data)
    return data


def _head(
    connection: Connection, link: Link, jobs: tuple[FeedJob, ...], now: datetime
) -> tuple[str, ...]:
    """Return what stands before the entries: named as the job's calendar, or after the person."""
    job = read_in(connection, link.job_id).job if link.job_id else None
    if job is None:
        return person_head(link.person)
    # Of somebody who reads two calendars of a job the first gives its name.
    audience = next(one for one in Audience if one in jobs[0].audiences)
    words = words_for(job, load_rules(), language=language_of(job, READERS[audience], now))
    return job_head(job.id, calendar_name(job, audience, words), audience)
