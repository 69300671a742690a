"""The ready files of `config/` start what there is, the way it is meant to be reached."""

from __future__ import annotations

import configparser
import json
import re
import shlex
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
import tomli

from curecal.cli.serve.reach import Reach, ReachAsked, reach_of
from curecal.cli.serve.serve import command
from curecal.cli.shared.page_address import DEFAULT_PORT

if TYPE_CHECKING:
    import click

CONFIG = Path(__file__).parents[4] / "config"


def reached(words: list[str], environment: dict[str, str]) -> tuple[Reach, click.Context]:
    """How pages are reached that a command line serves."""
    assert words[0] == "serve"
    context = command.make_context("serve", words[1:])
    asked: ReachAsked = {
        "host": context.params["host"],
        "port": context.params["port"],
        "address": context.params["address"],
        "trust_proxy": context.params["trust_proxy"],
        "plain_http": context.params["plain_http"],
    }
    return reach_of(environment, **asked), context


def test_the_unit_serves_behind_a_proxy_and_is_started_again() -> None:
    unit = configparser.ConfigParser(strict=False, interpolation=None)
    unit.optionxform = str  # type: ignore[assignment,method-assign]
    text = (CONFIG / "curecal-serve.service").read_text(encoding="utf-8")
    unit.read_string(text)
    words = shlex.split(unit["Service"]["ExecStart"])
    address = re.search(r"^Environment=CURECAL_ADDRESS=(?P<url>\S+)$", text, re.MULTILINE)
    assert address is not None
    found, context = reached(words[1:], {"CURECAL_ADDRESS": address["url"]})
    assert (found.host, found.is_secure, found.is_behind_proxy) == ("127.0.0.1", True, True)
    assert not context.params["no_reminders"]
    assert (unit["Service"]["Restart"], unit["Unit"]["StartLimitIntervalSec"]) == ("always", "0")


def test_the_container_takes_its_address_from_whoever_starts_it() -> None:
    text = (CONFIG / "Containerfile").read_text(encoding="utf-8")
    entry, words = (
        json.loads(found)
        for found in re.findall(r"^(?:ENTRYPOINT|CMD) (\[.*\])$", text, re.MULTILINE)
    )
    assert entry == ["curecal"]
    found, _ = reached(words, {"CURECAL_ADDRESS": "https://pages.example"})
    assert found.is_secure
    assert f"EXPOSE {DEFAULT_PORT}" in text


def test_the_container_has_all_that_the_package_is_made_of() -> None:
    text = (CONFIG / "Containerfile").read_text(encoding="utf-8")
    copied = set(" ".join(re.findall(r"^COPY (.+) /src/", text, re.MULTILINE)).split())
    settings = tomli.loads((CONFIG.parent / "pyproject.toml").read_text(encoding="utf-8"))
    project, wheel = settings["project"], settings["tool"]["hatch"]["build"]["targets"]["wheel"]
    made_of = {"pyproject.toml", project["readme"], *project["license-files"]}
    assert copied == made_of | {*wheel["packages"], *wheel["force-include"]}
    (extras,) = re.findall(r"/src\[([a-z,]+)\]", text)
    assert {*extras.split(",")} == {*project["optional-dependencies"]} - {"test", "peers", "dev"}


@pytest.mark.parametrize("logger", ["http.log.access", "http.log.error"])
def test_the_proxy_finds_the_pages_and_logs_no_address(logger: str) -> None:
    text = (CONFIG / "Caddyfile").read_text(encoding="utf-8")
    assert f"reverse_proxy 127.0.0.1:{DEFAULT_PORT}" in text
    (excluded,) = re.findall(r"^\s+exclude (.+)$", text, re.MULTILINE)
    assert logger in excluded.split()
