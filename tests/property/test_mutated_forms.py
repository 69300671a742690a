"""Forms and addresses with something changed in them: refused, or what a person typed there.

A number is taken in the unit that was typed, else in that beside its field; what two people read
differently is asked about. An address with anything changed in its secret opens nothing.
"""

from __future__ import annotations

import random
import re
import unicodedata
import zoneinfo
from collections import Counter
from collections.abc import Callable
from datetime import datetime
from typing import TYPE_CHECKING, Any
from urllib.parse import unquote

import pytest
import read_by_hand as by_hand
from file_mutations import count_of, drawn, spoil_value
from instants_by_hand import instant
from page_samples import COLM, LEAD, MAX, NOW, TESS, PageSite, page_site, said

from curecal.book.jobs.jobs import read_in
from curecal.book.link_purpose import LinkPurpose
from curecal.book.links.links import WantedLink
from curecal.book.links.person_links import create_page_link
from curecal.reminders.messages.feed_ledger import FeedLedger
from curecal.reminders.messages.send_context import SendContext
from curecal.web.page_request import roles_of

if TYPE_CHECKING:
    from pathlib import Path

HALIFAX = zoneinfo.ZoneInfo("America/Halifax")
# As browsers send it; what was typed there is under test.
TYPED: tuple[tuple[str, str, dict[str, str]], ...] = (
    (MAX, "air", {"air": "64,5", "humidity": "58", "low": "61.5 °F"}),
    (MAX, "air", {"air": "18.5 °C", "humidity": "58 %"}),
    (MAX, "surface", {"surface": "62", "at": "2026-10-06T08:00"}),
    (COLM, "floor", {"floor": "62", "heating": "off"}),
    (LEAD, "kept", {"above": "60", "from": "2026-10-06T08:00", "to": "2026-10-07T08:00"}),
    (LEAD, "note", {"text": "Key under the mat, door 12"}),
    (
        COLM,
        "test",
        {
            "cable": "hall/",
            "stage": "delivery",
            "conductor": "58,9",
            "to_earth": "> 2000 MΩ",
            "insulation": "> 550",
            "insulation_at": "500",
            "sensor": "12,1",
            "floor": "62",
            "meter": "M 3",
        },
    ),
    (
        TESS,
        "moisture",
        {
            "layer": "hall/slab",
            "method": "carbide",
            "value": "1,6",
            "points": "3",
            "depth": "1 in",
            "heating_off_for": "24",
        },
    ),
    (
        COLM,
        "protection",
        {"device": "GFCI", "trips_at": "5", "trip_test": "tripped", "trip_time": "18 ms"},
    ),
    (COLM, "thermostat", {"mode": "floor", "limit": "81", "schedule": "off"}),
    (COLM, "step", {"to": "75"}),
    # What a telephone kept while it was away.
    (
        MAX,
        "surface",
        {
            "surface": "61",
            "made_at": "2026-10-07T12:00:00.000Z",
            "phone_at": "2026-10-07T15:00:30.000Z",
        },
    ),
    (LEAD, "visit", {"for": "rough-in", "who": "Colm Byrne", "start": "2026-10-09T09:00"}),
)
# What a figure is of, and the unit beside its field on a job in imperial units.
FIGURES = {
    **dict.fromkeys(
        ("air", "surface", "floor", "low", "above", "limit", "to"), ("temperature", "°F")
    ),
    "humidity": ("share", "%"),
    "insulation_at": ("voltage", "V"),
    "depth": ("length", "in"),
    "heating_off_for": ("duration", "h"),
    "trips_at": ("current", "mA"),
    "trip_time": ("duration", "ms"),
    "value": ("share", "%"),
}
METERS = {"conductor": "Ω", "to_earth": "MΩ", "insulation": "MΩ", "sensor": "kΩ"}
INSTANTS = {"from", "to", "start", "at"}
_FIGURE = re.compile(
    r"(?P<more>[>≥]=? ?)?(?P<figure>[-−–+]? ?[\d.][\d.,'’ ]*?) ?(?P<unit>[^\d.,'’ ].*)?"
)
_THOUSANDS = re.compile(r"\d{1,3}(?:(?P<sign>[ '’.,])\d{3})(?:(?P=sign)\d{3})*(?:[.,]\d+)?")


