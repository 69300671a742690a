"""Logs without secrets: the message, its values, and what an exception says."""

from __future__ import annotations

import logging
import secrets

import pytest

from curecal.web.server.log_secrets import WithoutSecrets, hide_secrets, hide_secrets_in_logs

SECRET = secrets.token_urlsafe(32)


@pytest.fixture
def logger() -> logging.Logger:
    made = logging.getLogger("of this test")
    made.filters = [WithoutSecrets()]
    return made


def test_a_secret_is_hidden_wherever_it_is() -> None:
    assert hide_secrets(f"GET /p/{SECRET}/wrong?x={SECRET}") == "GET /p/…/wrong?x=…"


def test_what_is_no_secret_stays() -> None:
    text = "alder-lane-hall-bath o-0123456789abcdef0123456789abcdef 2026-11-16T14:10:00+00:00"
    assert hide_secrets(text) == text


@pytest.mark.parametrize("values", [(f"/p/{SECRET}/",), (("a", f"/p/{SECRET}/"),)])
def test_values_of_a_message_hold_no_secret(
    logger: logging.Logger, caplog: pytest.LogCaptureFixture, values: tuple[object, ...]
) -> None:
    logger.addHandler(caplog.handler)
    logger.error("failed at %s", *values)
    assert "failed at" in caplog.text
    assert SECRET not in caplog.text


def test_an_exception_holds_no_secret(
    logger: logging.Logger, caplog: pytest.LogCaptureFixture
) -> None:
    logger.addHandler(caplog.handler)
    try:
        {}[SECRET]
    except KeyError:
        logger.exception("failed")
    assert "KeyError" in caplog.text
    assert "test_an_exception_holds_no_secret" in caplog.text
    assert SECRET not in caplog.text


def test_each_logger_is_told_once() -> None:
    hide_secrets_in_logs()
    hide_secrets_in_logs()
    for name in ("waitress", "waitress.queue", "curecal.web.app"):
        own = [one for one in logging.getLogger(name).filters if isinstance(one, WithoutSecrets)]
        assert len(own) == 1
