"""A real mail server in a process of its own, and waiting for conditions."""

from __future__ import annotations

import json
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

HERE = Path(__file__).parent


def wait_for(condition: Callable[[], Any], *, within_s: float = 120.0, what: str = "") -> Any:
    """Return what a condition gives once it gives anything; fail at the deadline."""
    end_s = time.monotonic() + within_s
    while time.monotonic() < end_s:
        found = condition()
        if found:
            return found
        time.sleep(0.01)
    pytest.fail(f"waited {within_s:g} s in vain: {what or condition}", pytrace=False)


@dataclass
class MailServer:
    """The server's port, and what it was given so far."""

    process: subprocess.Popen[bytes]
    port: int
    mails: Path
    behavior: Path
    unanswered: Path

    def behave(self, word: str) -> None:
        """Say how the server treats the mails to come."""
        self.behavior.write_text(word, encoding="utf-8")

    def taken(self) -> list[dict[str, Any]]:
        """Return all mails in order, as the server wrote them down."""
        if not self.mails.exists():
            return []
        lines = self.mails.read_text(encoding="utf-8").splitlines()
        return [json.loads(line) for line in lines if line.endswith("}")]

    def counts(self) -> dict[str, int]:
        """Return how often each Message-ID came."""
        found: dict[str, int] = {}
        for each in self.taken():
            found[each["id"]] = found.get(each["id"], 0) + 1
        return found


def started(folder: Path, port: int = 0) -> MailServer:
    """Start a server, on any free port where none is named, and wait until it answers."""
    folder.mkdir(parents=True, exist_ok=True)
    port_file = folder / "port"
    port_file.unlink(missing_ok=True)
    files = (folder / "mails", folder / "behavior", folder / "unanswered")
    process = subprocess.Popen(
        [sys.executable, str(HERE / "smtp_server.py"), *map(str, (port, port_file, *files))],
        stdin=subprocess.DEVNULL,
    )
    wait_for(port_file.exists, what="the mail server's port")
    return MailServer(process, int(port_file.read_text(encoding="utf-8")), *files)
