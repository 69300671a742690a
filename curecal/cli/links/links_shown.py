"""How links are shown: in a list without their secrets, and once with it when they are made."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

import click

from curecal.cli.book.book_shown import say
from curecal.cli.shared.page_address import link_address
from curecal.records import PlainTable

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from datetime import datetime

    from curecal.book.links.links import Link
    from curecal.book.links.person_links import MadeLink
    from curecal.words.sentences import Words


def say_links(links: Iterable[Link], names: Mapping[str, str], words: Words, now: datetime) -> None:
    """Print links, one paragraph each, those of a job under its name."""
    told: str | None = None
    for link in sorted(links, key=lambda link: (link.job_id, link.created_at, link.id)):
        if link.job_id != told:
            told = link.job_id
            say([names.get(told, told) if told else words.text("links.whole-book")], style="head")
        say([words.text("links.row", _row(link, words, now))], indent=2)
    if told is None:
        say([words.text("links.none")])


def _row(link: Link, words: Words, now: datetime) -> PlainTable:
    ended = link.revoked_at or (None if link.works_at(now) else link.expires_at)
    used = link.last_used_at
    return {
        "id": link.id,
        "what": words.text(f"links.what.{link.purpose}"),
        "person": link.person,
        "note": link.note or None,
        "made_at": _past(link.created_at),
        "until_at": None if ended else link.expires_at,
        "ended_at": None if ended is None else _past(ended),
        "used_at": None if used is None else _past(used),
        "unused": words.text("links.unused") if used is None else None,
    }


def _past(at: datetime) -> datetime:
    """Return the full minute of what has happened: instants are shown rounded up."""
    return at.replace(second=0, microsecond=0)


def say_once() -> None:
    """Print, above links that were just made, that their addresses are shown only now."""
    from curecal.words.sentences import plain_words

    say([plain_words().text("links.once"), ""])


def say_made(made: MadeLink, base: str, *, with_feed: bool) -> None:
    """Print a link that was just made, and its QR where somebody can scan it.

    Its page shows the feed beside it, so that a list of many links can do without.
    """
    from curecal.words.sentences import plain_words

    words = plain_words()
    address = link_address(base, made.link.purpose, made.secret)
    what = words.text(f"links.what.{made.link.purpose}")
    say([words.text("links.made", {"person": made.link.person, "what": what, "id": made.link.id})])
    # In one piece, so that it can be copied.
    click.echo(f"  {address}")
    if with_feed and made.feed is not None:
        feed = link_address(base, made.feed.purpose, made.feed_secret)
        say([words.text("links.feed", {"id": made.feed.id})], indent=2)
        click.echo(f"  {feed}")
    show_qr(address)


def show_qr(address: str) -> None:
    """Draw an address on a terminal to be scanned; nothing into a pipe, nor without the extra."""
    if not sys.stdout.isatty():
        return
    try:
        import segno
    except ImportError:
        return
    import io

    drawn = io.StringIO()
    segno.make(address, error="l", micro=False).terminal(out=drawn, compact=True)
    for line in drawn.getvalue().splitlines():
        # In its own two colors: a camera reads it on light terminals and on dark ones.
        click.echo(click.style(line, fg="bright_white", bg="black"))


def link_json(link: Link, now: datetime) -> PlainTable:
    """Return a link as machine output; its secret is nowhere."""
    return {
        "id": link.id,
        "job_id": link.job_id or None,
        "for": link.purpose.value,
        "person": link.person,
        "note": link.note or None,
        "works": link.works_at(now),
        "created_at": link.created_at,
        "expires_at": link.expires_at,
        "revoked_at": link.revoked_at,
        "last_used_at": link.last_used_at,
    }


def made_json(made: MadeLink, base: str, now: datetime) -> PlainTable:
    """Return a link that was just made as machine output, with its address."""
    feed = None
    if made.feed is not None:
        address = link_address(base, made.feed.purpose, made.feed_secret)
        feed = {**link_json(made.feed, now), "address": address}
    address = link_address(base, made.link.purpose, made.secret)
    return {**link_json(made.link, now), "address": address, "feed": feed}
