"""The WSGI app: finds whose link it is, refuses what does not belong, and adds the headers.

What comes from another origin, is too large, or holds a link that does not work, reaches no page.
"""

from __future__ import annotations

import logging
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from flask import Flask, Response, make_response, request
from werkzeug.exceptions import HTTPException

from curecal.book.jobs.book_overview import usual_timezone
from curecal.book.link_purpose import LinkPurpose
from curecal.book.links.links import find_link
from curecal.errors import BookError, CurecalError, ErrorCode
from curecal.reminders.sending.send_holds import is_clock_doubted
from curecal.trade.job import Role
from curecal.web.feeds.calendar_feeds import CalendarFeeds
from curecal.web.link_use import note_link_use
from curecal.web.page_request import (
    LANGUAGE_COOKIE,
    OFFICE_HOME,
    PageRequest,
    language_wanted,
    own_origin,
    roles_of,
    words_of,
)
from curecal.web.rendering import make_templates, render_plain
from curecal.web.routes import ROUTES, Route
from curecal.web.server.health import health_answer
from curecal.web.server.log_secrets import hide_secrets_in_logs
from curecal.web.serving import LARGEST_BODY_BYTES
from curecal.words.catalogue import languages

if TYPE_CHECKING:
    from datetime import datetime

    from curecal.web.serving import Serving

# Fields typed by people; a picture is a file and does not count.
_LARGEST_FORM_BYTES = 256 << 10
_MOST_PARTS = 200
OFFICE_COOKIE = "office"
_A_YEAR_S = 365 * 86400

POLICY = (
    "default-src 'none'; style-src 'self'; script-src 'self'; connect-src 'self'; "
    "manifest-src 'self'; img-src 'self' data: blob:; form-action 'self'; base-uri 'none'; "
    "frame-ancestors 'none'"
)
HEADERS = {
    "Content-Security-Policy": POLICY,
    # Without any referrer a browser calls the origin of a form `null`.
    "Referrer-Policy": "same-origin",
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "X-Robots-Tag": "noindex, nofollow",
}
_log = logging.getLogger(__name__)


def make_app(serving: Serving) -> Flask:
    """Return the app.

    Args:
        serving: The book, the clock, and how the pages are reached.
    """
    app = Flask(__name__, static_folder=None, template_folder=None)
    app.config.update(
        MAX_CONTENT_LENGTH=LARGEST_BODY_BYTES,
        MAX_FORM_MEMORY_SIZE=_LARGEST_FORM_BYTES,
        MAX_FORM_PARTS=_MOST_PARTS,
    )
    # An address with two strokes is none of ours; a redirect would tell which ones are.
    app.url_map.merge_slashes = False
    app.extensions["templates"] = make_templates()
    hide_secrets_in_logs()
    for route in ROUTES:
        app.add_url_rule(
            route.pattern,
            endpoint=f"{route.method} {route.pattern}",
            view_func=_answer(serving, route),
            methods=[route.method],
            strict_slashes=False,
        )
    app.add_url_rule("/in/<secret>", view_func=_sign_in(serving), methods=["GET"])
    feeds = CalendarFeeds(serving)
    app.add_url_rule("/f/<secret>/curecal.ics", view_func=_feed(serving, feeds), methods=["GET"])
    app.add_url_rule("/health", view_func=_health(serving), methods=["GET"])
    app.add_url_rule("/static/<name>", view_func=_static, methods=["GET"])
    # A worker serves what lies under its own address: this one the pages of a job.
    app.add_url_rule("/sw.js", view_func=lambda: _static("sw.js"), endpoint="worker")
    app.register_error_handler(Exception, _broken(serving))
    app.before_request(_refuse_foreign(serving))
    app.after_request(_with_headers)
    app.wsgi_app = feeds.in_front_of(app.wsgi_app, HEADERS)  # type: ignore[assignment,method-assign]
    return app


def _answer(serving: Serving, route: Route) -> Callable[..., Response]:
    """Return the view of a route: whoever holds no link that opens it learns nothing of it."""

    def view(secret: str = "", **values: str) -> Response:
        now = serving.now()
        if route.pattern.startswith(OFFICE_HOME):
            secret = request.cookies.get(OFFICE_COOKIE, "")
        page = _page(serving, route, secret, now, values)
        if page is None:
            return no_such_link(serving)
        return _with_language(make_response(route.view(page)))

    return view


def _page(
    serving: Serving, route: Route, secret: str, now: datetime, values: dict[str, str]
) -> PageRequest | None:
    """Return the request as a page sees it; None for a link that does not open the route."""
    with serving.book.reading() as connection:
        link = find_link(connection, secret)
        is_clock_sure = not is_clock_doubted(connection)
    if link is None or not link.works_at(now) or link.purpose not in route.opens:
        return None
    # The office has no job of its own: the address names one.
    job_id = link.job_id or values.get("job_id", "")
    job_now = serving.jobs.job(job_id) if job_id else None
    job = None if job_now is None else job_now.job
    person, roles = (None, frozenset()) if job is None else roles_of(job, link.person, now)
    if link.job_id and job is not None and person is None:
        # Whoever left the job has no link to it any more.
        return None
    if link.purpose is not LinkPurpose.OWNER and roles == {Role.OWNER}:
        # Who was of the crew and owns the floor is told the owner's day alone.
        return None
    note_link_use(serving, link, now)
    language = language_wanted(request, person, job)
    timezone = None if job_id else _usual_timezone(serving)
    return PageRequest(
        serving=serving,
        request=request,
        link=link,
        now=now,
        words=words_of(language, job, now, timezone),
        values=values,
        secret=secret,
        job_now=job_now,
        person=person,
        roles=roles,
        is_clock_sure=is_clock_sure,
    )


