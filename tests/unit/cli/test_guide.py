"""`curecal guide`: the list of chapters, a chapter as plain text, names that are nearly right."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner

from curecal.cli.guide import as_plain_text, chapters, command
from curecal.shipped import shipped_text

TOPICS = [chapter.topic for chapter in chapters()]


def test_without_a_topic_it_lists_the_chapters() -> None:
    shown = CliRunner().invoke(command, [])
    assert shown.exit_code == 0
    lines = shown.output.splitlines()
    assert lines[:2] == ["The manual of curecal", "====================="]
    assert [line[2:].split(":")[0] for line in lines if line.startswith("- ")] == TOPICS


@pytest.mark.parametrize("topic", TOPICS)
@pytest.mark.parametrize("width", [40, 80, 120])
def test_a_chapter_is_plain_text_as_wide_as_the_terminal(topic: str, width: int) -> None:
    shown = CliRunner().invoke(command, [topic, "--width", str(width)])
    assert shown.exit_code == 0
    text = shipped_text("manual", f"{topic}.md")
    assert shown.output.splitlines()[0] == text.splitlines()[0].removeprefix("# ")
    for sign in ("```", "**", "<!--", "|---", "\n## ", "]("):
        assert sign not in shown.output
    code = set(text.splitlines())
    # Code stands as it is; everything else fits, but for a single long word.
    wide = [line for line in shown.output.splitlines() if len(line) > width]
    assert [line for line in wide if line not in code and " " in line.strip()] == []


@pytest.mark.parametrize("topic", TOPICS)
def test_no_word_of_a_chapter_is_lost(topic: str) -> None:
    shown = CliRunner().invoke(command, [topic, "--width", "400"]).output
    for line in shipped_text("manual", f"{topic}.md").splitlines():
        plain = line.replace("**", "").strip("#|- ")
        if not plain or line.startswith(("```", "<!--", "|", "|---")) or "](" in line:
            continue
        assert " ".join(plain.split()) in " ".join(shown.split())


@pytest.mark.parametrize("typed", [["site-log"], ["Site", "Log"], ["site_log"], [" SITE  log "]])
def test_a_topic_is_found_as_people_type_it(typed: list[str]) -> None:
    assert CliRunner().invoke(command, typed).output.startswith("The site log\n====")


def test_a_topic_there_is_not_names_the_nearest() -> None:
    near = CliRunner().invoke(command, ["calender"])
    assert near.exit_code == 2
    assert "There is no chapter 'calender'. Did you mean 'calendars'?" in near.output
    far = CliRunner().invoke(command, ["xyzzy"])
    assert far.exit_code == 2
    assert "There is no chapter 'xyzzy'. `curecal guide` lists them." in far.output


def test_a_topic_that_names_a_file_elsewhere_is_not_read() -> None:
    assert CliRunner().invoke(command, ["../rules"]).exit_code == 2
    assert CliRunner().invoke(command, ["contents"]).exit_code == 2


def test_another_program_gets_the_list_and_a_chapter() -> None:
    listed = json.loads(CliRunner().invoke(command, ["--json"]).output)
    assert listed["schema"] == 1
    assert [topic["topic"] for topic in listed["topics"]] == TOPICS
    assert all(topic["about"] for topic in listed["topics"])
    rules = json.loads(CliRunner().invoke(command, ["rules", "--json"]).output)
    assert rules["topic"] == "rules"
    assert rules["markdown"] == shipped_text("manual", "rules.md")


@pytest.mark.parametrize(
    ("markdown", "width", "text"),
    [
        ("# Head\n## Below\n### Third", 40, "Head\n====\n\nBelow\n-----\n\nThird"),
        ("# Long head", 5, "Long\nhead\n===="),
        ("one two\nthree", 9, "one two\nthree"),
        ("one two\nthree", 40, "one two three"),
        ("a\n\n\nb", 40, "a\n\nb"),
        ("- one two\n  three\n- four", 9, "- one two\n  three\n- four"),
        ("text\n1. one two\n2. four", 7, "text\n1. one\n   two\n2. four"),
        ("- a\n  - b c", 6, "- a\n  - b\n    c"),
        ("**bold** `code`", 40, "bold `code`"),
        ("see [rules](rules.md)", 60, "see `curecal guide rules`"),
        ("[each rule](rules.md)", 60, "each rule (`curecal guide rules`)"),
        ("see [it](a/b.md)", 60, "see it (a/b.md)"),
        ("```sh\na  b\n\n  c\n```", 40, "    a  b\n\n      c"),
        ("```\nlong line\n```", 10, " long line"),
        ("```\nmuch too long\n```", 10, "much too long"),
        ("```\n# no heading\n```\nafter", 40, "    # no heading\n\nafter"),
        ("```\n```", 40, ""),
        ("before\n```\ncode\n```", 40, "before\n\n    code"),
        ("<!-- note -->\n\na", 40, "a"),
        ("| a | b |\n|---|---|\n| c d | e |", 40, "a    b\n---  -\nc d  e"),
        (
            "| a | b |\n|---|---|\n| one | two three four five |\n| x | y |",
            17,
            "a    b\n---  ------------\none  two three\n     four five\n\nx    y",
        ),
        ("| a | b |\n|---|---|\n| abcdefghij | abcdefghij |", 5, None),
    ],
)
def test_markdown_becomes_plain_text(markdown: str, width: int, text: str | None) -> None:
    shown = as_plain_text(markdown, width)
    if text is None:
        assert max(len(line) for line in shown.splitlines()) == 18  # two narrowest columns
    else:
        assert shown == text
