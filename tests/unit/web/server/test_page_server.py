"""The pages' server in this process: its port, who is silent, and how it ends."""

from __future__ import annotations

import socket
import threading
import time

import httpx
import patient
import pytest
from flask import Flask

from curecal.errors import UsageError
from curecal.web.server.http_server import PageServer

SLOW_S = 0.5


def app(begun: threading.Event | None = None) -> Flask:
    made = Flask("test", static_folder=None)

    def answer() -> str:
        return "here"

    def slow() -> str:
        if begun is not None:
            begun.set()
        time.sleep(SLOW_S)
        return "x" * 300_000

    made.add_url_rule("/", view_func=answer)
    made.add_url_rule("/slow", view_func=slow)
    return made


def test_a_port_that_is_taken_is_said() -> None:
    first = PageServer(app(), host="127.0.0.1", port=0)
    first.start()
    with pytest.raises(UsageError) as refused:
        PageServer(app(), host="127.0.0.1", port=first.port)
    assert (refused.value.code, refused.value.params["port"]) == ("serve-port", first.port)
    first.stop()
    with pytest.raises(UsageError, match="serve-port"):
        PageServer(app(), host="no such host", port=0)


def test_what_is_being_answered_comes_to_its_end() -> None:
    begun, ended = threading.Event(), threading.Event()
    server = PageServer(app(begun), host="127.0.0.1", port=0)
    server.ended = ended.set
    server.start()
    found: list[httpx.Response] = []
    url = f"http://127.0.0.1:{server.port}/"
    asking = threading.Thread(target=lambda: found.append(patient.get(f"{url}slow")))
    asking.start()
    assert begun.wait(60)
    server.stop()
    asking.join(60)
    assert len(found[0].content) == 300_000
    assert ended.wait(60)
    assert not server.has_failed
    with pytest.raises(httpx.ConnectError):
        patient.get(url)


def test_whoever_sends_nothing_more_is_gone(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("curecal.web.server.http_server._SILENT_S", 1)
    monkeypatch.setattr("curecal.web.server.http_server._LOOKED_FOR_SILENT_S", 1)
    server = PageServer(app(), host="127.0.0.1", port=0)
    server.start()
    try:
        with socket.create_connection(("127.0.0.1", server.port), timeout=60) as wire:
            wire.sendall(b"POST / HTTP/1.1\r\nHost: here\r\nContent-Length: 1000\r\n\r\nhalf")
            assert wire.recv(1) == b""
        assert patient.get(f"http://127.0.0.1:{server.port}/").text == "here"
    finally:
        server.stop()
