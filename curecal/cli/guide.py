"""`curecal guide`: the manual, chapter by chapter, as plain text."""

from __future__ import annotations

import re
import textwrap
from typing import TYPE_CHECKING, NamedTuple

import click

from curecal.cli.shared.common import json_option, print_json, width_of
from curecal.shipped import shipped_text

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

SCHEMA = 1
_FOLDER = "manual"
_CONTENTS = "contents"
# A chapter is a link to a file of its own name: other links of the contents are none.
_CHAPTER = re.compile(r"^- \[(?P<topic>[a-z-]+)\]\((?P=topic)\.md\): (?P<about>.+)$", re.MULTILINE)
_HEADING = re.compile(r"^(?P<level>#{1,3}) (?P<text>.+)$")
_ITEM = re.compile(r"^(?P<mark>\s*(?:-|\d+\.) )(?P<text>.+)$")
_LINK = re.compile(r"\[(?P<text>[^\]]+)\]\((?P<target>[^)]+)\)")
_UNDERLINES = {1: "=", 2: "-"}
_CODE_INDENT = 4
_BETWEEN_COLUMNS = "  "
# A narrower column of a table breaks words; the lines then grow wider than the terminal instead.
_NARROWEST_COLUMN = 8


class Chapter(NamedTuple):
    """A chapter of the manual: the name people type, and what it is about."""

    topic: str
    about: str


@click.command("guide")
@click.argument("topic", nargs=-1)
@click.option("--width", type=click.IntRange(min=40), metavar="N", help="Columns to write in.")
@json_option
def command(*, topic: tuple[str, ...], width: int | None, as_json: bool) -> None:
    """Read the manual, chapter by chapter.

    Without TOPIC, list the chapters.
    """
    listed = chapters()
    if not topic:
        if as_json:
            print_json({"schema": SCHEMA, "topics": [chapter._asdict() for chapter in listed]})
            return
        click.echo(as_plain_text(shipped_text(_FOLDER, f"{_CONTENTS}.md"), width_of(width)))
        return
    chapter = _chapter_named(" ".join(topic), listed)
    text = shipped_text(_FOLDER, f"{chapter.topic}.md")
    if as_json:
        print_json({"schema": SCHEMA, **chapter._asdict(), "markdown": text})
        return
    click.echo(as_plain_text(text, width_of(width)))


def chapters() -> Sequence[Chapter]:
    """Return the chapters in reading order."""
    text = shipped_text(_FOLDER, f"{_CONTENTS}.md")
    return [Chapter(found["topic"], found["about"]) for found in _CHAPTER.finditer(text)]


def _chapter_named(text: str, listed: Sequence[Chapter]) -> Chapter:
    name = re.sub(r"[\s_-]+", "-", text.strip().lower())
    by_topic = {chapter.topic: chapter for chapter in listed}
    if name not in by_topic:
        import difflib

        near = difflib.get_close_matches(name, by_topic, n=1)
        hint = f"Did you mean {near[0]!r}?" if near else "`curecal guide` lists them."
        click.get_current_context().fail(f"There is no chapter {text!r}. {hint}")
    return by_topic[name]


def as_plain_text(markdown: str, width: int) -> str:
    """Return Markdown as people read it in a terminal.

    Args:
        markdown: headings, paragraphs, lists, tables, code between fences; no HTML but comments.
        width: columns; code is shown as it is, however long.
    """
    blocks = (_shown(block, width) for block in _blocks(markdown))
    return "\n\n".join(block for block in blocks if block)


def _blocks(markdown: str) -> Iterator[list[str]]:
    """Give the lines of each block; code between fences is one, with its fences."""
    block: list[str] = []
    fenced = False
    for line in markdown.splitlines():
        at_fence = line.startswith("```")
        if not fenced and (at_fence or not line.strip() or _HEADING.match(line)):
            if block:
                yield block
            block = []
        if fenced or line.strip():
            block.append(line)
        if at_fence:
            fenced = not fenced
        if block and not fenced and (at_fence or _HEADING.match(line)):
            yield block
            block = []
    if block:
        yield block


