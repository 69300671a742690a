"""Reading with ical.js, through node: what several mail programs show invitations with."""

from __future__ import annotations

import base64
import json
import subprocess
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from reading import (
    MisreadError,
    Reading,
    Seen,
    failed,
    instant_read,
    reading,
    text_read,
    written_moment,
)

HERE = Path(__file__).resolve().parent


class IcalJs:
    """One node for many files: starting it takes longer than reading."""

    def __init__(self, node: str) -> None:
        """Start node; `node` is where it is."""
        self._process = subprocess.Popen(
            [node, str(HERE / "read.mjs")],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            encoding="utf-8",
        )

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        # Its input at an end, node leaves by itself; this also closes both pipes.
        self._process.communicate()

    def read(self, data: bytes) -> Reading:
        """A calendar as ical.js sees it.

        Args:
            data: The file.

        Returns:
            What it sees.

        Raises:
            RuntimeError: node has died.
        """
        stdin, stdout = self._process.stdin, self._process.stdout
        if stdin is None or stdout is None:
            message = "node has no pipes"
            raise RuntimeError(message)
        stdin.write(f"{base64.b64encode(data).decode()}\n")
        stdin.flush()
        line = stdout.readline()
        if not line:
            message = f"node ended with {self._process.wait()}"
            raise RuntimeError(message)
        said = json.loads(line)
        if said["errors"]:
            return Reading(errors=tuple(said["errors"]))
        try:
            return reading((_seen(event) for event in said["events"]), said["method"])
        except ValueError as error:
            return failed(error)


def _seen(event: dict[str, Any]) -> Seen:
    return Seen(
        text_read(event["uid"]),
        int(event["sequence"]),
        written_moment(event["start"]),
        written_moment(event["end"]),
        text_read(event["summary"]),
        text_read(event["description"]),
        event["location"] or "",
        text_read(event["status"]),
        tuple(sorted(_alarm(alarm) for alarm in event["alarms"])),
        event["organizer"] or "",
    )


def _alarm(text: str) -> Any:
    if text.startswith("relative"):
        raise MisreadError(text)
    return instant_read(written_moment(text))
