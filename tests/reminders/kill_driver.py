"""Senders killed at random: forks one after another, and kills each after a random while.

    python kill_driver.py KILLS SEED <what sender_process takes>

Forking saves the second that loading costs; each child opens the book and the wire itself.
"""

from __future__ import annotations

import os
import random
import signal
import sys
import time

import sender_process

KILLS, SEED = int(sys.argv[1]), int(sys.argv[2])
OPTIONS = sender_process.parser().parse_args(sys.argv[3:])


def main() -> None:
    chance = random.Random(SEED)  # noqa: S311 - a test's own
    for kill in range(KILLS):
        # Each lease of the one before has run out.
        OPTIONS.lease_ahead = 1000.0 * kill
        child = os.fork()
        if not child:
            sender_process.work(OPTIONS)
            os._exit(0)
        time.sleep(chance.uniform(0.02, 0.6))
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)


if __name__ == "__main__":
    main()
