"""The demo: copies of the example jobs in a folder that goes with the process."""

from __future__ import annotations

import contextlib
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

from curecal.errors import SourceError
from curecal.shipped import DATA

_EXAMPLES = DATA.parents[1] / "examples"


@contextlib.contextmanager
def demo_jobs() -> Iterator[tuple[Path, tuple[Path, ...]]]:
    """Give a folder that is thrown away, and the example jobs in it.

    Raises:
        SourceError: the examples do not lie beside the program (`serve-no-examples`).
    """
    found = sorted(_EXAMPLES.glob("*/job.toml"))
    if not found:
        raise SourceError("serve-no-examples")
    with tempfile.TemporaryDirectory(prefix="curecal-demo-") as name:
        folder = Path(name)
        # What is written beside a job file is written beside the copy.
        shutil.copytree(_EXAMPLES, folder / "examples")
        jobs = tuple(folder / "examples" / path.relative_to(_EXAMPLES) for path in found)
        yield folder, jobs
