"""Golden jobs: reading them, planning them, and writing down anew what they give.

    python tests/golden/golden.py JOB-FOLDER AS-OF     write expected.json for one job
    python tests/golden/golden.py JOB-FOLDER AS-OF --with --against EARLIER
                                                       the same, compared with an earlier plan's
                                                       expected.json; {folder} is the job's own
    python tests/golden/golden.py --all                write all anew, each as it was asked before
    python tests/golden/golden.py --texts              write anew what people read of the examples

The expected answers are facts alone: codes, dates, states and parameters, no sentence. What people
read is kept once, in the texts of the examples. Writing anew refuses to move a date earlier unless
the job is named with --earlier: a date that comes nearer is a claim that somebody may switch on
sooner, and wants a person's eye.
"""

from __future__ import annotations

import io
import json
import sys
import tomllib
from collections.abc import Iterator, Sequence
from contextlib import redirect_stdout
from dataclasses import astuple
from pathlib import Path
from typing import Any

from curecal.calendars import Feed, feeds
from curecal.cli.main import code_of_run
from curecal.cli.plan.earlier_plan import comparison_of
from curecal.cli.shared.common import PROBLEM, PlannedJob, is_problem, planned
from curecal.planning.comparison.plan_snapshot import snapshot
from curecal.planning.comparison.what_if import what_helps
from curecal.shipped import shipped_text
from curecal.trade.findings import Finding
from curecal.words.json.changes_json import comparison_json
from curecal.words.json.plan_json import SCHEMA
from curecal.words.json.record_json import encode

HERE = Path(__file__).resolve().parent
EXAMPLES = HERE.parents[1] / "examples"
REHEARSED = ("bathroom", "screed-before-tiling")
"""Examples whose messages are kept as well: a rehearsal takes a second and more."""
COMPARED_WITH = ("14-before",)
"""Jobs whose answer is another's earlier plan: of that, nothing may be left out."""


def folders() -> list[Path]:
    """Every golden job's folder: those here, and the examples people read."""
    found = [path.parent for path in HERE.glob("*/job.toml")]
    return sorted([*found, *(path.parent for path in EXAMPLES.glob("*/job.toml"))])


def expected_path(folder: Path) -> Path:
    """Where a job's expected answer stands."""
    if folder.resolve().parent == EXAMPLES:
        return HERE / "examples" / folder.name / "expected.json"
    return folder / "expected.json"


def answer(folder: Path, as_of: str, more: Sequence[str] = ()) -> dict[str, Any]:
    """The facts of a job's plan at an instant, as its machine output holds them."""
    found: list[Finding] = []
    options = {"--since": None, "--against": None}
    for name, value in batched_pairs(more):
        options[name] = value.format(folder=folder)
    against = options["--against"]
    made = _planned(folder, as_of, found)
    facts: dict[str, Any] = {"schema": SCHEMA, "findings": encode(found)}
    if made is not None:
        plan = made.plan
        gains = what_helps(made.job, made.log, plan.as_of, rules=made.rules, day_off=made.day_off)
        facts |= encode(snapshot(plan, made.findings, gains))
        found += [*made.findings, *plan.findings]
        compared = comparison_of(made, options["--since"], Path(against) if against else None)
        if compared is not None:
            facts["moved"] = comparison_json(compared)
    asked = {"asked_at": as_of, "asked_with": list(more)} if more else {"asked_at": as_of}
    return {**asked, "exit_code": PROBLEM if is_problem(found) else 0, **loosened(facts, folder)}


def loosened(facts: dict[str, Any], folder: Path) -> dict[str, Any]:
    """The facts with the measured share to a tenth, and without the words of our own sources.

    Both have tests of their own where they are made; here they would tie every job with a reading
    to how far a single reading reaches, and every job to how a source is quoted.
    """
    for zone in facts.get("zones", ()):
        zone["energize"]["measured_share"] = round(zone["energize"]["measured_share"], 1)
    if folder.name in COMPARED_WITH:
        return facts
    return {key: _unquoted(value) for key, value in facts.items()}


def _unquoted(said: Any) -> Any:
    """What was said with one word in the place of each source that comes with the program."""
    if isinstance(said, dict):
        return {key: _unquoted(value) for key, value in said.items()}
    if isinstance(said, list | tuple):
        return [_unquoted(value) for value in said]
    return "shipped" if said in OWN_SOURCES else said


def _own_sources() -> Iterator[str]:
    """The words of every source in the shipped rules and classes."""
    for name in ("rules.toml", "classes.toml"):
        for value in _texts_of(tomllib.loads(shipped_text(name)), "source"):
            yield from value if isinstance(value, list) else [value]


