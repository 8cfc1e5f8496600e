"""Where the daemon's log goes, and in what form: a terminal, the journal, or lines of JSON.

At ``info`` and above nothing personal is logged: no name, address or number of a person. Who was
told stands in the store; the log has it at ``debug`` alone.
"""

import json
import logging
import os
import sys
from datetime import UTC, datetime
from typing import TextIO

# Priorities of syslog (RFC 5424), which journald reads as <N> at the beginning of a line.
_PRIORITY = {
    logging.DEBUG: 7,
    logging.INFO: 6,
    logging.WARNING: 4,
    logging.ERROR: 3,
    logging.CRITICAL: 2,
}
_FORM = "%(asctime)s %(levelname)-7s %(name)s: %(message)s"
_JOURNAL_FORM = "%(name)s: %(message)s"  # the journal has time and level of its own


class JournalFormatter(logging.Formatter):
    """Lines for journald: each with its priority, for a traceback is many lines."""

    def format(self, record: logging.LogRecord) -> str:
        """One record, ``<N>`` before each of its lines."""
        priority = next(
            (number for level, number in sorted(_PRIORITY.items(), reverse=True)
             if record.levelno >= level),
            7,
        )  # fmt: skip
        return "\n".join(f"<{priority}>{line}" for line in super().format(record).split("\n"))


class JsonFormatter(logging.Formatter):
    """One JSON object a line: ``at`` (UTC), ``level``, ``from``, ``said``; of a failure ``why``."""

    def format(self, record: logging.LogRecord) -> str:
        """One record."""
        said = {
            "at": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "from": record.name,
            "said": record.getMessage(),
        }
        if record.exc_info:
            said["why"] = self.formatException(record.exc_info)
        return json.dumps(said, ensure_ascii=False)


def is_journal(stream: TextIO, said: str | None) -> bool:
    """Whether a stream is the one that systemd names in JOURNAL_STREAM, as device and inode."""
    try:
        status = os.fstat(stream.fileno())
    except (OSError, ValueError):
        return False
    return said == f"{status.st_dev}:{status.st_ino}"


def set_up_log(level: str, *, as_json: bool) -> None:
    """Log on stderr from a level on, in the form that fits who reads it."""
    handler = logging.StreamHandler()
    if as_json:
        handler.setFormatter(JsonFormatter())
    elif is_journal(sys.stderr, os.environ.get("JOURNAL_STREAM")):
        handler.setFormatter(JournalFormatter(_JOURNAL_FORM))
    else:
        handler.setFormatter(logging.Formatter(_FORM))
    logging.basicConfig(level=level.upper(), handlers=[handler])
    # Of what others log, only what is wrong: we say ourselves what happens.
    for name in ("alembic", "asyncio", "matplotlib", "PIL", "urllib3"):
        logging.getLogger(name).setLevel(logging.WARNING)
    logging.getLogger("apscheduler").setLevel(logging.CRITICAL)