def _shown(block: Sequence[str], width: int) -> str:
    first = block[0]
    if first.startswith("```"):
        return _code(block[1:-1], width)
    if first.startswith("<!--"):
        return ""
    if first.startswith("|"):
        return _table(block, width)
    if heading := _HEADING.match(first):
        text = textwrap.fill(_inline(heading["text"]), width, break_on_hyphens=False)
        mark = _UNDERLINES.get(len(heading["level"]))
        longest = max(len(line) for line in text.splitlines())
        return f"{text}\n{mark * longest}" if mark else text
    return "\n".join(_wrapped(part, width) for part in _items(block))


def _code(lines: Sequence[str], width: int) -> str:
    """Return code set in, but by no more than its longest line leaves room for."""
    longest = max((len(line) for line in lines), default=0)
    indent = " " * max(0, min(_CODE_INDENT, width - longest))
    return "\n".join(f"{indent}{line}".rstrip() for line in lines)


def _items(block: Sequence[str]) -> Iterator[str]:
    """Give each item of a list, or the one paragraph, as one line."""
    item = ""
    for line in block:
        if _ITEM.match(line):
            if item:
                yield item
            item = line
        else:
            item = f"{item} {line.strip()}" if item else line.strip()
    yield item


def _wrapped(item: str, width: int) -> str:
    found = _ITEM.match(item)
    mark, text = (found["mark"], found["text"]) if found else ("", item)
    return textwrap.fill(
        _inline(text),
        width,
        initial_indent=mark,
        subsequent_indent=" " * len(mark),
        break_long_words=False,
        break_on_hyphens=False,
    )


def _inline(text: str) -> str:
    """Return a line without emphasis, its links as what a person types or opens."""

    def link(found: re.Match[str]) -> str:
        target = found["target"]
        if target.endswith(".md") and "/" not in target:
            topic = target.removesuffix(".md")
            typed = f"`curecal guide {topic}`"
            return typed if found["text"] == topic else f"{found['text']} ({typed})"
        return f"{found['text']} ({target})"

    listed = _CHAPTER.match(f"- {text}")
    if listed:
        return f"{listed['topic']}: {listed['about']}"
    return _LINK.sub(link, text).replace("**", "")


def _table(block: Sequence[str], width: int) -> str:
    rows = [[_inline(cell.strip()) for cell in row.strip("| ").split(" | ")] for row in block]
    head, _, *body = rows
    natural = [max(len(row[column]) for row in (head, *body)) for column in range(len(head))]
    widths = _column_widths(natural, width)
    rule = _BETWEEN_COLUMNS.join("-" * column for column in widths)
    # Rows that take several lines are told apart by an empty one.
    between = "\n" if sum(natural) == sum(widths) else "\n\n"
    shown = between.join(_row(row, widths) for row in body)
    return f"{_row(head, widths)}\n{rule}\n{shown}"


def _column_widths(natural: Sequence[int], width: int) -> list[int]:
    """Return the columns' widths: the widest gives way until the row fits."""
    widths = list(natural)
    room = width - len(_BETWEEN_COLUMNS) * (len(widths) - 1)
    while sum(widths) > room and max(widths) > _NARROWEST_COLUMN:
        widths[widths.index(max(widths))] -= 1
    return widths


def _row(cells: Sequence[str], widths: Sequence[int]) -> str:
    wrapped = [
        textwrap.wrap(cell, width, break_on_hyphens=False) or [""]
        for cell, width in zip(cells, widths, strict=True)
    ]
    height = max(len(lines) for lines in wrapped)
    return "\n".join(
        _BETWEEN_COLUMNS.join(
            (lines[at] if at < len(lines) else "").ljust(width)
            for lines, width in zip(wrapped, widths, strict=True)
        ).rstrip()
        for at in range(height)
    )
