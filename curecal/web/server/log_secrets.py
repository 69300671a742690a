"""Logs without secrets: an address is a key, and servers name those that failed."""

from __future__ import annotations

import logging
import re

# As `secrets.token_urlsafe(32)` makes them; what is longer is hidden as well.
_SECRET = re.compile(r"[\w-]{43,}", re.ASCII)
_PLAIN = logging.Formatter()
_LOGGERS = ("curecal.web.app", "waitress", "waitress.queue")


class WithoutSecrets(logging.Filter):
    """Replaces the secrets in a record, those of its exception too: an address is a key."""

    def filter(self, record: logging.LogRecord) -> bool:
        """Return True, with a record that holds no secret any more."""
        record.msg, record.args = hide_secrets(record.getMessage()), None
        if record.exc_info:
            record.exc_text = hide_secrets(_PLAIN.formatException(record.exc_info))
            record.exc_info = None
        return True


def hide_secrets(text: str) -> str:
    """Return a text without the secrets in it.

    Args:
        text: What was to be logged.
    """
    return _SECRET.sub("…", text)


def hide_secrets_in_logs() -> None:
    """Let nothing that serves the pages log a secret: the server names addresses that failed."""
    for name in _LOGGERS:
        logger = logging.getLogger(name)
        if not any(isinstance(one, WithoutSecrets) for one in logger.filters):
            logger.addFilter(WithoutSecrets())
