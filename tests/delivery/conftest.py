"""A real calendar server on this machine, with a password, for one test each."""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import httpx
import pytest
from dav_hostile import Hostile, hostile
from dav_samples import LEDGERS
from dav_server import PASSWORD, USER, Server
from lasting_ports import lasting_port

_READY_S = 120.0


@pytest.fixture
def radicale(tmp_path: Path, needs: Callable[[str], str]) -> Iterator[Server]:
    """The server, ready to be asked."""
    needs("radicale")
    users = tmp_path / "users"
    users.write_text(f"{USER}:{PASSWORD}\n", encoding="utf-8")
    port = lasting_port()
    server = Server(f"http://127.0.0.1:{port}", tmp_path / "store")
    settings = tmp_path / "settings"
    settings.write_text(
        f"[server]\nhosts = 127.0.0.1:{port}\n"
        f"[auth]\ntype = htpasswd\nhtpasswd_filename = {users}\nhtpasswd_encryption = plain\n"
        "delay = 0\n"
        f"[storage]\nfilesystem_folder = {server.folder}\n[rights]\ntype = owner_only\n",
        encoding="utf-8",
    )
    command = [sys.executable, "-m", "radicale", "--config", str(settings)]
    with (tmp_path / "server.log").open("wb") as log:
        running = subprocess.Popen(command, stdout=log, stderr=log)
        try:
            _wait(server, running, tmp_path / "server.log")
            yield server
        finally:
            running.terminate()
            running.wait(timeout=_READY_S)


def _wait(server: Server, running: subprocess.Popen[bytes], log: Path) -> None:
    """Wait until the server answers."""
    deadline = time.monotonic() + _READY_S
    while time.monotonic() < deadline:
        assert running.poll() is None, log.read_text(encoding="utf-8")
        try:
            httpx.get(server.url, trust_env=False, timeout=10.0)
        except httpx.TransportError:
            continue
        return
    pytest.fail("the server is not ready")


@pytest.fixture(autouse=True)
def no_ledger() -> None:
    """Nothing was published before a test."""
    LEDGERS.clear()


@pytest.fixture
def known(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """The user's name and password, as the command finds them."""
    monkeypatch.setenv("CURECAL_CALDAV_USER", USER)
    monkeypatch.setenv("CURECAL_CALDAV_PASSWORD", PASSWORD)
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.delenv("NETRC", raising=False)
    monkeypatch.delenv("CURECAL_COMPANY", raising=False)


@pytest.fixture
def server() -> Iterator[Hostile]:
    """A server of our own that can be told to misbehave."""
    with hostile() as home:
        yield home
