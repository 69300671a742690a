"""Golden jobs: reading them, planning them, and writing down anew what they give.

    python tests/golden/golden.py JOB-FOLDER AS-OF     write expected.json for one job
    python tests/golden/golden.py JOB-FOLDER AS-OF --with --against {folder}/before.json
                                                       the same, with further options of `plan`
    python tests/golden/golden.py --all                write all anew, each as it was asked before

Writing anew refuses to move a date earlier unless the job is named with --earlier: a date that
comes nearer is a claim that somebody may switch on sooner, and wants a person's eye.
"""

from __future__ import annotations

import io
import json
import sys
from collections.abc import Iterator, Sequence
from contextlib import redirect_stdout
from pathlib import Path
from typing import Any

from curecal.cli.main import code_of_run

HERE = Path(__file__).resolve().parent
EXAMPLES = HERE.parents[1] / "examples"


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
    """What the plan says of a job at an instant, without what each release changes."""
    printed = io.StringIO()
    options = [option.format(folder=folder) for option in more]
    with redirect_stdout(printed):
        code = code_of_run(["plan", str(folder / "job.toml"), "--json", "--as-of", as_of, *options])
    said: dict[str, Any] = json.loads(printed.getvalue())
    said.pop("curecal", None)
    said.pop("tzdata", None)
    asked = {"asked_at": as_of, "asked_with": list(more)} if more else {"asked_at": as_of}
    return {**asked, "exit_code": code, **said}


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
    if "--all" in arguments:
        for folder in folders():
            before = json.loads(expected_path(folder).read_text(encoding="utf-8"))
            again, more = before["asked_at"], before.get("asked_with", ())
            write(folder, again, earlier=earlier and folder.name in named, more=more)
    else:
        write(Path(named[0]), named[1], earlier=earlier, more=more)


if __name__ == "__main__":
    main(sys.argv[1:])
