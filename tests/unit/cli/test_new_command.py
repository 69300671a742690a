"""`new`: asks what no option answered, writes only what reads back, and nothing over a file."""

from __future__ import annotations

import sys
from pathlib import Path
from types import ModuleType, SimpleNamespace
from typing import Any

import pytest
from click.testing import CliRunner
from plan_samples import FINDINGS

import curecal.job_files
from curecal.cli.main import cli, code_of_run
from curecal.cli.new import _write
from curecal.errors import SourceError

OPTIONS = [
    *("--name", "Alder Lane", "--timezone", "America/Halifax", "--units", "imperial"),
    *("--code", "NEC", "--zone", "hall bath", "--room", "bathroom", "--air", "66 °F"),
    *("--below", "heated room"),
    *("--layer", "thinset", "--layer", "cement grout", "--voltage", "240 V"),
    *("--power", "640 W", "--crew-lead", "Kim", "--electrician", "Lou", "--owner", "Sam"),
]
ANSWERS = {
    "name": "Alder Lane",
    "timezone": "America/Halifax",
    "units": "imperial",
    "code": "NEC",
    "zone": "hall bath",
    "room": "bathroom",
    "air": "66 °F",
    "below": "heated room",
    "layers": ("thinset", "cement grout"),
    "voltage": "240 V",
    "power": "640 W",
    "crew_lead": "Kim",
    "electrician": "Lou",
    "owner": "Sam",
}