def _usual_timezone(serving: Serving) -> str | None:
    with serving.book.reading() as connection:
        return usual_timezone(connection)


def _sign_in(serving: Serving) -> Callable[[str], Response]:
    """Return the view that keeps the office's link in a cookie, so that no address shows it."""

    def view(secret: str) -> Response:
        with serving.book.reading() as connection:
            link = find_link(connection, secret)
        if link is None or link.purpose is not LinkPurpose.OFFICE:
            return no_such_link(serving)
        if not link.works_at(serving.now()):
            return no_such_link(serving)
        response = Response(status=303, headers={"Location": f"{OFFICE_HOME}/"})
        response.set_cookie(
            OFFICE_COOKIE,
            secret,
            max_age=_A_YEAR_S,
            secure=serving.address.is_secure,
            httponly=True,
            samesite="Lax",
        )
        return response

    return view


def _feed(serving: Serving, feeds: CalendarFeeds) -> Callable[[str], Response]:
    """Return the view that answers with a calendar."""

    def calendar_feed(secret: str) -> Response:
        return feeds.answer(secret) or no_such_link(serving)

    return calendar_feed


def _health(serving: Serving) -> Callable[[], Response]:
    """Return the view that a monitor looks at."""

    def health() -> Response:
        return health_answer(serving)

    return health


def _refuse_foreign(serving: Serving) -> Callable[[], Response | None]:
    """Return the check that a form was sent from a page of ours, to an address that can be."""

    def check() -> Response | None:
        if not request.path.isprintable():
            # No name of ours has such a sign, and no book takes it.
            return no_such_link(serving)
        if request.method in {"GET", "HEAD", "OPTIONS"}:
            return None
        if request.headers.get("Origin") != own_origin(serving, request):
            return _plain_page(serving, "foreign", 403)
        return None if serving.is_same_book() else _plain_page(serving, "busy", 503)

    return check


def no_such_link(serving: Serving) -> Response:
    """Return the one page for links that are unknown, over, or taken back: it tells them not apart.

    Args:
        serving: How the pages are reached.
    """
    return _plain_page(serving, "no-link", 404)


def _broken(serving: Serving) -> Callable[[Exception], Response]:
    """Return the handler that says a refusal or a failure in words, and never more than it must."""

    def handle(error: Exception) -> Response:
        if isinstance(error, HTTPException):
            status = error.code or 500
            key = {404: "no-link", 405: "no-link", 413: "too-large"}.get(status, "not-understood")
            return _plain_page(serving, key, status)
        if isinstance(error, BookError) and error.code == ErrorCode.BOOK_JOB_UNKNOWN:
            # Who holds a link of that job has no list of jobs to go back to.
            is_office = request.path.startswith(OFFICE_HOME)
            return _plain_page(serving, "no-job" if is_office else "no-link", 404)
        if isinstance(error, BookError) and error.code == ErrorCode.BOOK_BUSY:
            return _plain_page(serving, "busy", 503)
        # The address holds a secret: the error is logged by its kind and code alone.
        code = error.code if isinstance(error, CurecalError) else type(error).__name__
        _log.error("a page failed: %s", code, exc_info=not isinstance(error, CurecalError))
        return _plain_page(serving, "failed", 500)

    return handle


def _plain_page(serving: Serving, key: str, status: int) -> Response:
    language = language_wanted(request, None, None)
    words = words_of(language, None, serving.now())
    return Response(render_plain(words, key), status=status, mimetype="text/html")


def _with_language(response: Response) -> Response:
    """Keep the language that somebody switched to, for the next page."""
    wished = request.args.get("language")
    if wished in languages():
        response.set_cookie(
            LANGUAGE_COOKIE, str(wished), max_age=_A_YEAR_S, httponly=True, samesite="Lax"
        )
    return response


def _with_headers(response: Response) -> Response:
    for name, value in HEADERS.items():
        response.headers.setdefault(name, value)
    response.headers.setdefault("Cache-Control", "no-store")
    return response


_STATIC = Path(__file__).with_name("static")
_TYPES = {".css": "text/css", ".js": "text/javascript", ".webmanifest": "application/manifest+json"}


def _static(name: str) -> Response:
    """Answer with a file of ours; only what is there by its very name."""
    known = {path.name: path for path in _STATIC.iterdir()}
    if name not in known:
        return Response(status=404)
    response = Response(known[name].read_bytes(), mimetype=_TYPES.get(known[name].suffix))
    response.headers["Cache-Control"] = "public, max-age=3600"
    response.add_etag()
    response.make_conditional(request)
    return response
