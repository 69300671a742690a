"""What a gateway answers, read up to a limit: the library that asks it would read it whole."""

from __future__ import annotations

import importlib
from collections.abc import Iterator
from functools import cache
from typing import Protocol

# An answer says yes or no, and perhaps why.
LARGEST_ANSWER_BYTES = 1 << 18
# A packed answer is unpacked a little at a time: so much of it is no more than some megabytes.
_CHUNK_BYTES = 1 << 10


class _Raw(Protocol):
    def stream(self, amt: int, *, decode_content: bool | None) -> Iterator[bytes]: ...

    def close(self) -> None: ...


class BoundedAnswer:
    """An answer as it comes in; what is beyond the limit is left unread, and the line is closed."""

    def __init__(self, raw: _Raw) -> None:
        self._raw = raw

    def stream(self, amt: int, *, decode_content: bool | None = None) -> Iterator[bytes]:
        """Give the answer in pieces, up to the limit.

        Args:
            amt: How much is asked for at a time [bytes]; less is read.
            decode_content: Whether it is unpacked.

        Yields:
            The pieces.
        """
        left = LARGEST_ANSWER_BYTES
        for piece in self._raw.stream(min(amt, _CHUNK_BYTES), decode_content=decode_content):
            yield piece[:left]
            left -= len(piece)
            if left <= 0:
                self._raw.close()
                return

    def __getattr__(self, name: str) -> object:
        """Return all else as the answer has it."""
        return getattr(self._raw, name)


@cache
def bound_answers() -> None:
    """Let every answer that the gateways' library reads from now on be bounded."""
    sessions = importlib.import_module("requests.sessions")

    class BoundedAdapter(sessions.HTTPAdapter):  # type: ignore[misc, name-defined]
        def build_response(self, request: object, raw: _Raw) -> object:
            response = super().build_response(request, raw)
            response.raw = BoundedAnswer(raw)
            return response

    # Each session mounts the adapter of this name.
    sessions.HTTPAdapter = BoundedAdapter  # type: ignore[attr-defined]