class Template:
    """Stands in for the template and for reading it back."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.answers: dict[str, Any] = {}
        self.readable = True
        module = ModuleType("curecal.job_files.new_job")
        module.NewJob = dict  # type: ignore[attr-defined]
        module.job_template = self._template  # type: ignore[attr-defined]
        monkeypatch.setitem(sys.modules, "curecal.job_files.new_job", module)
        monkeypatch.setattr(curecal.job_files, "parse_job", self._parse, raising=False)

    def _template(self, answers: dict[str, Any]) -> str:
        self.answers = answers
        return "[job]\n"

    def _parse(self, data: bytes, **_asked: Any) -> SimpleNamespace:
        assert data == b"[job]\n"
        return SimpleNamespace(job=self.readable or None, findings=FINDINGS, raw={})


@pytest.fixture
def template(monkeypatch: pytest.MonkeyPatch) -> Template:
    return Template(monkeypatch)


def test_options_answer_every_question(template: Template, tmp_path: Path) -> None:
    path = tmp_path / "hall.toml"
    shown = CliRunner().invoke(cli, ["new", str(path), *OPTIONS])
    assert shown.exit_code == 0
    assert shown.output == f"Wrote {path}. Next: curecal plan {path}\n"
    assert path.read_bytes() == b"[job]\n"
    made = dict(template.answers)
    assert len(made.pop("id")) == 36
    assert made == ANSWERS


def test_what_is_not_answered_is_asked(template: Template, tmp_path: Path) -> None:
    asked = "Elm Road\nEurope/Berlin\n\n\nden\n\n\nground\n"
    layers = "\nthin set\nzzz\nthinset\ncement grout\n\n"
    typed = f"{asked}{layers}\n640 W\n\nLou\n\n"
    path = tmp_path / "job.toml"
    shown = CliRunner().invoke(cli, ["new", str(path)], input=typed)
    assert shown.exit_code == 0, shown.output
    made = dict(template.answers)
    first = made.pop("id")
    assert made == {
        "name": "Elm Road",
        "timezone": "Europe/Berlin",
        "units": "metric",
        "code": "other",
        "zone": "den",
        "room": "living space",
        "air": "19 °C",
        "below": "ground",
        "layers": ("thinset", "cement grout"),
        "voltage": None,
        "power": "640 W",
        "crew_lead": None,
        "electrician": "Lou",
        "owner": None,
    }
    assert "Layer 1 from the bottom" in shown.output
    assert 'There is no material "thin set". Did you mean "thinset"?' in shown.output
    assert 'There is no material "zzz".' in shown.output
    assert "cement grout" in shown.output
    other = tmp_path / "other.toml"
    assert CliRunner().invoke(cli, ["new", str(other)], input=typed).exit_code == 0
    assert template.answers["id"] != first


def test_a_slip_is_asked_again_and_costs_no_other_answer(
    template: Template, tmp_path: Path
) -> None:
    asked = "Elm Road\nEurope/Berln\nEurope/Berlin\n\n\nden\n\n66 °C\n19\n66 °F\nheated room\n"
    typed = f"{asked}mastic\nthinset\n\n240\n240 V\n\n\n\n\n"
    path = tmp_path / "a job.toml"
    shown = CliRunner().invoke(cli, ["new", str(path)], input=typed)
    assert shown.exit_code == 0, shown.output
    assert (template.answers["timezone"], template.answers["air"]) == ("Europe/Berlin", "66 °F")
    assert (template.answers["voltage"], template.answers["power"]) == ("240 V", None)
    assert template.answers["layers"] == ("thinset",)
    assert (
        'Error: There is no time zone "Europe/Berln". Did you mean "Europe/Berlin"?' in shown.output
    )
    assert 'Error: No site is at "66 °C"' in shown.output
    assert 'Error: "19" has no unit; it should be a temperature.' in shown.output
    assert 'Error: "240" has no unit; it should be a voltage.' in shown.output
    # What may not lie in a heated floor is not offered; the rest stands by what it is for.
    assert 'There is no material "mastic"' in shown.output
    assert "dispersion" not in shown.output
    listed = shown.output[shown.output.index("  - bases: ") :].splitlines()
    assert listed[0].startswith("  - bases: concrete, sand-cement screed, rapid-drying screed")
    assert "  - levelers: leveler, rapid leveler, gypsum leveler" in listed
    assert "  - poured finishes: microcement, terrazzo, resin floor" in listed
    # The command to go on with can be copied.
    assert shown.output.endswith(f"Next: curecal plan '{path}'\n")


def test_imperial_readers_are_offered_imperial_air(template: Template, tmp_path: Path) -> None:
    options = [option for option in OPTIONS if option not in {"--air", "66 °F"}]
    path = str(tmp_path / "job.toml")
    assert CliRunner().invoke(cli, ["new", path, *options], input="\n").exit_code == 0
    assert template.answers["air"] == "66 °F"


@pytest.mark.usefixtures("template")
def test_a_file_that_is_there_stays(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "job.toml"
    path.write_text("mine", encoding="utf-8")
    assert code_of_run(["new", str(path), *OPTIONS]) == 3
    assert "already exists and was left as it is" in capsys.readouterr().err
    assert path.read_text(encoding="utf-8") == "mine"


def test_what_would_not_be_understood_is_not_written(
    template: Template, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    template.readable = False
    path = tmp_path / "job.toml"
    assert code_of_run(["new", str(path), *OPTIONS]) == 1
    assert capsys.readouterr().out.startswith("The job file has")
    assert not path.exists()


@pytest.mark.usefixtures("template")
def test_a_folder_that_is_not_there(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert code_of_run(["new", str(tmp_path / "none" / "job.toml"), *OPTIONS]) == 3
    assert "cannot be written" in capsys.readouterr().err


def test_a_file_that_appears_meanwhile_stays(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_text("mine", encoding="utf-8")
    with pytest.raises(SourceError, match="job-file-exists"):
        _write(path, "[job]\n")
    assert path.read_text(encoding="utf-8") == "mine"


@pytest.mark.usefixtures("template")
def test_nobody_answers(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    shown = CliRunner().invoke(cli, ["new", str(tmp_path / "job.toml")], input="")
    assert shown.exit_code == 1
    assert not (tmp_path / "job.toml").exists()
    del capsys


def test_keys_prints_the_reference(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    module = ModuleType("curecal.toml_files.key_reference")
    module.reference = lambda: "job.id  stable identity"  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, "curecal.toml_files.key_reference", module)
    assert code_of_run(["new", "--keys"]) == 0
    assert capsys.readouterr().out == "job.id  stable identity\n"
