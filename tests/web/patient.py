"""Asking a server as `httpx` does, with the patience that a busy machine needs."""

from __future__ import annotations

from functools import partial

import httpx

# Longer than any answer takes: it tells one that comes from one that never does.
PATIENCE_S = 60.0

get = partial(httpx.get, timeout=PATIENCE_S)
head = partial(httpx.head, timeout=PATIENCE_S)
post = partial(httpx.post, timeout=PATIENCE_S)
