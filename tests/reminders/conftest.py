"""What tests of sending share: a real mail server in a process of its own."""

from __future__ import annotations

import signal
from typing import TYPE_CHECKING

import pytest
from mail_server import MailServer, started

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path


@pytest.fixture
def mail_server(tmp_path: Path, needs: Callable[[str], str]) -> Iterator[MailServer]:
    """Give a real mail server."""
    needs("aiosmtpd")
    server = started(tmp_path / "smtp")
    yield server
    server.process.send_signal(signal.SIGKILL)
    server.process.wait()
