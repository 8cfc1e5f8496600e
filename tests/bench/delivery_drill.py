"""What each person gets wherever the power fails: `python -m tests.bench.delivery_drill`.

A cold night over twelve craft is three messages. At each step from judgement to mailbox the process
is killed (SIGKILL), a minute later another starts, and the mail server's own count is told.
"""

import tempfile
from pathlib import Path

from tests.delivery.drill import READERS, STEPS, UNRECORDED, Drilled, drill
from tests.real.mail_server import MailServer


def run() -> list[Drilled]:
    """Every drill, one after the other."""
    done = []
    for step in STEPS:
        server = MailServer()
        server.start()
        try:
            with tempfile.TemporaryDirectory() as folder:
                done.append(drill(Path(folder), server, step))
        finally:
            server.stop()
    return done


def main() -> None:
    """Print the table."""
    names = [reader.partition("@")[0] for reader in READERS]
    print(f"{'killed':32} {'sent by then':>12} {' '.join(f'{n:>8}' for n in names)} {'lost':>5}")
    for one in run():
        each = " ".join(f"{one.received[reader]:8}" for reader in READERS)
        lost = sum(one.received[reader] == 0 for reader in READERS)
        twice = "  (one came twice, as the same mail)" if one.step in UNRECORDED else ""
        print(f"{one.step:32} {one.before:12} {each} {lost:5}{twice}")


if __name__ == "__main__":
    main()
