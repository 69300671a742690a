"""Writing to a server that refuses, forgets, breaks off or lies about what it has stored."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from dav_samples import (
    GROUT,
    LATER,
    NOW,
    Example,
    changes,
    crew,
    grout,
    published,
    put,
    uid,
    walk,
)
from ledger_samples import MemoryLedger

from curecal.calendars import RevisionChange
from curecal.delivery.caldav.address import address_of
from curecal.delivery.caldav.collections_store import CalendarCollections
from curecal.delivery.caldav.http_client import Web
from curecal.errors import DeliveryError

if TYPE_CHECKING:
    from dav_hostile import Handler, Hostile, Request

pytestmark = pytest.mark.slow

ERROR = (
    '<?xml version="1.0"?><error xmlns="DAV:" xmlns:C="urn:ietf:params:xml:ns:caldav">{}</error>'
)


def refused(server: Hostile, code: str, *, later: bool = False) -> DeliveryError:
    with pytest.raises(DeliveryError) as caught:
        published(server.place, crew(walk(8 if later else 7), grout()), now=LATER)
    assert caught.value.code == code
    assert caught.value.exit_code == 7
    return caught.value


def nth_put(number: int, play: Callable[[Handler, Request], bool]) -> Callable[..., bool]:
    """Play a trick on one PUT only, counted from 1."""

    def trick(handler: Handler, request: Request) -> bool:
        hit = request.method == "PUT" and handler.home.count("PUT") == number
        return hit and play(handler, request)

    return trick


def on_put(play: Callable[[Handler, Request], bool]) -> Callable[..., bool]:
    return lambda handler, request: request.method == "PUT" and play(handler, request)


def answering(status: int, body: str = "") -> Callable[[Handler, Request], bool]:
    def play(handler: Handler, request: Request) -> bool:
        del request
        handler.answer(status, body.encode())
        return True

    return play


def cut(handler: Handler, request: Request) -> bool:
    del request
    handler.cut()
    return True


def cut_when_stored(handler: Handler, request: Request) -> bool:
    handler.home.store[request.path] = request.body
    return cut(handler, request)


def test_the_honest_server_of_these_tests_is_one(server: Hostile) -> None:
    first = published(server.place, crew(walk(), grout()))
    assert set(changes(first).values()) == {RevisionChange.NEW}
    assert set(server.store) == {f"/cal/{uid()}.ics", f"/cal/{uid(GROUT)}.ics"}
    conditions = [each.headers for each in server.asked if each.method == "PUT"]
    assert all(each["if-none-match"] == "*" and "if-match" not in each for each in conditions)
    server.asked.clear()
    before = server.etag(f"/cal/{uid()}.ics")
    assert changes(published(server.place, crew(walk(8), grout()), now=LATER)) == {
        uid(): RevisionChange.CHANGED,
        uid(GROUT): RevisionChange.UNCHANGED,
    }
    sent = [each.headers for each in server.asked if each.method == "PUT"]
    assert [each.get("if-match") for each in sent] == [before]


@pytest.mark.parametrize(
    ("status", "code"),
    [
        (507, "dav-full"),
        (500, "dav-server-failed"),
        (503, "dav-server-failed"),
        (403, "dav-forbidden"),
        (401, "web-unauthorized"),
        (413, "dav-refused"),
        (303, "dav-refused"),
    ],
)
def test_a_refusal_is_a_delivery_error(server: Hostile, status: int, code: str) -> None:
    server.trick = on_put(answering(status))
    refused(server, code)
    assert server.count("PUT") == 1


def test_what_was_done_before_a_failure_is_said_and_completed_by_the_next(
    server: Hostile,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("HOME", str(tmp_path))
    job = Example.copied(tmp_path)
    server.trick = nth_put(3, answering(507))
    assert job.run(server.place, "--for", "crew") == 7
    ended = capsys.readouterr()
    assert "2 of 3 entries were written." in ended.out
    assert f"{server.place}: 2 new" in ended.out
    assert "has no room left" in ended.err
    server.trick = None
    assert job.run(server.place, "--for", "crew", as_of="2026-12-02 21:00") == 0
    assert f"{server.place}: 1 new, 2 as before" in capsys.readouterr().out
    assert server.count("PUT") == 4


def test_cut_off_after_it_was_stored_counts_as_stored(server: Hostile) -> None:
    server.trick = nth_put(1, cut_when_stored)
    reached = published(server.place, crew(walk(), grout()))
    assert set(changes(reached).values()) == {RevisionChange.NEW}
    assert server.count("PUT") == 2
    assert server.count("GET") == 1


def test_cut_off_before_it_was_stored_is_an_error(server: Hostile) -> None:
    server.trick = nth_put(2, cut)
    refused(server, "web-cut")
    assert len(server.store) == 1
    server.trick = None
    published(server.place, crew(walk(), grout()), now=LATER)
    assert len(server.store) == 2


def test_cut_off_forever_ends(server: Hostile) -> None:
    server.trick = cut
    refused(server, "web-cut")
    assert len(server.asked) == 1


def test_a_precondition_that_never_holds_ends(
    server: Hostile,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("HOME", str(tmp_path))
    server.trick = on_put(answering(412))
    assert Example.copied(tmp_path).run(server.place, "--for", "crew") == 7
    assert "keeps changing the calendar" in capsys.readouterr().err
    assert 2 <= server.count("PUT") <= 5


def test_somebody_else_writes_first_and_we_decide_again(server: Hostile) -> None:
    published(server.place, crew(walk(), grout()))
    path = f"/cal/{uid()}.ics"

    def edit(handler: Handler, request: Request) -> bool:
        del request
        handler.home.store[path] = handler.home.store[path].replace(b"SEQUENCE:0", b"SEQUENCE:5")
        return False

    server.asked.clear()
    server.trick = nth_put(1, edit)
    reached = published(server.place, crew(walk(8), grout()), now=LATER)
    assert reached.events[uid()].sequence == 6
    assert b"SEQUENCE:6" in server.store[path]
    assert server.count("PUT") == 2


def test_gone_while_we_write_is_made_anew(server: Hostile) -> None:
    published(server.place, crew(walk(), grout()))

    def delete(handler: Handler, request: Request) -> bool:
        del handler.home.store[request.path]
        handler.answer(404)
        return True

    server.asked.clear()
    server.trick = nth_put(1, delete)
    reached = published(server.place, crew(walk(8), grout()), now=LATER)
    assert changes(reached)[uid()] is RevisionChange.NEW
    assert len(server.store) == 2


@pytest.mark.parametrize("status", [409, 403])
def test_a_uid_that_is_elsewhere_is_found_and_updated_there(server: Hostile, status: int) -> None:
    published(server.place, crew(walk(), grout()))
    server.store["/cal/hidden.ics"] = server.store.pop(f"/cal/{uid()}.ics")

    def play(handler: Handler, request: Request) -> bool:
        if request.method == "PROPFIND":
            # A listing that leaves the resource out.
            kept = handler.home.store.pop("/cal/hidden.ics")
            handler.honest(request)
            handler.home.store["/cal/hidden.ics"] = kept
            return True
        if request.method == "PUT" and request.path == f"/cal/{uid()}.ics":
            handler.answer(status, ERROR.format("<C:no-uid-conflict/>").encode())
            return True
        return False

    server.trick = play
    reached = published(server.place, crew(walk(8), grout()), now=LATER)
    assert changes(reached)[uid()] is RevisionChange.CHANGED
    assert b"SEQUENCE:1" in server.store["/cal/hidden.ics"]
    assert f"/cal/{uid()}.ics" not in server.store


def test_a_uid_that_is_nowhere_to_be_found_ends(server: Hostile) -> None:
    server.trick = on_put(answering(409))
    refused(server, "dav-uid-elsewhere")
    assert server.count("PUT") == 1


def test_without_an_etag_after_writing_it_is_read_again(server: Hostile) -> None:
    server.etag_after_put = False
    published(server.place, crew(walk(), grout()))
    assert server.count("GET") == 2


def test_a_server_that_stores_something_else_is_found_out(server: Hostile) -> None:
    server.etag_after_put = False

    def twist(handler: Handler, request: Request) -> bool:
        handler.home.store[request.path] = request.body.replace(b"20261207", b"20261206")
        handler.answer(201)
        return True

    server.trick = on_put(twist)
    refused(server, "dav-altered")


def test_a_weak_etag_is_never_a_condition(server: Hostile) -> None:
    published(server.place, crew(walk(), grout()))
    server.etag_prefix = "W/"
    server.asked.clear()
    assert published(server.place, crew(walk(), grout()), now=LATER).put_back == []
    refused(server, "dav-weak-etag", later=True)
    assert server.count("PUT") == 0
    assert server.count("GET") == 1


def test_a_weak_etag_in_the_list_alone_is_asked_again(server: Hostile) -> None:
    published(server.place, crew(walk(), grout()))

    def weakly(handler: Handler, request: Request) -> bool:
        handler.home.etag_prefix = "W/" if request.method in {"PROPFIND", "REPORT"} else ""
        return False

    server.trick = weakly
    reached = published(server.place, crew(walk(8), grout()), now=LATER)
    assert changes(reached)[uid()] is RevisionChange.CHANGED


def test_collections_of_the_jobs_own_are_made_under_the_address(server: Hostile) -> None:
    address = address_of(f"{server.url}/calendars")
    feed = crew(walk())
    with Web(address, None, limit_s=10.0) as web:
        store = CalendarCollections.beneath(web, [feed], address)
        put(store, feed, MemoryLedger(), now=NOW)
    assert server.collections == {"/cal/", "/calendars/alder-lane-7-crew/"}
    made = next(each for each in server.asked if each.method == "MKCALENDAR")
    assert b"<displayname>Alder Lane &lt;7&gt; &amp; Co.</displayname>" in made.body
    assert store.reached[0].created


def not_there(handler: Handler, request: Request) -> bool:
    """Answer for a collection that is missing with a 207 that says so inside."""
    if request.method != "PROPFIND" or request.path in handler.home.collections:
        return False
    status = "<status>HTTP/1.1 404 Not Found</status>"
    inside = f"<propstat><prop><resourcetype/><getetag/></prop>{status}</propstat>"
    handler.multistatus(f"<response><href>{request.path}</href>{inside}</response>")
    return True


def test_a_207_that_says_404_inside_is_a_collection_that_is_missing(server: Hostile) -> None:
    server.trick = not_there
    address = address_of(f"{server.url}/calendars")
    feed = crew(walk())
    with Web(address, None, limit_s=10.0) as web:
        store = CalendarCollections.beneath(web, [feed], address)
        put(store, feed, MemoryLedger(), now=NOW)
    assert store.reached[0].created
    with pytest.raises(DeliveryError) as caught:
        published(f"{server.url}/none/", feed)
    assert caught.value.code == "dav-no-collection"


@pytest.mark.parametrize(
    ("status", "code"), [(403, "dav-not-created"), (409, "dav-not-created"), (507, "dav-full")]
)
def test_a_collection_that_cannot_be_made_is_said(server: Hostile, status: int, code: str) -> None:
    address = address_of(f"{server.url}/calendars/")
    feed = crew(walk())

    def play(handler: Handler, request: Request) -> bool:
        return request.method == "MKCALENDAR" and answering(status)(handler, request)

    server.trick = play
    with Web(address, None, limit_s=10.0) as web:
        store = CalendarCollections.beneath(web, [feed], address)
        with pytest.raises(DeliveryError) as caught:
            put(store, feed, MemoryLedger(), now=NOW)
    assert caught.value.code == code
    assert server.store == {}