def _seen(text: str) -> str:
    """Return a text without the signs that nobody sees, which a form leaves out; tabs as blanks."""
    return "".join(
        sign
        for sign in re.sub(r"[\t\n\r\v\f]", " ", text)
        if unicodedata.category(sign) not in {"Cc", "Cs"}
        and sign not in {*by_hand.DIRECTIONS, "\ufeff"}
    )


def typed_figure(text: str, unit: str) -> set[str]:
    """Return how a figure may be written for a reader of quantities; of two ways, both."""
    match = _FIGURE.fullmatch(_seen(text).translate(by_hand.LOOKS).strip())
    if match is None:
        return set()
    figure, own = match["figure"], (match["unit"] or unit).strip()
    readings = {figure.replace(",", ".")}
    grouped = _THOUSANDS.fullmatch(figure.lstrip("+-−– "))
    if grouped:
        sign = grouped["sign"]
        whole = figure.replace(sign, "").replace(",", ".")
        readings = {whole} if sign in " '’" or figure.count(sign) > 1 else {whole, *readings}
    return {f"{match['more'] or ''}{one} {own}" for one in readings}


def read_as(form: str, key: str, text: str) -> Callable[[object], bool]:
    """Return whether a value of the log is what was typed into a field."""
    site = instant(HALIFAX)
    if key in INSTANTS and (form, key) != ("step", "to"):
        return lambda value: isinstance(value, datetime) and value in (site(_seen(text)) or ())
    if key in FIGURES or key in METERS:
        dimension, unit = FIGURES.get(key, ("", METERS.get(key, "")))
        reads = by_hand.quantity(dimension) if dimension else by_hand.resistance_reading
        if key == "value":
            reads = by_hand.moisture
        wanted = {one for way in typed_figure(text, unit) for one in reads(way) or ()}
        return lambda value: bool(wanted & (reads(value) or frozenset()))
    if key == "points":
        return lambda value: str(value) == (_seen(text).strip().lstrip("0") or "0")
    return lambda value: " ".join(str(value).split()) == " ".join(_seen(text).split())


def differing(form: str, typed: dict[str, str], entry: dict[str, Any]) -> list[str]:
    """Return what an entry says that was not typed."""
    wrong = []
    for key, text in typed.items():
        if key in {"layer", "cable", "made_at", "phone_at"} or not _seen(text).strip():
            continue
        if key not in entry or not read_as(form, key, text)(entry[key]):
            wrong.append(f"{key}: {text!r} became {entry.get(key)!r}")
    return wrong


def spoiled(typed: dict[str, str], draw: random.Random) -> dict[str, str]:
    """Return what was typed, with a field or two changed, left out or exchanged."""
    found = dict(typed)
    for _ in range(draw.choice((1, 1, 1, 2))):
        key = draw.choice(sorted(found))
        kind = draw.randrange(8)
        if kind == 0 and len(found) > 1:
            del found[key]
        elif kind == 1:
            other = draw.choice(sorted(found))
            found[key], found[other] = found[other], found[key]
        else:
            found[key] = spoil_value(found[key], draw)
    return found


