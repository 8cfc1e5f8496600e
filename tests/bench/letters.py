"""How many words are people sent? `python -m tests.bench.letters [FOLDER]`.

Counts the words of every mail in a folder of .eml files, as the demo keeps them with ``--mails``;
without a folder the demo's whole story is played first. A letter to the yard's own people may have
120 words, and 25 for each craft, space or sensor in its first blocks; the week's letter 600,
a letter to an owner 100, of a week 250.
"""

import argparse
import email
import email.policy
import re
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

FRAME_WORDS, LINE_WORDS, WEEK_WORDS = 120, 25, 600
OWNER_WORDS, OWNER_WEEK_WORDS = 100, 250
OWNERS_FIRST = ("You have nothing to do.", "Please do one thing")


@dataclass(frozen=True, kw_only=True)
class CountedMail:
    """One mail: what it is and how long."""

    to: str
    subject: str
    words: int
    lines: int  # of its first blocks
    is_week: bool
    is_owners: bool

    @property
    def allowed(self) -> int:
        """How many words it may have."""
        if self.is_owners:
            return OWNER_WEEK_WORDS if self.is_week else OWNER_WORDS
        return WEEK_WORDS if self.is_week else FRAME_WORDS + LINE_WORDS * self.lines


_OF_A_WEEK = re.compile(r"(Week|Woche) \d")


def words_of(text: str) -> int:
    """Words as a reader meets them: links, rules and signs alone are none."""
    return sum(any(c.isalnum() for c in word) for word in text.split())


def lines_of(text: str) -> int:
    """Lines of work or of craft in a letter's blocks, above its rule."""
    above, _, _ = text.partition("\n--\n")
    _, _, left = above.partition("\nLEAVE ALONE, ICE INSIDE\n")
    block = left.partition("\n\n")[0].splitlines()
    to_leave = sum(1 for line in block if line.startswith("       "))
    return to_leave + sum(1 for line in above.splitlines() if _starts_line(line))


def _starts_line(line: str) -> bool:
    first = line.split(" ", 1)[0]
    return first in {"now", "today"} or bool(re.fullmatch(r"\d\d:\d\d", first))


def counted_mails(folder: Path) -> Iterator[CountedMail]:
    """Every mail of a folder, in the order of its file's name."""
    for path in sorted(folder.rglob("*.eml")):
        mail = email.message_from_bytes(path.read_bytes(), policy=email.policy.default)
        body = mail.get_body(("plain",))
        text = "" if body is None else body.get_content().replace("\r\n", "\n")
        yield CountedMail(
            to=str(mail["To"]),
            subject=str(mail["Subject"]),
            words=words_of(text),
            lines=lines_of(text),
            is_week=_OF_A_WEEK.match(str(mail["Subject"])) is not None,
            is_owners="owners.example" in str(mail["To"]),
        )


def main() -> int:
    """Print one line a mail, and fail where one is longer than it may be."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path, nargs="?")
    chosen = parser.parse_args()
    with tempfile.TemporaryDirectory() as made:
        folder = chosen.folder
        if folder is None:
            folder = Path(made)
            demo = ["demo", "--end", "--mails", str(folder)]
            subprocess.run([sys.executable, "-m", "monitor", *demo], check=True)
        mails = list(counted_mails(folder))
    print(" words allowed  to and subject")
    for mail in mails:
        over = " TOO LONG" if mail.words > mail.allowed else ""
        print(f"{mail.words:6d} {mail.allowed:7d}  {mail.to}: {mail.subject}{over}")
    too_long = sum(1 for mail in mails if mail.words > mail.allowed)
    print(f"{len(mails)} mails, {too_long} longer than they may be")
    return 1 if too_long or not mails else 0


if __name__ == "__main__":
    sys.exit(main())
