"""Many people at once on one file: nobody is turned away, and nothing that was taken is lost."""

from __future__ import annotations

import os
import secrets
import threading
import time
from collections import Counter
from typing import TYPE_CHECKING

import httpx
import pytest
from live_site import BATHROOM, ROOT, live_site

from curecal.book.jobs.log_entries import entries_of
from curecal.book.link_purpose import LinkPurpose

if TYPE_CHECKING:
    from collections.abc import Callable

pytestmark = pytest.mark.slow

READERS, WRITERS = 50, 5
KITCHEN = "kelpwharf-kitchen"
FOR_S = 60.0 if os.environ.get("CURECAL_TESTS_LONG") == "1" else 10.0


def test_fifty_readers_and_five_writers(tmp_path_factory: pytest.TempPathFactory) -> None:
    files = tuple(
        ROOT / "examples" / name / "job.toml" for name in ("bathroom", "kitchen-two-zones")
    )
    with live_site(tmp_path_factory.mktemp("many"), files) as site, site.served() as address:
        homes = [
            f"{address}/p/{site.secret(job_id, LinkPurpose.OWNER)}/"
            for job_id in (BATHROOM, KITCHEN)
        ]
        answers: Counter[int | str] = Counter()
        taken: list[str] = []
        slowest_s = [0.0]
        lock, ends_at = threading.Lock(), time.monotonic() + FOR_S

        def note(status: int | str, took_s: float, entry_id: str = "") -> None:
            with lock:
                answers[status] += 1
                slowest_s[0] = max(slowest_s[0], took_s)
                if entry_id and status == 200:
                    taken.append(entry_id)

        def many(ask: Callable[[httpx.Client], tuple[int, str]], pause_s: float) -> None:
            with httpx.Client(timeout=60) as client:
                while time.monotonic() < ends_at:
                    began = time.monotonic()
                    try:
                        status, entry_id = ask(client)
                    except httpx.HTTPError as error:
                        note(type(error).__name__, time.monotonic() - began)
                        continue
                    note(status, time.monotonic() - began, entry_id)
                    time.sleep(pause_s)

        def read(number: int) -> Callable[[httpx.Client], tuple[int, str]]:
            return lambda client: (client.get(homes[number % 2]).status_code, "")

        def write(client: httpx.Client) -> tuple[int, str]:
            entry_id = f"o-{secrets.token_hex(16)}"
            form = {"entry_id": entry_id, "cause": "other", "reason": "one of many"}
            answer = client.post(f"{homes[0]}wrong", data=form, headers={"Origin": address})
            return answer.status_code, entry_id

        threads = [
            *(threading.Thread(target=many, args=(read(one), 0.2)) for one in range(READERS)),
            *(threading.Thread(target=many, args=(write, 0.5)) for _ in range(WRITERS)),
        ]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        with site.book.reading() as connection:
            kept = Counter(entry.entry_id for entry in entries_of(connection, BATHROOM))
        assert set(answers) == {200}, answers
        assert len(taken) >= WRITERS
        assert {kept[entry_id] for entry_id in taken} == {1}
        # Of everybody at once: common practice calls ten seconds the end of a person's patience.
        assert slowest_s[0] < 10, slowest_s
        print(f"{answers.total()} answers, {len(taken)} entries, slowest {slowest_s[0]:.2f} s")  # noqa: T201 - shown by .ci/long
