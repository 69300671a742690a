"""The demo: copies of the example jobs in a folder that goes with the process."""

from __future__ import annotations

import contextlib
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

from curecal.shipped import DATA


@contextlib.contextmanager
def demo_jobs() -> Iterator[tuple[Path, tuple[Path, ...]]]:
    """Give a folder that is thrown away, and the example jobs in it."""
    with tempfile.TemporaryDirectory(prefix="curecal-demo-") as name:
        folder = Path(name)
        # What is written beside a job file is written beside the copy.
        copied = shutil.copytree(_examples(), folder / "examples")
        yield folder, tuple(sorted(copied.glob("*/job.toml")))


def _examples() -> Path:
    # The wheel has them among its data; in the source they have a folder of their own.
    installed = DATA / "examples"
    return installed if installed.is_dir() else DATA.parents[1] / "examples"
