"""`curecal serve`: pages, calendar feeds and reminders in one process."""

from __future__ import annotations

import contextlib
import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Unpack

import click

from curecal.cli.book.book import book_named, book_option
from curecal.cli.book.book_shown import say_refused
from curecal.cli.links.links import address_option
from curecal.cli.remind.start import now_utc, sending_options
from curecal.cli.shared.page_address import DEFAULT_PORT, LOOPBACK
from curecal.errors import JobRefused, SourceError, UsageError

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from curecal.book.connection.open_book import Book
    from curecal.cli.serve.reach import Reach, ReachAsked
    from curecal.web.server.http_server import PageServer

_LARGEST_PORT = 65535
_EXTRA = ("flask", "PIL", "segno", "waitress")


@click.command("serve")
@click.argument("jobs", metavar="[JOB]...", nargs=-1, type=click.Path(path_type=Path))
@click.option("--host", default=LOOPBACK, show_default=True, help="Address to answer on.")
@click.option(
    "--port",
    type=click.IntRange(0, _LARGEST_PORT),
    default=DEFAULT_PORT,
    show_default=True,
    help="Port to answer on; 0 takes a free one.",
)
@address_option
@click.option(
    "--trust-proxy",
    is_flag=True,
    help="A proxy for https is in front: believe it about who asks. Needs --address.",
)
@click.option(
    "--plain-http",
    is_flag=True,
    help="Answer other machines, without https: see `curecal guide pages`.",
)
@click.option(
    "--no-reminders", is_flag=True, help="Send no messages: `curecal remind run` sends them."
)
@click.option("--demo", is_flag=True, help="A throw-away book with the example jobs.")
@sending_options
@book_option
def command(
    *,
    jobs: Sequence[Path],
    no_reminders: bool,
    demo: bool,
    company: Path | None,
    instead: str | None,
    place: str | None,
    **reached: Unpack[ReachAsked],
) -> int:
    """Serve pages and calendar feeds to phones, and send reminders.

    JOB files go into the book first, and the links of their people are printed. Whoever has a
    link already keeps it. Ctrl-C or SIGTERM stops it.
    """
    from curecal.cli.book.put_in_book import added_from_file
    from curecal.cli.serve.demo import demo_jobs
    from curecal.cli.serve.reach import reach_of

    _refuse_without_extra()
    reach = reach_of(os.environ, **reached)
    with contextlib.ExitStack() as ends:
        if demo:
            if place is not None or jobs:
                raise UsageError("serve-demo-alone")
            folder, jobs = ends.enter_context(demo_jobs())
            place = str(folder / "book.sqlite3")
            # Whoever is in an example is nobody: nothing may leave for them.
            instead = instead or f"file:{folder / 'messages'}"
        now = now_utc()
        try:
            added = [added_from_file(job, company=company, place=place, now=now)[0] for job in jobs]
        except JobRefused as refused:
            return say_refused(refused, as_json=False)
        return _serve(
            reach,
            place,
            [one.job_id for one in added],
            company=company,
            instead=instead,
            no_reminders=no_reminders,
        )


def _refuse_without_extra() -> None:
    from importlib.util import find_spec

    if any(find_spec(name) is None for name in _EXTRA):
        raise SourceError("serve-extra")


def _serve(
    reach: Reach,
    place: str | None,
    job_ids: Sequence[str],
    *,
    company: Path | None,
    instead: str | None,
    no_reminders: bool,
) -> int:
    """Open the book, print the links of the jobs that were named, and serve until told to stop."""
    from curecal.cli.remind.start import cycle_maker, say_cautions, say_cycle, started
    from curecal.cli.serve.new_links import say_new_links
    from curecal.cli.serve.running import run_both
    from curecal.reminders.sending.daemon import EVERY_S, Daemon, owner_name
    from curecal.web.feeds.feed_rounds import FeedRounds
    from curecal.words.sentences import plain_words

    words = plain_words()
    with contextlib.ExitStack() as ends:
        rounds: Daemon | FeedRounds
        if no_reminders:
            book = ends.enter_context(book_named(place))
            rounds = FeedRounds(book, now=now_utc)
        else:
            cycle_of = cycle_maker(company, instead, name=owner_name())
            cycle, _ = started(lambda: book_named(place), cycle_of, words, every_s=EVERY_S)
            book = ends.enter_context(cycle.book)
            say_cautions(cycle, words)
            rounds = Daemon(cycle, said=lambda done: say_cycle(done, words, as_json=False))
        pages = _page_server(reach, book, rounds.look_now)
        base = reach.base(pages.port)
        if job_ids:
            say_new_links(book, job_ids, base, now=now_utc())

        def told() -> None:
            _say_served(reach, base, book, instead, no_reminders=no_reminders)

        return run_both(pages, rounds, started=told)


def _page_server(reach: Reach, book: Book, look_now: Callable[[], None]) -> PageServer:
    """Return the server with its port taken, so that a taken one is said before anything else."""
    from curecal.web.app import make_app
    from curecal.web.server.http_server import PageServer
    from curecal.web.serving import PageAddress, Serving

    # Without a proxy the pages are reached by several names: each request says which.
    origin = reach.address if reach.is_behind_proxy else ""
    address = PageAddress(origin=origin, is_secure=reach.is_behind_proxy)
    app = make_app(Serving(book, address, written=look_now))
    if reach.is_behind_proxy:
        from werkzeug.middleware.proxy_fix import ProxyFix

        # One proxy, ours: what it says of who asks and how, and nothing that came from farther.
        app.wsgi_app = ProxyFix(app.wsgi_app, x_for=1, x_proto=1, x_host=1)  # type: ignore[method-assign]
    return PageServer(app, host=reach.host, port=reach.port, behind_proxy=reach.is_behind_proxy)


def _say_served(
    reach: Reach, base: str, book: Book, instead: str | None, *, no_reminders: bool
) -> None:
    """Print where the pages are, and what does not work the way they are served."""
    from curecal.cli.book.book_shown import say
    from curecal.cli.remind.remind_shown import hold_text, words_of_book
    from curecal.delivery.channel_settings import mail_server, settings_from
    from curecal.words.sentences import plain_words

    words = plain_words()
    said = []
    if reach.is_plain:
        said.append(words.text("serve.plain"))
    if no_reminders:
        said.append(words.text("serve.no-reminders"))
    else:
        with book.reading() as connection:
            said += hold_text(connection, words_of_book(connection, now_utc())).splitlines()
        if instead is not None:
            said.append(words.text("serve.instead", {"place": instead}))
        elif mail_server(settings_from(os.environ)) is None:
            said.append(words.text("serve.no-mail"))
    say([*said, words.text("serve.at", {"address": base})])
    sys.stdout.flush()
