"""Text and push messages through a real server: what was taken, what was not, what nobody knows."""

from __future__ import annotations

import io
import logging
import socket
import time
import tracemalloc
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING

import gateway_server
import pytest

from curecal.delivery.channel_settings import wires_for
from curecal.delivery.channels import Outcome
from curecal.delivery.push import GatewayWire, check_gateway, spelled
from curecal.errors import SourceError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gateway_server import Gateway

# The gateway's library still uses a module that Python 3.13 has not.
pytestmark = [
    pytest.mark.filterwarnings("ignore:'imghdr':DeprecationWarning"),
    pytest.mark.slow,
]
NUMBER = "+19025550177"
SECRET = "hunter2"  # noqa: S105 - invented, and looked for in what is said


@pytest.fixture
def gateway() -> Iterator[Gateway]:
    found, server = gateway_server.started()
    yield found
    found.over.set()
    server.shutdown()
    server.server_close()


@pytest.fixture
def log() -> Iterator[io.StringIO]:
    """What a program around it would find in its log, were it to keep everything."""
    root, found = logging.getLogger(), io.StringIO()
    handler, level = logging.StreamHandler(found), root.level
    root.addHandler(handler)
    root.setLevel(logging.DEBUG)
    yield found
    root.setLevel(level)
    root.removeHandler(handler)


@pytest.fixture
def nobody() -> Iterator[int]:
    """A port where nobody listens, and that nobody else gets meanwhile."""
    with socket.socket() as held:
        held.bind(("127.0.0.1", 0))
        yield int(held.getsockname()[1])


@pytest.mark.parametrize(
    ("path", "outcome", "is_down"),
    [
        ("sms", Outcome.TAKEN, False),
        # Said no: nothing was taken. Of these the way is shut to every message.
        ("401", Outcome.LATER, True),
        ("403", Outcome.LATER, True),
        ("429", Outcome.LATER, True),
        ("503", Outcome.LATER, True),
        # Sent elsewhere, a message would not be answered by who was to carry it on.
        ("302", Outcome.LATER, True),
        # Of these it is this one.
        ("400", Outcome.LATER, False),
        ("422", Outcome.LATER, False),
        # It had the message, and something went wrong after.
        ("500", Outcome.UNSURE, False),
        ("502", Outcome.UNSURE, False),
        ("504", Outcome.UNSURE, False),
        ("408", Outcome.UNSURE, False),
        ("drop", Outcome.UNSURE, False),
        ("hang", Outcome.UNSURE, False),
        ("drip", Outcome.UNSURE, False),
    ],
)
def test_what_an_answer_means(
    gateway: Gateway,
    log: io.StringIO,
    capsys: pytest.CaptureFixture[str],
    path: str,
    outcome: Outcome,
    *,
    is_down: bool,
) -> None:
    wire = GatewayWire(gateway.url(path + "/{phone}"))
    begun_s = time.monotonic()
    # Time enough for an answer, and where none comes for the message to be on its way.
    deadline_s = 2.0 if path in {"hang", "drip"} else 30.0
    answer = wire.send(NUMBER, b"STOP. The floor must stay off.", deadline_s=deadline_s)
    # The library waits a little of its own; a reply that drips is not waited for.
    assert time.monotonic() - begun_s < 15.0
    assert (answer.outcome, answer.is_down) == (outcome, is_down), answer.reason
    [(where, message)] = gateway.taken
    assert where == f"/{path}/19025550177"
    assert message["message"] == "STOP. The floor must stay off."
    said = answer.reason + log.getvalue() + "".join(capsys.readouterr())
    assert SECRET not in said
    assert "127.0.0.1" not in said


@pytest.mark.parametrize("host", ["127.0.0.1:{port}", "no-such-host.invalid"])
def test_nobody_listens(nobody: int, log: io.StringIO, host: str) -> None:
    url = f"json://office:hunter2hunter2@{host.format(port=nobody)}/" + "{phone}"
    answer = GatewayWire(url).send(NUMBER, b"text", deadline_s=5.0)
    assert (answer.outcome, answer.is_down) == (Outcome.LATER, True)
    assert SECRET not in answer.reason + log.getvalue()


def test_a_message_that_speaks_of_errors_proves_nothing(gateway: Gateway) -> None:
    text = b"error=401 Socket Exception: (Caused by NewConnectionError( error=401."
    answer = GatewayWire(gateway.url("drop/{phone}")).send(NUMBER, text, deadline_s=5.0)
    assert answer.outcome is Outcome.UNSURE


