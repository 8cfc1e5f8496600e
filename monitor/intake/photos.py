"""Photos as people send them: checked, made small and bare of all but the picture, or refused."""

import subprocess
import sys
import threading
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

from monitor.errors import BadValueError, LaidupError

MOST_BYTES = 12 * 1024 * 1024  # of one photo as it is sent
_PROGRAM = Path(__file__).with_name("photo_encoding.py")
_WITHIN_S = 30.0
_WAIT_S = 60.0
_REFUSED = 3
_ONE_AT_A_TIME = threading.BoundedSemaphore(1)  # the watch shares processors and memory with it
_JPEG = "take it anew, or send it as JPEG"
_WHY = {
    "heic": (
        "a HEIC photo cannot be read here",
        "set the camera to its most compatible format (JPEG), and take it anew",
    ),
    "animated": ("it is a moving picture", "take a still photo"),
    "huge": ("it has more pixels than a photo needs", "set the camera to 24 megapixels or fewer"),
    "cut-off": ("its end is missing or damaged", "take it anew, or send it again"),
    "no-picture": ("it is no photo that can be read here", _JPEG),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptPhoto:
    """A photo as it is kept: a JPEG, known by the digest of its bytes."""

    sha256: str
    content: bytes


class PhotosBusyError(LaidupError):
    """Other photos are being read; this one was not looked at."""


def read_photo(sent: bytes) -> KeptPhoto:
    """Make of a sent photo what is kept of it.

    Parameters
    ----------
    sent : bytes
        A JPEG, PNG or WebP file as its sender has it.

    Returns
    -------
    KeptPhoto
        A JPEG of at most 1280 pixels a side, upright, without place, time, camera or any other
        note. The same bytes sent give the same photo.

    Raises
    ------
    BadValueError
        If no photo can be made of it; says why, and what to do.
    PhotosBusyError
        If it has to wait too long for others.
    """
    if not sent:
        raise BadValueError("the file is empty", _JPEG)
    if len(sent) > MOST_BYTES:
        megabytes = MOST_BYTES // 1024**2
        raise BadValueError(
            f"it has more than {megabytes} MB, the most that is taken",
            "set the camera to a smaller size",
        )
    if not _ONE_AT_A_TIME.acquire(timeout=_WAIT_S):
        raise PhotosBusyError("other photos are being read; send this one again in a minute")
    try:
        # By its path and with -I, so that it imports nothing but what is installed.
        done = subprocess.run(  # noqa: S603 - our own program
            [sys.executable, "-I", str(_PROGRAM)],
            input=sent,
            capture_output=True,
            check=False,
            timeout=_WITHIN_S,
            cwd=_PROGRAM.anchor,
            env={},
        )
    except subprocess.TimeoutExpired as error:
        raise BadValueError(*_WHY["huge"]) from error
    except OSError as error:
        raise PhotosBusyError(f"photos cannot be read now: {error.strerror}") from error
    finally:
        _ONE_AT_A_TIME.release()
    if done.returncode != 0:
        # Killed for its time or its memory, or by a fault of a decoder: not a photo to keep.
        told = done.stderr.decode(errors="replace") if done.returncode == _REFUSED else ""
        raise BadValueError(*_WHY.get(told, _WHY["no-picture"]))
    return KeptPhoto(sha256=sha256(done.stdout).hexdigest(), content=done.stdout)
