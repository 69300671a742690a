"""One request as a page sees it: whose link, which job, in which language, at what instant."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime, tzinfo
from typing import TYPE_CHECKING
from urllib.parse import quote
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from curecal.book.links.links import Link
from curecal.errors import CurecalError
from curecal.instants import local_day
from curecal.job_files import load_rules
from curecal.planning.site_log.authority import persons_named
from curecal.records import Record, record
from curecal.trade.job import Code, Job, Person, Role
from curecal.trade.names import comparable_name
from curecal.web.feeds.feed_address import FeedAddress, feed_beside
from curecal.web.job_now import JobNow
from curecal.words.catalogue import DEFAULT_LANGUAGE, catalogue, languages
from curecal.words.sentences import Words, words_for
from curecal.words.values import Reader

if TYPE_CHECKING:
    from flask import Request

    from curecal.web.serving import Serving

LANGUAGE_COOKIE = "language"
OFFICE_HOME = "/office"
"""Where the office's pages begin: whose link it is stands in a cookie."""
_CALLED_FIRST = (Role.CREW_LEAD, Role.ELECTRICIAN, Role.OWNER, Role.OFFICE)
_MOST_CALLED = 5


def job_address(job_id: str, *further: str) -> str:
    """Return the address of the office's page of a job, or of one below it.

    Args:
        job_id: The job.
        *further: Parts below its page.
    """
    return "/".join([f"{OFFICE_HOME}/job", quote(job_id, safe=""), *further])


@record(kw_only=True)
class PageRequest(Record):
    """What a page is made of.

    `job_now` is None for pages of the whole book. `values` are the parts of the address.
    `roles` are those that the link's person has on the job now. `is_clock_sure` where somebody or
    something confirmed the machine's clock: without that no permission is of this minute.
    """

    serving: Serving
    request: Request
    link: Link
    now: datetime
    words: Words
    values: Mapping[str, str]
    secret: str = ""
    job_now: JobNow | None = None
    person: Person | None = None
    roles: frozenset[Role] = frozenset()
    is_clock_sure: bool = True

    @property
    def here(self) -> JobNow:
        """The job of the link, on a page that has one."""
        if self.job_now is None:
            raise CurecalError("page-without-job")
        return self.job_now

    @property
    def job(self) -> Job:
        """The job of the link."""
        return self.here.job

    @property
    def clock_doubt(self) -> str | None:
        """Why no permission can be given by this clock, in words; None where it can be believed."""
        if not self.is_clock_sure:
            return self.text("clock.unsure")
        is_behind = self.job_now is not None and self.job_now.is_clock_behind
        return self.text("owner.clock-why") if is_behind else None

    @property
    def language(self) -> str:
        """The language of the page."""
        return self.words.catalogue.language

    @property
    def home(self) -> str:
        """Where the pages of the link begin; for the office, those of the job it looks at."""
        if self.link.job_id:
            return f"/p/{self.secret}"
        return OFFICE_HOME if self.job_now is None else job_address(self.job.id)

    @property
    def origin(self) -> str:
        """What stands before every address of ours, as whoever asks reached us."""
        return own_origin(self.serving, self.request)

    @property
    def feed(self) -> FeedAddress | None:
        """The calendar beside the page; None where its link was taken back, or is none."""
        with self.serving.book.reading() as connection:
            return feed_beside(connection, self.secret, self.origin, self.now)

    def text(self, key: str, **params: object) -> str:
        """Return one of the pages' texts."""
        return self.words.text(f"page.{key}", params)

    @property
    def emergency_number(self) -> str:
        """Return what is called where the site stands.

        Common practice: 911 in North America, 112 in Europe and from any mobile telephone.
        """
        code = Code.OTHER if self.job_now is None else self.job_now.job.code
        return "911" if code in {Code.NEC, Code.CEC} else "112"

    @property
    def to_call(self) -> tuple[Person, ...]:
        """Who is to hear of a stop by telephone, the crew lead first, without the caller."""
        if self.job_now is None:
            return ()
        named = {
            comparable_name(person.name): person
            for person in sorted(self.job.people, key=_call_rank)
            if person.phone and person.is_on_the_job(self.now)
        }
        named.pop(comparable_name(self.link.person), None)
        return tuple(named.values())[:_MOST_CALLED]


def _call_rank(person: Person) -> int:
    ranks = [_CALLED_FIRST.index(role) for role in person.every_role if role in _CALLED_FIRST]
    return min(ranks, default=len(_CALLED_FIRST))


def own_origin(serving: Serving, request: Request) -> str:
    """Return the origin that forms of ours come from, and that stands before our addresses.

    Args:
        serving: How the pages are reached.
        request: The request.
    """
    return serving.address.origin or f"{request.scheme}://{request.host}"


def roles_of(job: Job, name: str, at: datetime) -> tuple[Person | None, frozenset[Role]]:
    """Return the person of a job that a link was made for, and what they are on it now.

    Args:
        job: The job.
        name: The name that the link has.
        at: The instant.

    Returns:
        None and no role for somebody who is not, or no longer, of the job.
    """
    found = [one for one in persons_named(job.people, name) if one.is_on_the_job(at)]
    roles = frozenset(role for one in found for role in one.every_role)
    return (found[0] if found else None), roles


def language_wanted(request: Request, person: Person | None, job: Job | None) -> str:
    """Return the language of a page: as switched, the person's, the browser's, the job's.

    Args:
        request: The request.
        person: Who holds the link, where the job names them.
        job: The job, if the page is about one.
    """
    known = languages()
    wishes = (
        request.args.get("language"),
        request.cookies.get(LANGUAGE_COOKIE),
        None if person is None else person.language,
        request.accept_languages.best_match(known) if request.accept_languages else None,
        None if job is None else job.language,
    )
    return next((wish for wish in wishes if wish in known), DEFAULT_LANGUAGE)


def zone_named(timezone: str | None) -> tzinfo:
    """Return a time zone; UTC where none is named, or somebody wrote something else there.

    Args:
        timezone: Its name.
    """
    try:
        return ZoneInfo(timezone) if timezone else UTC
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return UTC


def words_of(language: str, job: Job | None, now: datetime, timezone: str | None = None) -> Words:
    """Return the words of a page.

    Args:
        language: The language.
        job: The job whose units and zone count, if there is one.
        now: When it is read: days near it are shown without their year.
        timezone: The zone that instants are shown in on a page of no job; UTC where none is named.
    """
    if job is None:
        zone = zone_named(timezone)
        return Words(catalogue(language), Reader(tz=zone, today=local_day(now, zone)))
    return words_for(job, load_rules(), language=language, as_of=now)