def _texts_of(table: Any, key: str) -> Iterator[Any]:
    """Every value of a key, however deep it stands."""
    parts = table.values() if isinstance(table, dict) else table if isinstance(table, list) else ()
    if isinstance(table, dict) and key in table:
        yield table[key]
    for part in parts:
        yield from _texts_of(part, key)


OWN_SOURCES = frozenset(_own_sources())


def batched_pairs(words: Sequence[str]) -> Iterator[tuple[str, str]]:
    """Options with their values, one behind the other."""
    return zip(words[::2], words[1::2], strict=True)


def texts(folder: Path, as_of: str) -> Iterator[tuple[str, str]]:
    """What people read of an example, by file name; what several would say is in one of them."""
    asked = [str(folder / "job.toml"), "--as-of", as_of]
    made = _planned(folder, as_of, [])
    if made is None:
        raise SystemExit(folder.name)
    yield "plan.txt", _printed(["plan", *asked])
    yield "plan-full.txt", _printed(["plan", *asked, "--full"])
    yield (
        "explain.txt",
        _printed(["explain", *asked]).partition(made.words.text("report.cautions"))[0],
    )
    if folder.name in REHEARSED:
        yield "messages.txt", _printed(["remind", "simulate", *asked, "--full"])
    calendars = feeds(made.plan, rules=made.rules, day_off=made.day_off, log=made.log)
    yield "calendars.txt", "\n".join(_entries(calendars))


def _entries(calendars: Sequence[Feed]) -> Iterator[str]:
    """What calendars say, entry by entry."""
    for feed in calendars:
        yield f"=== {feed.audience.value}: {feed.name}\n"
        for event in feed.events:
            start, end = (str(at) for at in astuple(event.when))
            yield f"{start} to {end}, {event.status.value}\n{event.summary}\n{event.description}\n"


def _printed(arguments: list[str]) -> str:
    """What a command prints into a pipe."""
    printed = io.StringIO()
    with redirect_stdout(printed):
        code_of_run(arguments)
    return printed.getvalue()


def _planned(folder: Path, as_of: str, found: list[Finding]) -> PlannedJob | None:
    """The plan of a job; what is wrong with one not understood is put into `found`."""
    return planned(
        folder / "job.toml",
        as_of=as_of,
        logs=(),
        company=None,
        units=None,
        refused=lambda findings, *_: found.extend(findings),
    )


def write_texts() -> None:
    """Write anew what people read of the examples, each as its expected answer was asked."""
    for folder in folders():
        path = expected_path(folder)
        if folder.parent == EXAMPLES:
            as_of = json.loads(path.read_text(encoding="utf-8"))["asked_at"]
            for name, text in texts(folder, as_of):
                path.with_name(name).write_text(text, encoding="utf-8")


def dates(said: Any, place: str = "") -> Iterator[tuple[str, str]]:
    """Every earliest instant and day to start on, with its place."""
    if isinstance(said, dict):
        for key, value in said.items():
            here = f"{place}.{key}"
            if key in {"earliest", "start_on", "owner_date"} and isinstance(value, str):
                yield here, value
            else:
                yield from dates(value, here)
    elif isinstance(said, list):
        for index, value in enumerate(said):
            yield from dates(value, f"{place}.{index}")


def write(folder: Path, as_of: str, *, earlier: bool, more: Sequence[str] = ()) -> None:
    """Write a job's expected answer; raise where a date would come nearer unasked."""
    path, said = expected_path(folder), answer(folder, as_of, more)
    if path.exists() and not earlier:
        before = dict(dates(json.loads(path.read_text(encoding="utf-8"))))
        nearer = [at for at, value in dates(said) if at in before and value < before[at]]
        if nearer:
            names = ", ".join(nearer)
            message = f"{folder.name}: earlier than before: {names}; name the job with --earlier"
            raise SystemExit(message)
    path.parent.mkdir(parents=True, exist_ok=True)
    text = json.dumps(said, ensure_ascii=False, indent=1, sort_keys=True)
    path.write_text(text + "\n", encoding="utf-8")


def main(arguments: list[str]) -> None:
    """Write expected answers as the command line asks."""
    more: Sequence[str] = ()
    if "--with" in arguments:
        at = arguments.index("--with")
        arguments, more = arguments[:at], arguments[at + 1 :]
    earlier = "--earlier" in arguments
    named = [argument for argument in arguments if not argument.startswith("--")]
    if "--texts" in arguments:
        write_texts()
    elif "--all" in arguments:
        for folder in folders():
            before = json.loads(expected_path(folder).read_text(encoding="utf-8"))
            again, more = before["asked_at"], before.get("asked_with", ())
            write(folder, again, earlier=earlier and folder.name in named, more=more)
    else:
        write(Path(named[0]), named[1], earlier=earlier, more=more)


if __name__ == "__main__":
    main(sys.argv[1:])
