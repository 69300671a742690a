"""How long it takes from an empty folder to a calendar that a mail client shows.

    python tests/bench/first_calendar.py [rounds]

Two commands, as whole processes: a job from answers, and its calendars sent by a mail server. Then
the message that the owner got is opened as a mail client does, and its calendar read by another
library. Figures to look at, no test.
"""

from __future__ import annotations

import email
import email.policy
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "reminders"))

import icalendar
from mail_server import MailServer, started

ANSWERS = """
[job]
name = "Alder Lane, hall bath"
timezone = "America/Halifax"
units = "imperial"
code = "CEC"
[expected]
air = "66 °F"
below = "heated room"
[people.crew_lead]
name = "Robin Mistral"
email = "robin@tilecrew.example"
[people.owner]
name = "Ida Fennell"
email = "ida@home.example"
[[zone]]
name = "hall bath"
room = "bathroom"
covering = { kind = "ceramic tile", size = "6 x 6 in" }
heating = { voltage = "240 V", power = "640 W", resistance = "90 Ω" }
build_up = "mat in thinset"
[[zone.layer]]
name = "base"
material = "plywood"
"""
COMMANDS = (
    ("new", "bath.toml", "--answers", "answers.toml"),
    ("calendars", "mail", "bath.toml", "mail", "--whole", "--send"),
)
ROUNDS = 3


def say(line: str) -> None:
    """Write a line at once."""
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


def entries_mailed(server: MailServer) -> int:
    """Return how many entries the owner's mail client is shown."""
    found = 0
    for mail in server.taken():
        if mail["to"] != ["ida@home.example"]:
            continue
        message = email.message_from_string(mail["data"], policy=email.policy.default)
        for part in message.walk():
            if part.get_content_type() == "text/calendar":
                calendar = icalendar.Calendar.from_ical(part.get_payload(decode=True))
                found += len(calendar.walk("VEVENT"))
    return found


def once() -> tuple[list[float], int]:
    """Return the time of each command [s], and the entries that came of them."""
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        (folder / "answers.toml").write_text(ANSWERS, encoding="utf-8")
        server = started(folder / "smtp")
        environment = {
            **os.environ,
            "HOME": place,
            "CURECAL_MAIL_SERVER": f"127.0.0.1:{server.port}",
            "CURECAL_MAIL_FROM": "office@tilecrew.example",
            "CURECAL_MAIL_SECURITY": "none",
        }
        took = []
        try:
            for command in COMMANDS:
                begun_s = time.perf_counter()
                subprocess.run(
                    [sys.executable, "-m", "curecal", *command],
                    cwd=folder,
                    env=environment,
                    check=True,
                    capture_output=True,
                )
                took.append(time.perf_counter() - begun_s)
            return took, entries_mailed(server)
        finally:
            server.process.kill()
            server.process.wait()


def main(rounds: int) -> None:
    """Say how long each command takes, and what the owner is shown."""
    runs = [once() for _ in range(rounds)]
    for number, command in enumerate(COMMANDS):
        median_s = statistics.median(took[number] for took, _ in runs)
        say(f"curecal {' '.join(command)}: {median_s:.2f} s")
    whole_s = statistics.median(sum(took) for took, _ in runs)
    say(f"{len(COMMANDS)} commands, {whole_s:.2f} s; entries for the owner: {runs[0][1]}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else ROUNDS)