def test_a_mutated_form_is_refused_or_says_what_was_typed(
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    draw = drawn("form")
    ends: Counter[str] = Counter()
    site: PageSite | None = None
    for number in range(count_of("form")):
        if site is None or len(site.entries()) > 30:
            site = page_site(tmp_path_factory.mktemp("form"))
        person, form, whole = TYPED[number % len(TYPED)]
        typed = spoiled(whole, draw)
        before = site.entries()
        answer = site.send(person, form, typed)
        after = site.entries()
        about = (number, form, typed, answer.status_code)
        assert answer.status_code in {303, 400, 409, 413, 422}, about
        if answer.status_code == 303:
            assert len(after) > len(before), about
            assert not differing(form, typed, after[-1]), (about, differing(form, typed, after[-1]))
            ends["taken"] += 1
        else:
            assert after == before, about
            assert "lert" in answer.get_data(as_text=True), about
            ends["refused"] += 1
    assert min(ends.values()) > count_of("form") // 10, ends


def test_what_was_typed_is_told_from_what_was_not(tmp_path: Path) -> None:
    """What holds the forms to what was typed can fail."""
    site = page_site(tmp_path)
    for person, form, typed in TYPED:
        assert site.send(person, form, typed).status_code == 303, form
        assert differing(form, typed, site.last()) == []
        for key in typed.keys() - {"layer", "cable", "made_at", "phone_at"}:
            assert differing(form, {**typed, key: f"{typed[key]}7"}, site.last()), (form, key)


@pytest.fixture(scope="module")
def addresses(tmp_path_factory: pytest.TempPathFactory) -> tuple[PageSite, list[tuple[str, str]]]:
    """Give pages, and their addresses with the secret in each."""
    site = page_site(tmp_path_factory.mktemp("addresses"))
    found = []
    for person, purpose in (
        (LEAD, LinkPurpose.CREW),
        (COLM, LinkPurpose.ELECTRICIAN),
        ("Kim Lee", LinkPurpose.OWNER),
    ):
        with site.book.writing() as connection:
            job = read_in(connection, site.job_id).job
            assert job is not None
            wanted = WantedLink(job_id=site.job_id, purpose=purpose, person=person)
            roles = roles_of(job, person, NOW)[1]
            made = create_page_link(connection, wanted, roles, now=NOW)
        found.append((f"/p/{made.secret}/", made.secret))
        if person == LEAD:
            found.append((f"/p/{made.secret}/note/air", made.secret))
        found.append((f"/f/{made.feed_secret}/curecal.ics", made.feed_secret))
    assert FeedLedger(site.book, SendContext(), now=lambda: NOW).bring_up() == {}
    return site, found


def spoil_address(path: str, secret: str, draw: random.Random) -> str:
    """Return an address changed: anywhere, or in its secret alone."""
    at = path.index(secret)
    place = at + draw.randrange(len(secret))
    sign = path[place]
    before, after = path[:place], path[place + 1 :]
    odd = draw.choice(("%00", "%2f", "%2e%2e/", "?", "#", ";", "//", "%"))
    whole = path[:at] + spoil_value(secret, draw) + path[at + len(secret) :]
    return draw.choice(
        (
            before + sign.swapcase() + after,
            before + after,
            before + sign + sign + after,
            f"{before}%{ord(sign):02x}{after}",
            before + odd,
            whole,
            whole,
            spoil_value(path, draw),
        )
    )


def test_a_mutated_address_opens_only_what_its_secret_opens(
    addresses: tuple[PageSite, list[tuple[str, str]]],
) -> None:
    site, known = addresses
    draw = drawn("address")
    ends: Counter[str] = Counter()
    for path, _ in known:
        assert site.client.get(path).status_code == 200
    for number in range(count_of("address")):
        path, secret = known[number % len(known)]
        changed = spoil_address(path, secret, draw)
        if not changed.startswith("/"):
            changed = f"/{changed}"
        answer = site.client.get(changed)
        about = (number, path, changed, answer.status_code)
        assert answer.status_code < 500, about
        # Whoever asks leaves out tabs and line ends (WHATWG URL, 4.4).
        asked = unquote(re.split("[?#]", re.sub("[\\t\\r\\n]", "", changed))[0])
        opens = f"/{secret}/" in asked or asked.endswith(f"/{secret}")
        if not opens:
            assert answer.status_code in {301, 302, 308, 400, 404, 405, 410}, about
            assert "Alder Lane" not in answer.get_data(as_text=True), about
        ends["opened" if answer.status_code == 200 else "refused"] += 1
    assert ends["refused"] > ends["opened"]
    assert "Alder Lane" in said(site.client.get(known[0][0]))
