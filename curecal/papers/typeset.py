"""Papers to PDF by typst: data go in as data, and the same paper gives the same bytes."""

from __future__ import annotations

import functools
import importlib
import json
from datetime import UTC
from pathlib import Path
from typing import Any

from curecal.errors import CurecalError, SourceError
from curecal.papers.blocks import Paper
from curecal.shipped import DATA
from curecal.words.json.record_json import encode

# Tagged for screen readers, and readable for as long as a floor lies.
STANDARDS = ("ua-1", "a-2a")
_TEMPLATES = DATA / "papers"
# Typst's own faces have Latin, Greek, Cyrillic and the signs of units; what lies beyond is spelled
# out by its number, which keeps a name whole where a box would lose it.
_LATIN_TO_CYRILLIC = 0x530
_MORE_LATIN_TO_SIGNS = range(0x1E00, 0x2300)


def typeset(paper: Paper) -> bytes:
    """Return a paper as PDF, accessible (UA-1) and for archives (A-2a).

    Args:
        paper: The paper; its texts are set as they stand, whatever signs are in them.

    Raises:
        SourceError: What sets papers is not installed.
        CurecalError: A template is broken.
    """
    try:
        typst = importlib.import_module("typst")
    except ImportError:
        raise SourceError("paper-extra") from None
    document = encode(paper)
    stamp = paper.stamp_at.astimezone(UTC)
    document["stamp"] = [
        stamp.year,
        stamp.month,
        stamp.day,
        stamp.hour,
        stamp.minute,
        stamp.second,
    ]
    try:
        return _compile(typst, paper.kind, document)
    except typst.TypstError as error:
        if "could not be displayed" not in str(error):
            raise CurecalError("template-broken", reason=str(error)) from error
    return _compile(typst, paper.kind, _spelled(document))


@functools.cache
def _compiler(typst: Any, templates: Path) -> Any:
    """Return a compiler with its faces loaded: that takes longer than to set a card."""
    # A face of the machine would give other bytes than the next machine's.
    faces = typst.Fonts(include_system_fonts=False)
    return typst.Compiler(root=str(templates), font_paths=faces, ignore_system_fonts=True)


def _compile(typst: Any, kind: str, document: Any) -> bytes:
    made: bytes = _compiler(typst, _TEMPLATES).compile(
        str(_TEMPLATES / f"{kind}.typ"),
        format="pdf",
        sys_inputs={"paper": json.dumps(document, ensure_ascii=False)},
        pdf_standards=list(STANDARDS),
    )
    return made


def _spelled(value: Any) -> Any:
    """Return a document with every sign that no face has spelled out: "[U+738B]"."""
    match value:
        case str():
            return "".join(sign if _is_in_face(sign) else f"[U+{ord(sign):04X}]" for sign in value)
        case list():
            return [_spelled(item) for item in value]
        case dict():
            return {name: _spelled(item) for name, item in value.items()}
        case _:
            return value


def _is_in_face(sign: str) -> bool:
    return ord(sign) < _LATIN_TO_CYRILLIC or ord(sign) in _MORE_LATIN_TO_SIGNS
