"""What an owner's page costs in a book of many jobs, against a bare page of the same app.

    python tests/bench/owner_page.py [jobs]

The bare page is the one for a link that does not work: it asks the book for the link and shows one
text. Processor time of one request by the app itself, both in turn; the median of each. The page is
asked again within its minute, and once a minute it is planned anew: both are shown.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

from curecal.book.connection.open_book import book_url, open_book
from curecal.book.jobs.import_job import add_ready
from curecal.book.jobs.validated_job import ready_job
from curecal.book.link_purpose import LinkPurpose
from curecal.book.links.links import WantedLink, create_link
from curecal.web.app import make_app
from curecal.web.serving import Serving

EXAMPLE = Path(__file__).resolve().parents[2] / "examples" / "bathroom" / "job.toml"
NOW = datetime(2026, 12, 1, 8, tzinfo=UTC)
ASKED = 200
LIMIT = 4.0


def main(count: int) -> None:
    """Fill a book, ask for both pages in turn, and print what each took."""
    text = EXAMPLE.read_text(encoding="utf-8")
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        with open_book(book_url(str(folder / "book.db"), {})) as book:
            for number in range(count):
                file = folder / "job.toml"
                file.write_text(text.replace("alder-lane", f"lane-{number}", 1), encoding="utf-8")
                job_id = add_ready(book, ready_job(file, now=NOW), now=NOW).job_id
                with book.writing() as connection:
                    wanted = WantedLink(
                        job_id=job_id, purpose=LinkPurpose.OWNER, person="Ida Fennell"
                    )
                    secret, _ = create_link(connection, wanted, now=NOW)
            clock = {"now": NOW}
            app = make_app(Serving(book, now=lambda: clock["now"])).test_client()

            def took_us(path: str, status: int) -> float:
                begun = time.process_time()
                answer = app.get(path)
                took = time.process_time() - begun
                if answer.status_code != status:
                    raise SystemExit(answer.status)
                return took * 1e6

            page, bare = f"/p/{secret}/", "/p/no-such-link/"
            took: dict[str, list[float]] = {"bare": [], "page": [], "planned anew": []}
            for asked in range(ASKED):
                took["bare"].append(took_us(bare, 404))
                if asked % 10 == 0:
                    clock["now"] += timedelta(minutes=1)
                    took["planned anew"].append(took_us(page, 200))
                took["page"].append(took_us(page, 200))
    middle = {what: statistics.median(figures) for what, figures in took.items()}
    lines = [f"owner's page in a book of {count} jobs, processor time of the app"]
    lines += [
        f"  {what:13s} {us:8.0f} us   {us / middle['bare']:5.2f} x bare"
        for what, us in middle.items()
    ]
    lines.append(f"  wanted: the page at most {LIMIT} x bare")
    sys.stdout.write("\n".join(lines) + "\n")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100)
