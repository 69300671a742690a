"""A real PostgreSQL server for the tests: in a folder of its own, on a socket of its own."""

from __future__ import annotations

import contextlib
import os
import pwd
import shutil
import signal
import subprocess
import tempfile
import time
import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sqlalchemy import URL

if TYPE_CHECKING:
    import psycopg

OWNER = "curecal"
_DEADLINE_S = 60.0
# The server keeps its promises about transactions; that the machine's power may go is left out.
_SETTINGS = ("listen_addresses=", "fsync=off", "max_connections=60", "log_min_messages=fatal")


@dataclass
class Server:
    """A running server: its folder, which holds its socket, and its process of now."""

    folder: Path
    process: subprocess.Popen[bytes]

    def url(self, database: str) -> URL:
        return URL.create(
            "postgresql+psycopg",
            username=OWNER,
            database=database,
            query={"host": str(self.folder)},
        )

    def new_database(self, template: str = "template1") -> str:
        name = f"b{uuid.uuid4().hex}"
        with self.admin() as connection:
            connection.execute(f'CREATE DATABASE {name} TEMPLATE "{template}"')
        return name

    def drop(self, name: str) -> None:
        with self.admin() as connection:
            connection.execute(f"DROP DATABASE {name} WITH (FORCE)")

    @contextlib.contextmanager
    def stopped(self) -> Iterator[None]:
        """Be away while this lasts, all sessions cut off, as a machine that is started anew."""
        self.process.send_signal(signal.SIGQUIT)
        self.process.wait(_DEADLINE_S)
        try:
            yield
        finally:
            (self.folder / "data" / "postmaster.pid").unlink(missing_ok=True)
            self.process = _started(self.process.args, self.folder)
            _wait_for(self)

    @contextlib.contextmanager
    def admin(self, database: str = "postgres") -> Iterator[psycopg.Connection]:
        import psycopg  # noqa: PLC0415 - an extra, which a plain set-up lacks

        with psycopg.connect(
            host=str(self.folder), user=OWNER, dbname=database, autocommit=True
        ) as connection:
            yield connection


def server_program(named: str, kept: Path = Path("/usr/lib/postgresql")) -> str:
    """Return where the server's program is: Debian keeps it outside PATH, a folder a version."""
    if found := shutil.which(named):
        return found
    servers = kept.glob(f"*/bin/{named}")
    newest = max(servers, key=lambda program: float(program.parts[-3]), default=None)
    return str(newest or named)


@contextlib.contextmanager
def running(named: str) -> Iterator[Server]:
    """Start a server and stop it again; as root in the name of a user that is not."""
    postgres = server_program(named)
    programs = Path(postgres).parent
    folder = Path(tempfile.mkdtemp(prefix="curecal-pg-"))
    as_user: list[str] = []
    if os.geteuid() == 0:
        user = pwd.getpwnam("postgres")
        os.chown(folder, user.pw_uid, user.pw_gid)
        as_user = ["setpriv", f"--reuid={user.pw_uid}", f"--regid={user.pw_gid}", "--clear-groups"]
    folder.chmod(0o755)
    data = folder / "data"
    try:
        subprocess.run(
            [
                *as_user,
                str(programs / "initdb"),
                f"--pgdata={data}",
                f"--username={OWNER}",
                "--auth=trust",
                "--encoding=UTF8",
                "--no-locale",
                "--no-sync",
            ],
            check=True,
            capture_output=True,
            cwd=folder,
        )
        settings = [word for setting in _SETTINGS for word in ("-c", setting)]
        command = [*as_user, postgres, "-D", str(data), "-k", str(folder), *settings]
        server = Server(folder, _started(command, folder))
        try:
            _wait_for(server)
            yield server
        finally:
            # SIGINT ends its sessions and then the server, which removes its socket.
            server.process.send_signal(signal.SIGINT)
            server.process.wait(_DEADLINE_S)
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _started(command: Any, folder: Path) -> subprocess.Popen[bytes]:
    return subprocess.Popen(
        command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, cwd=folder
    )


def _wait_for(server: Server) -> None:
    import psycopg  # noqa: PLC0415 - an extra, which a plain set-up lacks

    until = time.monotonic() + _DEADLINE_S
    while True:
        try:
            with server.admin():
                return
        except psycopg.OperationalError:
            if server.process.poll() is not None or time.monotonic() > until:
                raise
            time.sleep(0.05)  # between two looks at a condition that has a deadline
