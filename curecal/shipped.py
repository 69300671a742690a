"""The data that comes with the program: rules, classes, check values, message texts.

Read from the folder beside this module. importlib.resources would read it from an archive too,
and costs every command ten modules for that; pip unpacks what it installs.
"""

from __future__ import annotations

from pathlib import Path

DATA = Path(__file__).parent / "data"


def shipped_text(*names: str) -> str:
    """Return the text of a data file, named by its folders under the data folder and its name.

    Raises:
        OSError: the installation lacks it.
    """
    return DATA.joinpath(*names).read_text(encoding="utf-8")
