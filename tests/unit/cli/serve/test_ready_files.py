"""The ready files of `config/` start what there is, the way it is meant to be reached."""

from __future__ import annotations

import configparser
import json
import os
import re
import shlex
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
import tomli

from curecal.cli.remind.start import cycle_maker
from curecal.cli.serve.reach import Reach, ReachAsked, reach_of
from curecal.cli.serve.serve import command
from curecal.cli.shared.page_address import DEFAULT_PORT

if TYPE_CHECKING:
    import click

CONFIG = Path(__file__).parents[4] / "config"
INSTALL = (CONFIG.parent / "curecal/data/manual/install.md").read_text(encoding="utf-8")


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


def unit_text(name: str) -> str:
    return (CONFIG / f"{name}.service").read_text(encoding="utf-8")


def set_by(text: str) -> dict[str, str]:
    """Return the variables that a unit sets."""
    return dict(re.findall(r"^Environment=([A-Z_]+)=(\S+)$", text, re.MULTILINE))


UNITS = pytest.mark.parametrize("name", ["curecal-serve", "curecal-remind"])


@UNITS
def test_a_unit_keeps_book_and_last_writing_where_it_may_write(name: str) -> None:
    text = unit_text(name)
    found = set_by(text)
    # ProtectSystem=strict leaves it nothing else, and ProtectHome=yes no home.
    assert "\nStateDirectory=curecal\n" in text
    for variable in ("CURECAL_BOOK", "XDG_STATE_HOME"):
        assert Path(found[variable]).is_relative_to("/var/lib/curecal")
    # Whoever runs a command as that user notices the same.
    (home,) = re.findall(r"useradd .*--home-dir (\S+) .*curecal$", INSTALL, re.MULTILINE)
    assert found["XDG_STATE_HOME"] == f"{home}/.local/state"


@UNITS
def test_a_unit_starts_with_nothing_but_the_files_that_its_first_lines_make(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    text = unit_text(name)
    (made,) = re.findall(r"^#   install -D -m 600 -o curecal /dev/null (\S+)", text, re.MULTILINE)
    assert f"install -D -m 600 -o curecal /dev/null {made}\n" in INSTALL
    here = tmp_path / made.lstrip("/")
    here.parent.mkdir(parents=True)
    here.touch(0o600)
    for variable in list(os.environ):
        if variable.startswith("CURECAL_"):
            monkeypatch.delenv(variable)
    for variable, value in set_by(text).items():
        put = f"{tmp_path}{value}" if value.startswith("/") else value
        monkeypatch.setenv(variable, put)
    assert cycle_maker(None, None, name="desk")


@UNITS
def test_the_manual_puts_the_program_where_a_unit_looks(name: str) -> None:
    program = re.search(r"^ExecStart=(\S+)", unit_text(name), re.MULTILINE)
    assert program is not None
    (venv,) = re.findall(r"^python3 -m venv (/\S+) && \1/bin/python -m pip", INSTALL, re.MULTILINE)
    assert f"ln -s {venv}/bin/curecal {program[1]}\n" in INSTALL


def test_the_manual_fills_the_book_that_the_unit_serves() -> None:
    found = set_by(unit_text("curecal-serve"))
    for variable in ("CURECAL_BOOK", "CURECAL_ADDRESS"):
        assert f" {variable}={found[variable]} " in INSTALL


def test_the_container_keeps_book_and_last_writing_in_its_volume() -> None:
    text = (CONFIG / "Containerfile").read_text(encoding="utf-8")
    (volume,) = re.findall(r"^VOLUME (\S+)$", text, re.MULTILINE)
    (line,) = re.findall(r"^ENV (.+)$", text, re.MULTILINE)
    found = dict(word.split("=") for word in line.split())
    assert set(found) == {"CURECAL_BOOK", "XDG_STATE_HOME"}
    assert all(Path(place).is_relative_to(volume) for place in found.values())


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
