"""Every key of a job file, a company file and a log entry as text: `curecal new --keys`."""

from __future__ import annotations

from collections.abc import Iterator

from curecal.material_classes.rules import ListedClass, classes_by_use
from curecal.toml_files.log_schema import BASE, KINDS
from curecal.toml_files.schema import Key, headed


def block(heading: str, keys: tuple[Key, ...]) -> str:
    """Return one table of the reference: a line a key."""
    return "\n".join((heading, *_lines(keys)))


def _lines(keys: tuple[Key, ...]) -> Iterator[str]:
    for key in keys:
        mark = " (required)" if key.required else ""
        yield f"{key.name} = {key.example}  # {key.means}{mark}"
        if len(key.choices) > 1:
            yield f"    # one of: {', '.join(key.choices)}"


def _classes(use: str, listed: tuple[ListedClass, ...]) -> str:
    """Return the built-in materials of one use: a line each, with its other names."""
    lines = [f"built-in materials: {use}"]
    for one in listed:
        others = f" (also: {', '.join(one.names[1:])})" if one.names[1:] else ""
        lines.append(f'material = "{one.names[0]}"  # {one.means}{others}')
    return "\n".join(lines)


def reference() -> str:
    """Return every key with an example and its meaning, as text.

    Returns:
        One block a table; a required key is marked. Then the built-in materials by their use.
    """
    blocks = [block(heading, keys) for heading, keys in headed()]
    blocks.append(block("[[log]]", BASE))
    blocks += [block(f'[[log]] kind = "{kind}"', keys) for kind, keys in KINDS.items()]
    blocks += [_classes(use, listed) for use, listed in classes_by_use().items()]
    return "\n\n".join(blocks) + "\n"
