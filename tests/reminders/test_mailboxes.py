"""Six jobs for eight weeks through a real mail server: each mailbox reads as it did."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

import pytest
from six_jobs import MAILBOXES, days_of, live

if TYPE_CHECKING:
    from pathlib import Path

    from mail_server import MailServer


@pytest.mark.slow
def test_each_mailbox_reads_as_it_did(tmp_path: Path, mail_server: MailServer) -> None:
    found = live(tmp_path, mail_server)
    known = {path.stem: path.read_text(encoding="utf-8") for path in MAILBOXES.glob("*.txt")}
    assert found == known


def test_six_jobs_are_one_message_a_day_besides_what_goes_at_once() -> None:
    text = (MAILBOXES / "robin.txt").read_text(encoding="utf-8")
    usual = [part for part in text.split("\n== ") if "STOP" not in part.splitlines()[0]]
    days = Counter(part.removeprefix("== ")[:10] for part in usual)
    assert set(days.values()) == {1}
    for street in ("alder", "birch", "cedar", "dogwood", "elm", "fir"):
        mailbox = (MAILBOXES / f"{street}.txt").read_text(encoding="utf-8")
        # Eight, and a number each morning of the ramp.
        assert len(days_of(mailbox)) <= 12
