"""A real SMTP server in a process of its own, which tells in a file what it was given.

    python smtp_server.py PORT_FILE MAIL_FILE [BEHAVIOR_FILE]

The behavior file holds words, read anew for each mail: `refuse` (550 to each recipient), `later`
(450), `relay` (554 5.7.1), `login` (530 to the sender), `hang` (no reply after the mail), `drop`
(takes the mail and closes without a reply), `slow` (a reply after a second), `never` (550 after the
mail).
"""

from __future__ import annotations

import asyncio
import json
import os
import socket
import sys
from pathlib import Path
from typing import Any

from aiosmtpd.smtp import SMTP


class Handler:
    """Writes each mail down before it answers."""

    def __init__(self, mails: Path, behavior: Path | None) -> None:
        self.mails = mails
        self.behavior = behavior

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
        del server, session, options
        word = self.word()
        if word == "refuse":
            return "550 no such mailbox"
        if word == "later":
            return "450 mailbox busy"
        if word == "relay":
            return "554 5.7.1 access denied"
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, server: Any, session: Any, envelope: Any) -> str:  # noqa: N802
        del session
        word = self.word()
        if word == "never":
            return "550 not wanted"
        data = envelope.content
        message_id = next(
            line.partition(":")[2].strip()
            for line in data.decode("utf-8", "replace").splitlines()
            if line.lower().startswith("message-id:")
        )
        row = {"id": message_id, "to": envelope.rcpt_tos, "data": data.decode("latin-1")}
        with self.mails.open("a", encoding="utf-8") as file:
            file.write(json.dumps(row) + "\n")
            file.flush()
            os.fsync(file.fileno())
        if word == "hang":
            await asyncio.sleep(3600)
        if word == "slow":
            await asyncio.sleep(1.0)
        if word == "drop":
            server.transport.close()
        return "250 taken"


async def serve(port_file: Path, mails: Path, behavior: Path | None) -> None:
    """Serve until killed."""
    loop = asyncio.get_running_loop()
    listening = socket.socket()
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    listening.bind(("127.0.0.1", 0))
    handler = Handler(mails, behavior)
    server = await loop.create_server(
        lambda: SMTP(handler, enable_SMTPUTF8=False, hostname="localhost"), sock=listening
    )
    made = port_file.with_suffix(".made")
    made.write_text(str(listening.getsockname()[1]), encoding="utf-8")
    made.replace(port_file)
    async with server:
        await server.serve_forever()


if __name__ == "__main__":
    paths = [Path(each) for each in sys.argv[1:]]
    asyncio.run(serve(paths[0], paths[1], paths[2] if len(paths) > 2 else None))
