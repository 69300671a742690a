"""How pages are reached: other machines get in only where somebody said how."""

from __future__ import annotations

import pytest

from curecal.book.link_purpose import LinkPurpose
from curecal.cli.serve.reach import Reach, is_loopback, own_address, reach_of
from curecal.cli.serve.serve import command
from curecal.cli.shared.page_address import address_of_pages, link_address, origin_in
from curecal.errors import UsageError

EVERYWHERE = ".".join("0000")


def reach(host: str = "127.0.0.1", address: str | None = None, **said: bool) -> Reach:
    return reach_of(
        {},
        host=host,
        port=8080,
        address=address,
        trust_proxy=said.get("trust_proxy", False),
        plain_http=said.get("plain_http", False),
    )


def test_without_a_host_only_this_machine_is_answered() -> None:
    (host,) = [option for option in command.params if option.name == "host"]
    assert is_loopback(str(host.default))


@pytest.mark.parametrize("host", ["127.0.0.1", "127.8.0.1", "localhost", "::1", "[::1]"])
def test_this_machine_needs_no_leave(host: str) -> None:
    assert is_loopback(host)
    assert not reach(host).is_secure


@pytest.mark.parametrize("host", [EVERYWHERE, "::", "192.168.1.5", "pages.example", ""])
def test_other_machines_need_it(host: str) -> None:
    with pytest.raises(UsageError, match="serve-beyond"):
        reach(host)
    assert reach(host, plain_http=True).is_plain
    assert reach(host, "https://pages.example", trust_proxy=True).is_secure


def test_a_proxy_does_https_and_its_address_is_known() -> None:
    for address in (None, "http://pages.example"):
        with pytest.raises(UsageError, match="serve-proxy-address"):
            reach(address=address, trust_proxy=True)
    with pytest.raises(UsageError, match="serve-one-way"):
        reach(address="https://pages.example", trust_proxy=True, plain_http=True)


def test_the_address_that_people_are_given() -> None:
    assert reach().base(8091) == "http://127.0.0.1:8091"
    assert reach("::1").base(8091) == "http://[::1]:8091"
    assert reach(EVERYWHERE, plain_http=True).base(80) == f"http://{own_address()}:80"
    assert reach(address="https://pages.example/", trust_proxy=True).base(1) == (
        "https://pages.example"
    )


@pytest.mark.parametrize(
    ("typed", "origin"),
    [
        ("https://Pages.Example:443/", "https://pages.example"),
        ("http://10.0.0.2:80", "http://10.0.0.2"),
        ("http://[fe80::1]:8080", "http://[fe80::1]:8080"),
    ],
)
def test_an_origin_is_as_a_browser_tells_it(typed: str, origin: str) -> None:
    assert origin_in(typed) == origin


def test_links_of_commands_begin_with_the_address_that_is_known() -> None:
    environment = {"CURECAL_ADDRESS": "https://pages.example"}
    assert address_of_pages(None, environment) == "https://pages.example"
    assert address_of_pages("http://other.example", environment) == "http://other.example"
    assert address_of_pages(None, {}) == "http://127.0.0.1:8080"
    assert link_address("b", LinkPurpose.OFFICE, "s") == "b/in/s"
    assert link_address("b", LinkPurpose.CREW, "s") == "b/p/s/"
    assert link_address("b", LinkPurpose.FEED, "s") == "b/f/s/curecal.ics"
