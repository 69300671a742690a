"""Messages for whoever looks at the screen or into a folder: to try things out, and for tests."""

from __future__ import annotations

import hashlib
import os
import sys
import tempfile
from pathlib import Path
from typing import TextIO

from curecal.delivery.channels import Answer, Outcome, shown


class ConsoleWire:
    """Prints each message."""

    def __init__(self, stream: TextIO | None = None) -> None:
        self.stream = stream

    def send(self, address: str, data: bytes, *, deadline_s: float) -> Answer:
        """Print a message.

        Args:
            address: Where to.
            data: The message.
            deadline_s: How long it may take at most [s].

        Returns:
            Taken; unsure where the stream broke.
        """
        del deadline_s
        stream = self.stream or sys.stdout
        try:
            stream.write(f"--- to {address}\n{data.decode('utf-8', 'replace')}\n")
            stream.flush()
        except (OSError, ValueError) as error:
            return Answer(Outcome.UNSURE, shown(error))
        return Answer(Outcome.TAKEN)


class FileWire:
    """Writes each message into a folder, whole or not at all; the same one twice is one file."""

    def __init__(self, folder: Path, ending: str = ".eml") -> None:
        self.folder = folder
        self.ending = ending

    def send(self, address: str, data: bytes, *, deadline_s: float) -> Answer:
        """Write a message.

        Args:
            address: Where to.
            data: The message.
            deadline_s: How long it may take at most [s].

        Returns:
            Taken, or why not yet.
        """
        del deadline_s
        name = hashlib.sha256(address.encode() + b"\0" + data).hexdigest()[:32]
        try:
            self.folder.mkdir(parents=True, exist_ok=True, mode=0o700)
            number, made = tempfile.mkstemp(dir=self.folder, prefix=".curecal-")
            try:
                with os.fdopen(number, "wb") as file:
                    file.write(data)
                    file.flush()
                    os.fsync(file.fileno())
                Path(made).replace(self.folder / f"{name}{self.ending}")
            except BaseException:
                Path(made).unlink(missing_ok=True)
                raise
        except OSError as error:
            return Answer(Outcome.LATER, shown(error.strerror or type(error).__name__))
        return Answer(Outcome.TAKEN)
