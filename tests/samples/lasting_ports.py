"""Ports for servers that are told theirs before they start, or go away and come back.

A port that the system chose by itself may be anybody's next as soon as nobody holds it: these are
below all that it chooses from (32768 and up on Linux, 49152 and up elsewhere, RFC 6335, 6).
"""

from __future__ import annotations

import itertools
import os
import socket

_FIRST, _COUNT = 15_000, 15_000
# Processes that run side by side begin far apart.
_numbers = itertools.count(os.getpid() * 97)


def lasting_port() -> int:
    """Return a port that nobody has, and that nobody gets by chance."""
    while True:
        port = _FIRST + next(_numbers) % _COUNT
        try:
            with socket.create_server(("127.0.0.1", port)):
                return port
        except OSError:
            continue
