"""How `curecal book paper` asks for a paper and shows what the book knows of it."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from curecal.cli.book.book_shown import say, words_in
from curecal.errors import SourceError
from curecal.records import PlainTable

if TYPE_CHECKING:
    from pathlib import Path

    from curecal.book.jobs.written_papers import FoundPaper, WrittenPaper

# As many digits as stand at the foot of a record, at least.
_HASH = re.compile(r"[0-9a-f]{16,64}", re.IGNORECASE)


def hash_asked(named: Path) -> tuple[str, bool]:
    """Return the hash of a paper, and whether it is that of a file: else somebody typed it.

    Raises:
        SourceError: There is no such file, or it cannot be read.
    """
    import hashlib

    if _HASH.fullmatch(str(named)) and not named.exists():
        return str(named).lower(), False
    try:
        with named.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest(), True
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise SourceError("file-unreadable", path=str(named), reason=reason) from None


def say_papers(found: tuple[FoundPaper, ...], *, is_file: bool) -> None:
    """Print which papers of the book have a hash, and whether their jobs have gone on since."""
    from curecal.words.sentences import plain_words
    from curecal.words.values import clean

    plain = plain_words()
    if not found:
        say([plain.text(f"book.paper.{'unknown' if is_file else 'unknown-hash'}")], style="bad")
    for known in found:
        words = words_in(known.timezone)
        written = known.paper
        params = {
            "what": words.text(f"book.paper.{written.kind}"),
            "draft": words.text("book.paper.draft") if written.draft else "",
            "language": written.language,
            "name": clean(known.job_name),
            "job_id": clean(known.job_id),
            "recorded_at": written.recorded_at,
            "as_of": written.as_of,
            "revision": str(written.revision),
        }
        say([words.text(f"book.paper.{'unchanged' if is_file else 'known'}", params)], style="good")
        say([words.text("book.paper.stood-on", params)], indent=2)
        _say_newer(known)
    if found and not is_file:
        say([plain.text("book.paper.hash-alone")], style="warn")


def _say_newer(known: FoundPaper) -> None:
    from curecal.words.sentences import plain_words

    words = plain_words()
    if known.is_of_now:
        say([words.text("book.paper.of-now")], indent=2)
        return
    say([words.text("book.paper.earlier")], indent=2, style="warn")
    counted = {"revisions": known.newer_revision_count, "entries": known.newer_entry_count}
    texts = [
        words.text(f"book.paper.newer-{what}", {"count": count})
        for what, count in counted.items()
        if count
    ]
    say(texts, indent=2)


def found_json(known: FoundPaper) -> PlainTable:
    """Return a paper of a job as machine output."""
    return {
        "job_id": known.job_id,
        "job": known.job_name,
        **paper_json(known.paper),
        "newer_revisions": known.newer_revision_count,
        "newer_entries": known.newer_entry_count,
    }


def paper_json(written: WrittenPaper) -> PlainTable:
    """Return a paper as machine output."""
    return {
        "paper": written.kind,
        "language": written.language,
        "draft": written.draft,
        "sha256": written.sha256,
        "record_sha256": written.record_sha256 or None,
        "recorded_at": written.recorded_at,
        "as_of": written.as_of,
        "revision": written.revision,
        "entries": written.entry_count,
    }
