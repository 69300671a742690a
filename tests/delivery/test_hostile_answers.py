"""Answers that lead astray, never end, are no XML or more than that, or reach for the terminal."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from dav_hostile import CALENDAR, HEAD, Handler, Hostile, Request, elapsed_s, hostile, response
from dav_samples import Example, crew, grout, published, uid, walk

from curecal.delivery.caldav.address import address_of
from curecal.delivery.caldav.credentials import Credentials
from curecal.delivery.caldav.http_client import LARGEST_BYTES, Web
from curecal.errors import DeliveryError, UsageError

pytestmark = pytest.mark.slow

SECRET = Credentials("robin", "sesame open")
LAUGHS = (
    '<?xml version="1.0"?><!DOCTYPE m [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">'
    '<!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;">]><multistatus xmlns="DAV:">&c;</multistatus>'
)
OUTSIDE = (
    '<?xml version="1.0"?><!DOCTYPE m [<!ENTITY a SYSTEM "file:///etc/hostname">]>'
    '<multistatus xmlns="DAV:">&a;</multistatus>'
)
DEEP = '<multistatus xmlns="DAV:">' + "<a>" * 100_000


@pytest.fixture
def other() -> Iterator[Hostile]:
    """A second server, which nobody named."""
    with hostile() as home:
        yield home


def refused(place: str, code: str, known: Credentials | None = SECRET) -> DeliveryError:
    with pytest.raises(DeliveryError) as caught:
        published(place, crew(walk(), grout()), known=known)
    assert caught.value.code == code
    return caught.value


def leading(status: int, to: Callable[[Request], str]) -> Callable[[Handler, Request], bool]:
    def play(handler: Handler, request: Request) -> bool:
        handler.answer(status, Location=to(request))
        return True

    return play


def saying(body: bytes, status: int = 207) -> Callable[[Handler, Request], bool]:
    def play(handler: Handler, request: Request) -> bool:
        del request
        handler.answer(status, body)
        return True

    return play


@pytest.mark.parametrize("status", [301, 302, 307, 308])
def test_another_host_gets_nothing(server: Hostile, other: Hostile, status: int) -> None:
    server.trick = leading(status, lambda request: f"{other.url}{request.path}")
    error = refused(server.place, "web-elsewhere")
    assert str(error.params["other"]).startswith(other.url)
    assert other.asked == []
    assert "authorization" in server.asked[0].headers


@pytest.mark.parametrize(
    "to",
    [
        "https://127.0.0.1/cal/",
        "//elsewhere.example/cal/",
        "http://robin:x@127.0.0.1/cal/",
        "file:///etc/hostname",
        "",
        "http://127.0.0.1:99999/",
    ],
)
def test_a_redirect_off_the_server_is_refused(server: Hostile, to: str) -> None:
    play = leading(301, lambda _: to)
    server.trick = lambda handler, request: len(server.asked) < 30 and play(handler, request)
    with pytest.raises(DeliveryError) as caught:
        published(server.place, crew(walk()), known=SECRET)
    # An empty reference is the same address again.
    assert caught.value.code == ("web-elsewhere" if to else "web-circle")


def test_a_redirect_on_the_same_server_is_followed_with_its_method(server: Hostile) -> None:
    def play(handler: Handler, request: Request) -> bool:
        if request.path.startswith("/old/"):
            handler.answer(308, Location=request.path.replace("/old/", "/cal/"))
            return True
        return False

    server.trick = play
    published(f"{server.url}/old/", crew(walk()), known=SECRET)
    assert set(server.store) == {f"/cal/{uid()}.ics"}
    assert [each.method for each in server.asked] == ["PROPFIND", "PROPFIND", "PUT"]


def test_a_redirect_of_what_is_written_keeps_its_body(server: Hostile) -> None:
    def play(handler: Handler, request: Request) -> bool:
        if request.method == "PUT" and "?" not in request.path and handler.home.count("PUT") == 1:
            handler.answer(307, Location=request.path)
            return True
        return False

    server.trick = play
    published(server.place, crew(walk()))
    puts = [each for each in server.asked if each.method == "PUT"]
    assert len(puts) == 2
    assert puts[0].body == puts[1].body == server.store[f"/cal/{uid()}.ics"]


def test_a_circle_ends(server: Hostile) -> None:
    server.trick = leading(302, lambda request: f"{request.path}x/")
    refused(server.place, "web-circle")
    assert len(server.asked) == 6


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"<html>Welcome</html>",
        b"<multistatus xmlns='DAV:'><response>",
        b"\x00\xff\xfe",
        HEAD.encode() + b"<nothing/>",
        LAUGHS.encode(),
        LAUGHS.encode("utf-16"),
        OUTSIDE.encode(),
        DEEP.encode(),
    ],
    ids=["empty", "page", "cut", "octets", "other", "laughs", "laughs-wide", "outside", "deep"],
)
def test_what_is_no_answer_is_refused(server: Hostile, body: bytes) -> None:
    server.trick = saying(body)
    refused(server.place, "dav-unreadable")
    assert len(server.asked) == 1


def test_an_answer_without_end_is_cut_off(server: Hostile) -> None:
    def play(handler: Handler, request: Request) -> bool:
        del request
        handler.send_response(207)
        handler.send_header("Connection", "close")
        handler.end_headers()
        handler.close_connection = True
        part = b"x" * (1 << 16)
        for _ in range(2 * LARGEST_BYTES // len(part)):
            handler.wfile.write(part)
        return True

    server.trick = play
    refused(server.place, "web-too-large")


def test_a_packed_answer_is_not_unpacked(server: Hostile) -> None:
    def play(handler: Handler, request: Request) -> bool:
        assert request.headers["accept-encoding"] == "identity"
        handler.answer(207, b"\x1f\x8b", Content_Encoding="gzip")
        return True

    server.trick = play
    refused(server.place, "web-encoded")


@pytest.mark.parametrize("where", ["headers", "body"])
def test_an_answer_that_drips_ends_with_the_time(server: Hostile, where: str) -> None:
    def play(handler: Handler, request: Request) -> bool:
        del request
        head = b"HTTP/1.1 207 Multi-Status\r\n"
        if where == "body":
            handler.wfile.write(head + b"Content-Length: 100000\r\n\r\n")
        handler.drip((head if where == "headers" else b"") + b"X" * 100_000)
        return True

    server.trick = play
    address = address_of(server.place)

    def run() -> None:
        with Web(address, None, limit_s=1.0) as web, pytest.raises(Exception, match="web-slow"):
            web.ask("PROPFIND", address)

    # The limit is one second; the rest is for a busy machine.
    assert elapsed_s(run) < 10.0


def test_a_slow_answer_to_the_command(
    server: Hostile,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("HOME", str(tmp_path))

    def play(handler: Handler, request: Request) -> bool:
        del request
        handler.home.stopping.wait(30.0)
        handler.cut()
        return True

    server.trick = play
    job = Example.copied(tmp_path)
    assert job.run(server.place, "--for", "owner", "--timeout", "1") == 7
    assert "did not answer within 1 second." in capsys.readouterr().err


@pytest.mark.parametrize(
    "href",
    ["http://elsewhere.example/cal/a.ics", "/other/a.ics", "/cal/../other/a.ics", "/cal/b/c.ics"],
)
def test_a_resource_outside_the_calendar_is_refused(server: Hostile, href: str) -> None:
    def play(handler: Handler, request: Request) -> bool:
        if request.method != "PROPFIND":
            return False
        outside = response(href, '<getetag>"a"</getetag>')
        handler.multistatus(response("/cal/", CALENDAR), outside)
        return True

    server.trick = play
    refused(server.place, "dav-href-elsewhere")


@pytest.mark.parametrize("status", [404, 400, 500, 403, 401])
def test_no_control_character_of_an_answer_reaches_the_terminal(
    server: Hostile,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    status: int,
) -> None:
    monkeypatch.setenv("HOME", str(tmp_path))
    evil = "\x1b]0;owned\x07\x9b31m\u202e"
    body = f'<error xmlns="DAV:"><no-{evil}/></error>'.encode()
    server.trick = saying(body, status)
    assert Example.copied(tmp_path).run(server.place, "--for", "crew") == 7
    ended = capsys.readouterr()
    assert not {"\x1b", "\x07", "\x9b", "\u202e"} & set(ended.out + ended.err)
    assert len(ended.err.strip().splitlines()) == 1


def test_digest_is_used_where_it_is_asked_for(server: Hostile) -> None:
    def play(handler: Handler, request: Request) -> bool:
        if request.headers.get("authorization", "").startswith("Digest "):
            return False
        handler.answer(401, WWW_Authenticate='Digest realm="r", nonce="n", qop="auth"')
        return True

    server.trick = play
    published(server.place, crew(walk()), known=SECRET)
    assert len(server.store) == 1


def test_a_password_goes_nowhere_in_the_clear() -> None:
    with pytest.raises(UsageError) as caught:
        Web(address_of("http://dav.example/cal/"), SECRET, limit_s=1.0)
    assert caught.value.code == "address-not-encrypted"
    assert "sesame" not in str(caught.value)


def test_a_server_that_does_not_speak_tls_is_not_reached(server: Hostile) -> None:
    error = refused(server.place.replace("http:", "https:"), "web-unreachable")
    assert error.params["host"] == "127.0.0.1"
    assert server.asked == []


def test_nobody_is_there(server: Hostile) -> None:
    place = server.place
    with hostile() as gone:
        place = gone.place
    refused(place, "web-unreachable")
