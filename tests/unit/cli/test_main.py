"""The one place that ends the command: help without imports, exit codes, no tracebacks."""

from __future__ import annotations

import importlib
import os
import subprocess
import sys
import zoneinfo
from collections.abc import Callable
from pathlib import Path

import click
import pytest
import tzdata
from click.testing import CliRunner

from curecal import errors
from curecal.cli import main
from curecal.cli.main import COMMANDS, cli, code_of_run, run

ROOT = Path(__file__).parents[3]


@pytest.fixture
def failing(monkeypatch: pytest.MonkeyPatch) -> object:
    """Make a command that ends with the error it is given."""

    def give(error: BaseException | None, result: object = None) -> None:
        @click.command("verify")
        def command() -> object:
            if error is not None:
                raise error
            return result

        monkeypatch.setattr("curecal.cli.verify.command", command)

    return give


@pytest.mark.parametrize("flag", ["-h", "--help"])
def test_help_lists_every_command_with_its_text(flag: str) -> None:
    shown = CliRunner().invoke(cli, [flag])
    assert shown.exit_code == 0
    for name, (_, text) in COMMANDS.items():
        assert f"  {name} " in shown.output
        assert text.split()[0] in shown.output


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_the_table_says_what_each_command_says_of_itself(name: str) -> None:
    module, text = COMMANDS[name]
    command = importlib.import_module(module).command
    assert command.name == name
    assert command.get_short_help_str(limit=200) == text
    assert CliRunner().invoke(cli, [name, "--help"]).exit_code == 0


def test_version_names_the_time_zone_data() -> None:
    shown = CliRunner().invoke(cli, ["--version"])
    assert shown.output == f"curecal 0.1.0 (tzdata {tzdata.IANA_VERSION})\n"


def test_a_command_there_is_not_names_the_nearest(capsys: pytest.CaptureFixture[str]) -> None:
    assert code_of_run(["plam"]) == 2
    assert "There is no command 'plam'. Did you mean 'plan'?" in capsys.readouterr().err
    assert code_of_run(["zzzz"]) == 2
    assert "Did you mean" not in capsys.readouterr().err
    assert code_of_run(["--nonsense"]) == 2


def test_no_command_shows_the_help(capsys: pytest.CaptureFixture[str]) -> None:
    assert code_of_run([]) == 2
    assert "Commands:" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("error", "code", "line"),
    [
        (errors.SourceError("holidays-unknown", region="XX"), 3, "Public holidays for"),
        (
            errors.UsageError("as-of-unreadable", text="noon"),
            2,
            '"noon" is not a date and time I can read.',
        ),
        (errors.NoDate("no-zones"), 4, "The job has no zone."),
        (errors.NotClear("no-zones"), 5, "The job has no zone."),
        (errors.CurecalError("never-heard-of", a=1), 70, "never-heard-of(a=1)"),
        (KeyboardInterrupt(), 130, "Interrupted."),
        (click.Abort(), 130, "Interrupted."),
        (ZeroDivisionError("x"), 70, "internal error (ZeroDivisionError); no date was given."),
        (click.UsageError("no such thing"), 2, "no such thing"),
    ],
)
def test_every_end_is_one_line_and_its_exit_code(
    failing: object,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    error: BaseException,
    code: int,
    line: str,
) -> None:
    monkeypatch.delenv("CURECAL_DEBUG", raising=False)
    failing(error)  # type: ignore[operator]
    assert code_of_run(["verify"]) == code
    said = capsys.readouterr()
    assert said.out == ""
    assert line in said.err
    assert "Traceback" not in said.err


