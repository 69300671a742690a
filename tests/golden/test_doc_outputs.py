"""README and the manual say what the program does: outputs, commands, set-up, strong words."""

from __future__ import annotations

import contextlib
import re
import shutil
from pathlib import Path

import click
import pytest
import tomli
from doc_outputs import ROOT, documents, main, refreshed

from curecal.cli.guide import chapters
from curecal.cli.main import cli, code_of_run

README = (ROOT / "README.md").read_text(encoding="utf-8")
FENCE = re.compile(r"^```(?P<language>\w+)\n(?P<inside>.*?)^```$", re.MULTILINE | re.DOTALL)
LINK = re.compile(r"\]\((?P<target>[^)#]+)\)")
COMMAND = re.compile(r"curecal ((?:[a-z]+)(?: [a-z]+)?)")
OPTION = re.compile(r"(?<![\w-])--[a-z][a-z-]+")


def prose(path: Path) -> str:
    """A document without its fenced blocks, on one line."""
    return " ".join(FENCE.sub("", path.read_text(encoding="utf-8")).split())


@pytest.mark.parametrize("path", documents(), ids=lambda path: path.stem)
def test_every_output_is_what_the_program_prints(path: Path) -> None:
    """Out of date after a change of sentences: `python tests/golden/doc_outputs.py --write`."""
    text = path.read_text(encoding="utf-8")
    assert refreshed(text) == text


def test_an_output_that_is_not_the_programs_is_seen() -> None:
    text = "```console\n$ curecal --version\ncurecal 99\n```\n"
    assert refreshed(text).startswith("```console\n$ curecal --version\ncurecal 0.")


def test_a_command_that_fails_is_not_written_down() -> None:
    with pytest.raises(RuntimeError, match="no chapter 'nowhere'"):
        refreshed("```console\n$ curecal guide nowhere\n```\n")


def test_an_entry_of_one_block_is_there_for_the_next() -> None:
    note = 'curecal note examples/bathroom/job.toml note "text=dust sheet" --zone hall'
    log = "curecal log examples/bathroom/job.toml --kind note"
    text = refreshed(f"```console\n$ {note}\n```\n\n```console\n$ {log}\n```\n")
    assert "dust sheet" in text.split(log)[1]


def test_each_document_has_what_is_checked() -> None:
    """Nine outputs or more, and both tables: a fence renamed by mistake would check no output."""
    texts = [path.read_text(encoding="utf-8") for path in documents()]
    assert sum(text.count("\n$ curecal ") for text in texts) >= 9
    assert sum(text.count("<!-- generated: ") for text in texts) == 2


def test_the_set_up_is_one_block_of_two_command_lines(tmp_path: Path) -> None:
    chapter = README.split("\n## Set up\n")[1].split("\n## ")[0]
    (block,) = [found["inside"] for found in FENCE.finditer(chapter) if found["language"] == "sh"]
    first, second = block.splitlines()
    assert second.endswith("-m pytest -q -n auto")
    planned = first.split(".venv/bin/curecal ")[1].replace('"$(mktemp -d)"', str(tmp_path / "new"))
    # A copy: what is published is recorded beside the job file.
    shutil.copytree(ROOT / "examples", tmp_path / "examples")
    arguments = planned.replace("examples/", f"{tmp_path}/examples/").split()
    assert code_of_run(arguments) == 0
    assert {path.name for path in (tmp_path / "new").glob("*.ics")} == {
        "crew.ics",
        "electrician.ics",
        "owner.ics",
    }


def test_readme_is_short() -> None:
    assert len(README.splitlines()) <= 250


def test_the_contents_list_every_chapter() -> None:
    topics = [chapter.topic for chapter in chapters()]
    assert sorted([*topics, "contents"]) == [path.stem for path in documents()[1:]]
    assert len(topics) == len(set(topics))


@pytest.mark.parametrize("path", documents(), ids=lambda path: path.stem)
def test_every_link_leads_somewhere(path: Path) -> None:
    targets = LINK.findall(path.read_text(encoding="utf-8"))
    assert [target for target in targets if not (path.parent / target).exists()] == []


def subcommands() -> set[str]:
    """Every command, those of groups as "group command"."""
    context = click.Context(cli)
    found = set()
    for name in cli.list_commands(context):
        command = cli.get_command(context, name)
        found.add(name)
        if isinstance(command, click.Group):
            found |= {f"{name} {below}" for below in command.list_commands(context)}
    return found


def options_of(command: click.Command) -> set[str]:
    own = {name for parameter in command.params for name in parameter.opts}
    context = click.Context(command)
    below = command.list_commands(context) if isinstance(command, click.Group) else ()
    of_below = (command.get_command(context, name) for name in below)
    return own.union(*(options_of(found) for found in of_below if found is not None))


@pytest.mark.parametrize("path", documents(), ids=lambda path: path.stem)
def test_every_command_and_option_named_is_there(path: Path) -> None:
    text = prose(path)
    known = subcommands()
    groups = {name.split()[0] for name in known if " " in name}
    named = {
        two if two.split()[0] in groups else two.split()[0]
        for code in re.findall(r"`([^`]+)`", text)
        for two in COMMAND.findall(code)
    }
    assert named - known == set()
    assert set(OPTION.findall(text)) - options_of(cli) == set()


@pytest.mark.parametrize("path", documents(), ids=lambda path: path.stem)
def test_every_piece_of_a_job_file_is_toml(path: Path) -> None:
    for found in FENCE.finditer(path.read_text(encoding="utf-8")):
        if found["language"] == "toml":
            assert tomli.loads(found["inside"])


def test_the_script_names_what_is_out_of_date_and_writes_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    old, broken = tmp_path / "old.md", tmp_path / "broken.md"
    old.write_text("```console\n$ curecal --version\ncurecal 99\n```\n", encoding="utf-8")
    broken.write_text("```console\n$ curecal plam\n```\n", encoding="utf-8")
    monkeypatch.setattr("doc_outputs.ROOT", tmp_path)
    monkeypatch.setattr("doc_outputs.documents", lambda: [broken, old])
    monkeypatch.setattr("doc_outputs._fresh_examples", contextlib.nullcontext)
    assert main([]) == 1
    assert "out of date: old.md" in capsys.readouterr().out
    assert main(["--write"]) == 1
    printed = capsys.readouterr().out
    assert "broken.md: 'curecal plam' ended with 2" in printed
    assert "written: old.md" in printed
    assert "curecal 99" not in old.read_text(encoding="utf-8")
    broken.unlink()
    monkeypatch.setattr("doc_outputs.documents", lambda: [old])
    assert main([]) == 0
