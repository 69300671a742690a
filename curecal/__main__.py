"""`python -m curecal` is the command `curecal`."""

from __future__ import annotations

from curecal.cli.main import run

if __name__ == "__main__":
    run()
