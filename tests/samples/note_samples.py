"""The commands `note` and `log` as they run, on a job file of their own."""

from __future__ import annotations

import json
import shlex
from pathlib import Path
from typing import TYPE_CHECKING, Any

from curecal.cli import main
from curecal.cli.main import code_of_run

if TYPE_CHECKING:
    import pytest

COMMANDS = {"note": "curecal.cli.log.note", "log": "curecal.cli.log.log"}
HEAD = """\
[job]
id = "j"
name = "Alder Lane"
timezone = "America/Halifax"
units = "imperial"
code = "NEC"
[expected]
below = "heated room"
air = "66 °F"
"""
HALL = """\
[[zone]]
name = "hall"
[zone.heating]
voltage = "240 V"
power = "640 W"
resistance = "90 Ω"
"""
PEOPLE = """\
[people.crew_lead]
name = "R. Example"
[[people.crew]]
name = "Lee"
roles = ["tester"]
[[people.crew]]
name = "Max"
[[people.electrician]]
name = "E. Lectric"
license = "E 1"
[[people.electrician]]
name = "Sam"
license = "E 2"
"""
SITE = f"""\
{HEAD}{PEOPLE}{HALL}[[zone.layer]]
name = "leveler"
material = "cement leveler"
thickness = "6 mm"
done = 2026-10-01T12:00:00
[[zone.layer]]
name = "grout"
material = "cement grout"
done = 2026-10-05T12:00:00
[[zone]]
name = "loft"
[[zone.heating.cable]]
name = "mat by the door"
[[zone.heating.cable]]
name = "mat by the window"
[[zone.layer]]
name = "bed"
material = "thinset"
"""


class Site:
    """A folder with a job file, where commands run as a person types them."""

    def __init__(
        self,
        folder: Path,
        monkeypatch: pytest.MonkeyPatch,
        capsys: pytest.CaptureFixture[str],
    ) -> None:
        self.path = folder / "job.toml"
        self.path.write_text(SITE, encoding="utf-8")
        self.capsys = capsys
        self.err = ""
        monkeypatch.chdir(folder)
        monkeypatch.delenv("CURECAL_COMPANY", raising=False)
        for name, module in COMMANDS.items():
            monkeypatch.setitem(main.COMMANDS, name, (module, ""))  # type: ignore[arg-type]

    @property
    def text(self) -> str:
        return self.path.read_text(encoding="utf-8")

    def run(self, line: str, code: int = 0) -> str:
        """Run a command line, see how it ends, and return what it says."""
        found = code_of_run(shlex.split(line))
        said = self.capsys.readouterr()
        self.err = said.err
        assert found == code, said
        lines = [] if "--json" in line else said.out.splitlines()
        assert [each for each in lines if len(each) > 80] == []
        return said.out

    def json(self, line: str, code: int = 0) -> Any:
        return json.loads(self.run(f"{line} --json", code))

    def note(self, line: str) -> str:
        """Add an entry and return its id."""
        made = self.json(f"note job.toml {line}")
        assert isinstance(made["id"], str)
        return made["id"]


def entry(**keys: str) -> str:
    """Return a log entry as it stands in a file."""
    return "[[log]]\n" + "".join(f"{key} = {value}\n" for key, value in keys.items())
