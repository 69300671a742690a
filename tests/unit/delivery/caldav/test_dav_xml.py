"""Requests are XML whatever stands in them; answers are values or refused."""

from __future__ import annotations

from xml.etree import ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curecal.delivery.caldav.dav_xml import (
    Found,
    UnreadableError,
    mkcalendar,
    multiget,
    multistatus,
    precondition,
    propfind,
    query_uid,
)

PRINTABLE = st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"]), max_size=40)
ANSWER = """<?xml version="1.0"?>
<D:multistatus xmlns:D="DAV:" xmlns:C="urn:ietf:params:xml:ns:caldav">
 <D:response><D:href>/cal/</D:href>
  <D:propstat><D:prop><D:resourcetype><D:collection/><C:calendar/></D:resourcetype></D:prop>
   <D:status>HTTP/1.1 200 OK</D:status></D:propstat>
  <D:propstat><D:prop><D:getetag/></D:prop><D:status>HTTP/1.1 404 Not Found</D:status></D:propstat>
 </D:response>
 <D:response><D:href> /cal/a.ics </D:href>
  <D:propstat><D:prop><D:getetag>"1"</D:getetag>
   <C:calendar-data>BEGIN:VCALENDAR&#13;
END:VCALENDAR</C:calendar-data></D:prop><D:status>HTTP/1.1 200 OK</D:status></D:propstat>
 </D:response>
 <D:response><D:href>/cal/gone.ics</D:href><D:status>HTTP/1.1 404 Not Found</D:status></D:response>
 <D:response/>
</D:multistatus>"""


def test_an_answer_is_read() -> None:
    assert multistatus(ANSWER.encode()) == (
        Found("/cal/", "", None, calendar=True),
        Found("/cal/a.ics", '"1"', "BEGIN:VCALENDAR\r\nEND:VCALENDAR", calendar=False),
        Found("/cal/gone.ics", is_there=False),
    )


def test_a_404_inside_an_answer_says_that_nothing_is_there() -> None:
    stat = "<propstat><prop><getetag/></prop><status>HTTP/1.1 {} x</status></propstat>"
    for codes, is_there in (((404,), False), ((404, 404), False), ((200, 404), True), ((), True)):
        stats = "".join(stat.format(code) for code in codes)
        body = (
            f'<multistatus xmlns="DAV:"><response><href>/a</href>{stats}</response></multistatus>'
        )
        assert multistatus(body.encode()) == (Found("/a", is_there=is_there),)


@given(PRINTABLE)
def test_whatever_stands_in_a_request_it_is_text(text: str) -> None:
    for body in (mkcalendar(text), multiget([text]), query_uid(text)):
        root = ET.fromstring(body.decode())  # noqa: S314 - our own octets
        assert text in {each.text or "" for each in root.iter()}


def test_the_plain_request_is_xml() -> None:
    assert ET.fromstring(propfind()).tag == "{DAV:}propfind"  # noqa: S314 - our own octets


@given(st.binary(max_size=200))
def test_any_octets_are_an_answer_or_refused(body: bytes) -> None:
    with pytest.raises(UnreadableError):
        multistatus(body)
    assert precondition(body) == ""


@given(st.integers(0, len(ANSWER) - 1), st.binary(min_size=1, max_size=4))
def test_a_damaged_answer_never_breaks_the_reader(at: int, put: bytes) -> None:
    body = ANSWER.encode()
    damaged = body[:at] + put + body[at + len(put) :]
    try:
        found = multistatus(damaged)
    except UnreadableError:
        return
    assert all(each.href for each in found)


@pytest.mark.parametrize(
    ("body", "name"),
    [
        (b'<error xmlns="DAV:"><lock-token-submitted/></error>', "lock-token-submitted"),
        (b'<e:error xmlns:e="DAV:"><no-uid-conflict xmlns="x"/></e:error>', "no-uid-conflict"),
        (b'<error xmlns="DAV:"/>', ""),
        (b'<error xmlns="DAV:"><\xc3\xa9t\xc3\xa9/></error>', ""),
        (b"<html/>", ""),
        (b"", ""),
    ],
)
def test_the_rule_an_error_names(body: bytes, name: str) -> None:
    assert precondition(body) == name


@pytest.mark.parametrize(
    "head",
    [
        "<!DOCTYPE a>",
        '<!DOCTYPE a [<!ENTITY b "c">]>',
        '<!DOCTYPE a SYSTEM "file:///etc/hostname">',
        '<!DOCTYPE a [<!ENTITY % b SYSTEM "http://elsewhere.example/">%b;]>',
    ],
)
def test_a_declared_type_is_refused(head: str) -> None:
    with pytest.raises(UnreadableError):
        multistatus(f'{head}<multistatus xmlns="DAV:"/>'.encode())
    assert multistatus(b'<multistatus xmlns="DAV:"/>') == ()