@pytest.mark.parametrize("word", ["flood", "bomb"])
@pytest.mark.parametrize("status", [200, 401])
def test_an_answer_without_end_is_not_read_to_it(gateway: Gateway, word: str, status: int) -> None:
    gateway.status = status
    wire = GatewayWire(gateway.url(word + "/{phone}"))
    tracemalloc.start()
    answer = wire.send(NUMBER, b"text", deadline_s=30.0)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    # The server's own share is a piece of a megabyte, or the packed answer.
    assert peak < 16 << 20
    assert answer.outcome is (Outcome.TAKEN if status == 200 else Outcome.LATER)
    # What the two sides' buffers hold, and no more.
    assert gateway.poured < 32 << 20


@pytest.mark.slow
def test_calls_that_hang_are_counted_and_then_no_more_are_made(gateway: Gateway) -> None:
    wire = GatewayWire(gateway.url("drip/{phone}"))

    def call(_number: int) -> Outcome:
        # A call also ends where no octet comes for so long: each has to hang until the last.
        return wire.send(NUMBER, b"text", deadline_s=5.0).outcome

    with ThreadPoolExecutor(16) as callers:
        assert set(callers.map(call, range(16))) == {Outcome.UNSURE}
    answer = wire.send(NUMBER, b"text", deadline_s=5.0)
    assert (answer.outcome, answer.is_down) == (Outcome.LATER, True)
    assert len(gateway.taken) == 16


def test_a_push_goes_to_a_persons_own_service_however_they_are_spelled(gateway: Gateway) -> None:
    wire = GatewayWire({"Ida.Fennell@Home.example ": gateway.url("ida")})
    answer = wire.send("ida.fennell@home.example", b"Title\n\nBody\nline", deadline_s=5.0)
    assert answer.outcome is Outcome.TAKEN
    [(where, message)] = gateway.taken
    assert (where, message["title"], message["message"]) == ("/ida", "Title", "Body\nline")
    other = wire.send("sam@sparks.example", b"text", deadline_s=5.0)
    assert (other.outcome, other.is_down) == (Outcome.LATER, False)


@pytest.mark.parametrize(
    ("one", "other", "alike"),
    [
        ("+1 902 555-0177", "19025550177", True),
        ("001 (902) 555 0177", "+19025550177", True),
        ("Ida@Home.example", " ida@home.EXAMPLE", True),
        ("ida@home.example", "ada@home.example", False),
        ("owner:Ida Fennell", "OWNER:ida fennell", True),
    ],
)
def test_two_spellings_of_one_person(one: str, other: str, *, alike: bool) -> None:
    assert (spelled(one) == spelled(other)) is alike


@pytest.mark.parametrize(
    ("address", "code"),
    [
        ("json://127.0.0.1/fixed", "gateway-phone"),
        # The library would take it for a setting of its own, and drop it.
        ("json://127.0.0.1/sms?to={phone}", "gateway-phone"),
        ("nonsense://{phone}", "gateway-setting"),
        ("{phone}", "gateway-setting"),
        ("json://127.0.0.1/x/{phone},json://127.0.0.1/y/{phone}", "gateway-setting"),
        # A password would go over an open line, and no answer of it is bounded.
        ("mailto://office:pw@127.0.0.1?smtp=127.0.0.1&to={phone}@sms.example", "gateway-setting"),
        ("mailtos://office:pw@127.0.0.1?to={phone}@sms.example", "gateway-setting"),
        ("syslog://local0?x={phone}", "gateway-setting"),
        ("irc://office:pw@127.0.0.1/{phone}", "gateway-setting"),
    ],
)
def test_a_gateway_that_nobody_could_be_reached_by_is_refused_at_the_start(
    address: str, code: str
) -> None:
    with pytest.raises(SourceError) as refused:
        wires_for({"text": {"gateway": address}}, None)
    assert refused.value.code == code
    assert refused.value.exit_code == 3
    assert "127.0.0.1" not in str(refused.value)


def test_a_number_in_path_or_query_is_good() -> None:
    for address in ("json://127.0.0.1/{phone}", "json://127.0.0.1/sms?-to={phone}"):
        check_gateway("[text] gateway", address, with_phone=True)


@pytest.mark.parametrize(
    ("people", "code"),
    [
        ({"ida@home.example": "nonsense"}, "gateway-setting"),
        ({"ida@home.example": "mailto://office:pw@127.0.0.1?smtp=127.0.0.1"}, "gateway-setting"),
        (
            {"ida@home.example": "json://127.0.0.1/a", "Ida@home.example": "json://127.0.0.1/b"},
            "gateway-twice",
        ),
    ],
)
def test_a_push_service_that_is_none_or_two_is_refused_at_the_start(
    people: dict[str, str], code: str
) -> None:
    with pytest.raises(SourceError) as refused:
        wires_for({"push": people}, None)
    assert refused.value.code == code
