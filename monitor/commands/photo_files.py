"""Photos as files: kept with the work that a flag enters, written to a folder, taken in again."""

import argparse
import re
import sys
from collections.abc import Sequence
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path

from monitor.commands.author import user_of_machine
from monitor.commands.opening import open_read_only, open_to_enter
from monitor.commands.printing import print_json
from monitor.craft.layup import PHOTO_SHA256
from monitor.errors import BadValueError, Fault, LaidupError, RecordError, fault_from
from monitor.intake.photos import KeptPhoto, read_photo

_MOST = 500  # of one folder: more is another folder than was meant


def take_photo_files(arguments: argparse.Namespace, source: Path) -> list[KeptPhoto]:
    """Read the files that ``--photo`` names, and put the names of the kept photos in their place.

    A photo that is kept already may be named by its SHA-256.

    Raises
    ------
    RecordError
        If a file is none, or no photo can be made of it; nothing was written.
    """
    given: Sequence[str] = arguments.photo_sha256 or ()
    taken = [
        one if re.fullmatch(PHOTO_SHA256, one) else _photo_of_file(Path(one), source)
        for one in given
    ]
    if given:
        arguments.photo_sha256 = [
            one.sha256 if isinstance(one, KeptPhoto) else one for one in taken
        ]
    return [one for one in taken if isinstance(one, KeptPhoto)]


def _photo_of_file(file: Path, source: Path) -> KeptPhoto:
    try:
        return read_photo(_bytes_of(file))
    except ValueError as error:
        raise RecordError([fault_from(error, str(source), f"--photo {file}")]) from error


def _bytes_of(file: Path) -> bytes:
    try:
        return file.read_bytes()
    except OSError as error:
        raise BadValueError(
            f"it cannot be read: {error.strerror}",
            "name a file, or say with --photo-place where a photo is kept elsewhere",
        ) from error


def export_photos(arguments: argparse.Namespace) -> int:
    """Write every photo that entries name to a folder, each under its SHA-256."""
    folder: Path = arguments.out
    with open_read_only(arguments) as here, here.store.snapshot() as tx:
        named = {
            name: entry
            for entries in tx.layup.all_entries().values()
            for entry in entries
            for name in entry.evidence.photo_sha256
        }
        folder.mkdir(parents=True, exist_ok=True)
        wrong = dict(tx.photos.damaged_photos(named))
        for name in sorted(set(named) - set(wrong)):
            (folder / f"{name}.jpg").write_bytes(tx.photos.content_of(name) or b"")
    for name, what in wrong.items():
        entry = named[name]
        print(
            f"{name[:12]} of entry {entry.id} on {entry.craft} is {what}: not written.",
            file=sys.stderr,
        )
    print(f"{folder}: {len(named) - len(wrong)} photos.", file=sys.stderr)
    return 1 if wrong else 0


def import_photos(arguments: argparse.Namespace) -> int:
    """Take in the photos of a folder that `export photos` wrote, all of them or none."""
    files = sorted(arguments.folder.glob("*.jpg"))
    if not files or len(files) > _MOST:
        raise LaidupError(
            f"{arguments.folder}: {len(files)} photos (*.jpg); name a folder that `laidup export"
            f" photos` wrote, {_MOST} at most at once"
        )
    wrong: list[Fault] = []
    taken: dict[str, bytes] = {}
    for file in files:
        try:
            taken[file.stem] = _exported_photo(file)
        except ValueError as error:
            wrong.append(fault_from(error, str(file), ""))
    if wrong:
        raise RecordError(wrong)
    now = datetime.now(UTC)
    with open_to_enter(arguments, craft_files=False) as bench, bench.store.transaction() as tx:
        new = set(taken) - tx.photos.kept_names(taken)
        for name in sorted(new):
            tx.photos.keep_photo(name, taken[name], "", user_of_machine(), now)
        named = {
            name
            for entries in tx.layup.all_entries().values()
            for entry in entries
            for name in entry.evidence.photo_sha256
        }
        tx.photos.put_on_record(named & set(taken))
    if arguments.json:
        print_json({"photos": len(files), "new": len(new)})
        return 0
    print(f"{arguments.folder}: {len(files)} photos, {len(new)} new.")
    return 0


def _exported_photo(file: Path) -> bytes:
    """The bytes of a photo as they were kept, which their name vouches for."""
    content = _bytes_of(file)
    if sha256(content).hexdigest() != file.stem:
        raise BadValueError(
            "its bytes are not those that its name vouches for",
            "export it again, or enter it anew with `laidup layup add --photo FILE`",
        )
    read_photo(content)  # that it is a photo at all: it is shown to people
    return content