def test_a_developer_may_see_the_traceback(
    failing: object, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CURECAL_DEBUG", "1")
    failing(ZeroDivisionError("x"))  # type: ignore[operator]
    assert code_of_run(["verify"]) == 70
    said = capsys.readouterr().err
    assert "Traceback" in said
    assert "CURECAL_DEBUG" not in said
    failing(errors.SourceError("holidays-unknown", region="XX"))  # type: ignore[operator]
    assert code_of_run(["verify"]) == 3
    assert "Traceback" in capsys.readouterr().err


@pytest.mark.parametrize(("result", "code"), [(1, 1), (0, 0), (None, 0)])
def test_a_command_returns_its_exit_code(failing: object, result: object, code: int) -> None:
    failing(None, result)  # type: ignore[operator]
    with pytest.raises(SystemExit) as ended:
        sys_argv_run(["verify"])
    assert ended.value.code == code


def sys_argv_run(arguments: list[str]) -> None:
    before = sys.argv
    sys.argv = ["curecal", *arguments]
    try:
        run()
    finally:
        sys.argv = before


def test_a_module_without_a_command_is_our_mistake(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("curecal.cli.verify.command", None)
    assert code_of_run(["verify"]) == 70
    assert 'The command "verify" cannot be loaded.' in capsys.readouterr().err


def test_a_reader_that_has_gone_is_no_noise() -> None:
    script = "from curecal.cli.main import run; import sys; sys.argv[1:] = ['verify']; run()"
    with subprocess.Popen(
        [sys.executable, "-c", script],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as process:
        assert process.stdout is not None
        process.stdout.close()
        assert process.stderr is not None
        assert process.stderr.read() == ""
        assert process.wait() in {0, main.BROKEN_PIPE}


def test_a_broken_pipe_ends_quietly(
    failing: object, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    moved: list[int] = []
    monkeypatch.setattr("os.dup2", lambda _from, to: moved.append(to))
    failing(BrokenPipeError())  # type: ignore[operator]
    assert code_of_run(["verify"]) == main.BROKEN_PIPE
    assert moved == [1]
    assert capsys.readouterr().err == ""


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_completion_scripts(shell: str) -> None:
    shown = CliRunner().invoke(cli, ["completion", shell])
    assert shown.exit_code == 0
    assert "_CURECAL_COMPLETE" in shown.output


def test_completion_for_another_shell_is_a_usage_error() -> None:
    assert CliRunner().invoke(cli, ["completion", "tcsh"]).exit_code == 2


def test_completion_that_click_does_not_have(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("click.shell_completion.get_completion_class", lambda _shell: None)
    assert code_of_run(["completion", "bash"]) == 2
    assert "Completion for the shell" in capsys.readouterr().err


def test_python_m_curecal_is_the_command() -> None:
    ended = subprocess.run(
        [sys.executable, "-m", "curecal", "--version"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    assert ended.stdout.startswith("curecal ")


def test_the_pinned_time_zone_data_is_the_only_source() -> None:
    before = zoneinfo.TZPATH
    try:
        zoneinfo.reset_tzpath(to=["/usr/share/zoneinfo"])
        assert CliRunner().invoke(cli, ["completion", "bash"]).exit_code == 0
        assert (str(Path(tzdata.__file__).parent / "zoneinfo"),) == zoneinfo.TZPATH
    finally:
        zoneinfo.reset_tzpath(to=before)


def test_a_terminal_without_an_ohm_sign_is_no_error() -> None:
    ended = subprocess.run(
        [sys.executable, "-m", "curecal", "verify"],
        cwd=ROOT,
        env={**os.environ, "PYTHONIOENCODING": "latin-1"},
        capture_output=True,
        check=False,
    )
    assert ended.returncode == 0, ended.stderr
    assert b" ?" in ended.stdout


def test_a_file_or_a_pipe_gets_every_sign_whatever_the_system_takes_for_texts() -> None:
    # As on Windows, where a pipe has the signs of an old code page.
    ascii_only = {"LC_ALL": "C", "PYTHONCOERCECLOCALE": "0", "PYTHONUTF8": "0"}
    kept = {name: value for name, value in os.environ.items() if name != "PYTHONIOENCODING"}
    ended = subprocess.run(
        [sys.executable, "-m", "curecal", "note", "--kinds"],
        cwd=ROOT,
        env={**kept, **ascii_only},
        capture_output=True,
        check=True,
    )
    assert "insulation=> 2 GΩ" in ended.stdout.decode()


def test_the_group_knows_its_commands_without_loading_them() -> None:
    context = click.Context(cli)
    assert cli.list_commands(context) == list(COMMANDS)
    assert cli.get_command(context, "nonsense") is None


def started(redirection: str, *arguments: str) -> subprocess.CompletedProcess[str]:
    """The program started by a shell that redirects its output."""
    program = [sys.executable, "-m", "curecal", *arguments]
    return subprocess.run(
        ["/bin/sh", "-c", f'exec "$@" {redirection}', "sh", *program],
        cwd=ROOT,
        stderr=subprocess.PIPE,
        text=True,
        check=False,
    )


def test_output_that_cannot_be_written_is_no_internal_error(tmp_path: Path) -> None:
    job = tmp_path / "job.toml"
    job.write_bytes((ROOT / "examples" / "bathroom" / "job.toml").read_bytes())
    before = job.read_text(encoding="utf-8")
    ended = started("> /dev/full", "note", str(job), "air", "air=64 °F")
    assert ended.returncode == 8
    assert "output could not be written" in ended.stderr
    assert "may be done already" in ended.stderr
    # It was: whoever repeats the command would log the reading twice.
    assert job.read_text(encoding="utf-8").count("64 °F") == before.count("64 °F") + 1


def test_an_entry_that_cannot_be_written_is_told_apart_from_its_output(tmp_path: Path) -> None:
    job = tmp_path / "job.toml"
    job.write_bytes((ROOT / "examples" / "bathroom" / "job.toml").read_bytes())
    before = job.read_bytes()
    # No file may be larger than a kilobyte: as a full disk, where nobody can fill one.
    limited = (
        f"ulimit -f 1; trap '' XFSZ; exec {sys.executable} -m curecal note {job} air 'air=64 °F'"
    )
    ended = subprocess.run(
        ["/bin/bash", "-c", limited], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert ended.returncode == 3
    assert ended.stdout == ""
    assert job.read_bytes() == before
    assert [path.name for path in tmp_path.iterdir() if "curecal-new" in path.name] == []


def test_without_an_output_nothing_is_done(tmp_path: Path) -> None:
    job = tmp_path / "job.toml"
    job.write_bytes((ROOT / "examples" / "bathroom" / "job.toml").read_bytes())
    before = job.read_bytes()
    ended = started(">&-", "note", str(job), "air", "air=64 °F")
    assert ended.returncode == 3
    assert "Nothing was done" in ended.stderr
    assert job.read_bytes() == before


def test_an_error_of_a_network_is_not_one_of_output(
    failing: Callable[[BaseException], None], capsys: pytest.CaptureFixture[str]
) -> None:
    failing(OSError(113, "No route to host"))
    assert code_of_run(["verify"]) == main.INTERNAL
    assert "internal error (OSError)" in capsys.readouterr().err
