"""A real SMTP server in a process of its own, which tells in a file what it was given.

    python smtp_server.py PORT PORT_FILE MAIL_FILE [BEHAVIOR_FILE [UNANSWERED_FILE]]

A port of 0 is any free one; which it is stands in the port file once the server answers.
How many mails it has that it has not answered yet stands in the file of the unanswered.

The behavior file holds words, read anew for each mail: `refuse` (550 to each recipient), `later`
(450), `cut` (closes instead of an answer to the recipient), `relay` (554 5.7.1), `login` (530 to
the sender), `hang` (no reply after the mail), `drop` (takes the mail and closes without a reply),
`slow` (a reply after a second, or as many as stand behind it), `never` (550 after the mail).
"""

from __future__ import annotations

import asyncio
import contextlib
import json
import os
import socket
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

from aiosmtpd.smtp import SMTP

if TYPE_CHECKING:
    from collections.abc import Iterator


class Handler:
    """Writes each mail down before it answers."""

    def __init__(
        self, mails: Path, behavior: Path | None = None, unanswered: Path | None = None
    ) -> None:
        self.mails = mails
        self.behavior = behavior
        self.unanswered = unanswered
        self.unanswered_count = 0

    def word(self) -> str:
        if self.behavior is None or not self.behavior.exists():
            return ""
        return self.behavior.read_text(encoding="utf-8").strip()

    async def handle_MAIL(  # noqa: N802 - aiosmtpd's name
        self, server: Any, session: Any, envelope: Any, address: str, options: Any
    ) -> str:
        del server, session, options
        if self.word() == "login":
            return "530 5.7.0 Authentication required"
        envelope.mail_from = address
        return "250 OK"

    async def handle_RCPT(  # noqa: N802 - aiosmtpd's name
        self, server: Any, session: Any, envelope: Any, address: str, options: Any
    ) -> str:
        del session, options
        word = self.word()
        if word == "cut":
            server.transport.close()
        if word == "refuse":
            return "550 no such mailbox"
        if word == "later":
            return "450 mailbox busy"
        if word == "relay":
            return "554 5.7.1 access denied"
        envelope.rcpt_tos.append(address)
        return "250 OK"

    @contextlib.contextmanager
    def one_unanswered(self) -> Iterator[None]:
        """Count a mail until it is answered, or whoever sent it is gone."""
        self._count(1)
        try:
            yield
        finally:
            self._count(-1)

    def _count(self, more: int) -> None:
        self.unanswered_count += more
        if self.unanswered is not None:
            self.unanswered.write_text(str(self.unanswered_count), encoding="utf-8")

    async def handle_DATA(self, server: Any, session: Any, envelope: Any) -> str:  # noqa: N802
        del session
        with self.one_unanswered():
            return await self._answer(server, envelope)

    async def _answer(self, server: Any, envelope: Any) -> str:
        word = self.word()
        if word == "never":
            return "550 not wanted"
        data = envelope.content
        message_id = next(
            line.partition(":")[2].strip()
            for line in data.decode("utf-8", "replace").splitlines()
            if line.lower().startswith("message-id:")
        )
        row = {
            "id": message_id,
            "to": envelope.rcpt_tos,
            "at_s": time.monotonic(),
            "as": word,
            "data": data.decode("latin-1"),
        }
        with self.mails.open("a", encoding="utf-8") as file:
            file.write(json.dumps(row) + "\n")
            file.flush()
            os.fsync(file.fileno())
        if word == "hang":
            await asyncio.sleep(3600)
        if word.startswith("slow"):
            await asyncio.sleep(float(word.removeprefix("slow") or 1.0))
        if word == "drop":
            server.transport.close()
        return "250 taken"


async def serve(port: int, port_file: Path, *files: Path) -> None:
    """Serve until killed."""
    loop = asyncio.get_running_loop()
    listening = socket.socket()
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    listening.bind(("127.0.0.1", port))
    handler = Handler(*files)
    server = await loop.create_server(
        lambda: SMTP(handler, enable_SMTPUTF8=False, hostname="localhost"), sock=listening
    )
    made = port_file.with_suffix(".made")
    made.write_text(str(listening.getsockname()[1]), encoding="utf-8")
    made.replace(port_file)
    async with server:
        await server.serve_forever()


if __name__ == "__main__":
    asyncio.run(serve(int(sys.argv[1]), *(Path(path) for path in sys.argv[2:])))
