"""Outputs in README and the manual: running each command that is shown, and writing them anew.

    python tests/golden/doc_outputs.py            name the documents that are out of date
    python tests/golden/doc_outputs.py --write    bring them all up to date

A block of ```console holds commands, each after `$ ` and followed by what it prints; a backslash at
the end of a line carries a command on. All blocks of one document run in order, in a copy of the
examples, on one fixed morning: an entry that one command adds is there for the next. What is not
`curecal` goes to the shell, and so does the rest of a pipe. A table between
`<!-- generated: NAME -->` and `<!-- end -->` is made from the data.
"""

from __future__ import annotations

import contextlib
import hashlib
import io
import itertools
import os
import re
import shlex
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING
from unittest import mock

import tomli
from freezegun import freeze_time

from curecal.cli.main import code_of_run
from curecal.published.check_values import published_checks
from curecal.published.equations import compute
from curecal.shipped import DATA, shipped_text

if TYPE_CHECKING:
    from collections.abc import Iterator


ROOT = Path(__file__).resolve().parents[2]
NOW = "2026-11-25T13:31:00Z"  # 09:31 at the example's site, where every layer is down and waiting
CONSOLE = re.compile(r"(?<=^```console\n)(?P<inside>.*?)(?=^```$)", re.MULTILINE | re.DOTALL)
_CARRIED_ON = "\\\n"
COMMAND = re.compile(r"^\$ (?P<typed>(?:.*\\\n)*.*)$", re.MULTILINE)
GENERATED = re.compile(
    r"(?<=^<!-- generated: )(?P<name>[a-z-]+) -->\n.*?(?=^<!-- end -->$)", re.MULTILINE | re.DOTALL
)


_SHOWN_CODES = {0, 1}  # 1: the job has a stop, which a document may show


def documents() -> list[Path]:
    """Return README and every chapter of the manual."""
    return [ROOT / "README.md", *sorted((DATA / "manual").glob("*.md"))]


def refreshed(text: str) -> str:
    """Return a document with every output and every generated table as it is now."""
    text = GENERATED.sub(lambda found: f"{found['name']} -->\n\n{TABLES[found['name']]()}\n", text)
    with _fresh_examples():
        return CONSOLE.sub(lambda found: _session(found["inside"]), text)


def _session(inside: str) -> str:
    """Run the commands of one block; between two of them stands an empty line."""
    typed = [found["typed"] for found in COMMAND.finditer(inside)]
    return "\n".join(f"$ {text}\n{_printed(text.replace(_CARRIED_ON, ''))}" for text in typed)


@contextlib.contextmanager
def _fresh_examples() -> Iterator[None]:
    """Stand in a copy of the examples, with the clock still and chance taken out."""
    numbers = itertools.count()

    def token_hex(size: int) -> str:
        return hashlib.sha256(str(next(numbers)).encode()).hexdigest()[: 2 * size]

    with contextlib.ExitStack() as stack:
        place = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        for name in ("examples", "config"):
            shutil.copytree(ROOT / name, place / name)
        clean = {name: value for name, value in os.environ.items() if "CURECAL" not in name}
        stack.enter_context(mock.patch.dict(os.environ, clean, clear=True))
        stack.enter_context(contextlib.chdir(place))
        stack.enter_context(mock.patch("secrets.token_hex", token_hex))
        stack.enter_context(freeze_time(NOW))
        yield


def _printed(command: str) -> str:
    """Return what a command prints, errors too, as a pipe of 80 columns gets it."""
    if command.startswith("export "):
        name, _, value = command.removeprefix("export ").partition("=")
        os.environ[name] = value
        return ""
    if not command.startswith("curecal "):
        return _shell(command, "")
    own, _, rest = command.partition(" | ")
    printed = io.StringIO()
    with contextlib.redirect_stdout(printed), contextlib.redirect_stderr(printed):
        code = code_of_run(shlex.split(own)[1:])
    if code not in _SHOWN_CODES:
        # A document that shows a command gone wrong is to be mended by a person, not refreshed.
        message = f"{command!r} ended with {code}:\n{printed.getvalue()}"
        raise RuntimeError(message)
    return _shell(rest, printed.getvalue()) if rest else printed.getvalue()


def _shell(command: str, fed: str) -> str:
    ended = subprocess.run(
        ["sh", "-c", command],  # noqa: S607 - sh is wherever the system has it
        input=fed,
        capture_output=True,
        text=True,
        check=True,
    )
    return ended.stdout


def _rules_table() -> str:
    rules = tomli.loads(shipped_text("rules.toml"))["rule"].values()
    lines = ["| rule | basis | source |", "|---|---|---|"]
    lines += [f"| {rule['title']} | {rule['basis']} | {rule['source']} |" for rule in rules]
    return "\n".join(lines) + "\n"


def _check_values_table() -> str:
    """Return a row for each quantity and source, its values side by side."""
    marks = {
        "seen": "seen in print",
        "reference library": "reference library",
        "computed": "computed from the formula",
        "from memory": "from memory",
    }
    rows: dict[tuple[str, str, str], list[str]] = {}
    for check in published_checks():
        unit = "" if check.unit == "1" else f" [{check.unit}]"
        values = f"{check.expected:.9g} → {compute(check.equation, check.inputs):.9g}"
        key = (f"{check.quantity}{unit}", check.source, marks[check.mark])
        rows.setdefault(key, []).append(values)
    lines = ["| quantity | values (expected → computed) | source | mark |", "|---|---|---|---|"]
    lines += [
        f"| {quantity} | {'; '.join(values)} | {source} | {mark} |"
        for (quantity, source, mark), values in rows.items()
    ]
    return "\n".join(lines) + "\n"


TABLES = {"rules": _rules_table, "checked-values": _check_values_table}


def main(arguments: list[str]) -> int:
    """Say which documents are out of date, or bring them up to date."""
    write = "--write" in arguments
    wrong = False
    for path in documents():
        name, text = path.relative_to(ROOT), path.read_text(encoding="utf-8")
        try:
            now = refreshed(text)
        except RuntimeError as error:
            wrong = True
            sys.stdout.write(f"{name}: {error}\n")
            continue
        if now != text and write:
            path.write_text(now, encoding="utf-8")
            sys.stdout.write(f"written: {name}\n")
        elif now != text:
            wrong = True
            sys.stdout.write(f"out of date: {name}\n")
    return int(wrong)


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
