"""Senders killed at random: forks one after another, and kills each after a random while.

    python kill_driver.py KILLS SEED WAITING UNANSWERED_FILE <what sender_process takes>

Of ten kills as many as WAITING says wait for a mail that the server has and did not answer yet;
it takes its time with those, however slowly this machine gets round to the kill.
Forking saves the second that loading costs; each child opens the book and the wire itself. Prints
at how many kills the server had such a mail: the child stands still while that is looked up.
"""

from __future__ import annotations

import os
import random
import signal
import sys
import time
from pathlib import Path

import sender_process

KILLS, SEED, WAITING = (int(word) for word in sys.argv[1:4])
UNANSWERED = Path(sys.argv[4])
BEHAVIOR = UNANSWERED.with_name("behavior")
OPTIONS = sender_process.parser().parse_args(sys.argv[5:])
# A mail that does not come is not waited for: then the kill is one of the others.
PATIENCE_S = 30.0


def unanswered_count() -> int:
    """Return how many mails the server has that it did not answer."""
    try:
        return int(UNANSWERED.read_text(encoding="utf-8") or 0)
    except FileNotFoundError:
        return 0


def wait(*, wanted: bool) -> None:
    """Wait until the server has such a mail, or none."""
    until_s = time.monotonic() + PATIENCE_S
    while (unanswered_count() > 0) is not wanted and time.monotonic() < until_s:
        time.sleep(0.002)


def main() -> None:
    """Kill, and say what was on the wire."""
    chance = random.Random(SEED)  # noqa: S311 - a test's own
    hit = 0
    for kill in range(KILLS):
        # Each lease of the one before has run out, and the server has noticed that it is gone.
        OPTIONS.lease_ahead = 1000.0 * kill
        wait(wanted=False)
        waits = kill % 10 < WAITING
        BEHAVIOR.write_text("slow 8" if waits else "slow 0.2", encoding="utf-8")
        child = os.fork()
        if not child:
            sender_process.work(OPTIONS)
            os._exit(0)
        if waits:
            wait(wanted=True)
            time.sleep(chance.uniform(0.0, 0.1))
        else:
            time.sleep(chance.uniform(0.02, 0.6))
        os.kill(child, signal.SIGSTOP)
        os.waitpid(child, os.WUNTRACED)
        hit += unanswered_count() > 0
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
    sys.stdout.write(f"{hit}\n")


if __name__ == "__main__":
    main()
