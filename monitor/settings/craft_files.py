"""All craft files of a yard: read together, and the digest that tells whether they changed."""

import json
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from hashlib import sha256
from importlib.metadata import version
from pathlib import Path

from monitor.craft.profile import Profile
from monitor.craft.record import CraftRecord
from monitor.errors import ConfigurationError, Fault, StoreError
from monitor.settings.craft_names import only_named
from monitor.settings.faults import read_toml
from monitor.yard.space import Yard


@dataclass(frozen=True, slots=True)
class CraftFiles:
    """The craft files of a yard, and what their content is checked by."""

    paths: Sequence[Path]
    yard_digest: str  # of the yard's file, with what people changed of it
    profiles: Mapping[str, Profile]

    def digest_now(self) -> str:
        """SHA-256 over each byte of the files, their order, yard and library, as they are now.

        Empty where there is no file, or one cannot be read.
        """
        if not self.paths:
            return ""
        try:
            sums = [(str(one), sha256(one.read_bytes()).hexdigest()) for one in self.paths]
        except OSError:
            return ""
        library = sorted((one.id, one.digest) for one in self.profiles.values())
        said = json.dumps([version("laidup"), self.yard_digest, library, sums])
        return sha256(said.encode()).hexdigest()


@dataclass(frozen=True, slots=True, kw_only=True)
class CraftRead:
    """What was read of craft files."""

    craft: tuple[CraftRecord, ...]
    faults: tuple[Fault, ...]
    whole: bool  # every craft was read, and nothing is wrong with any
    digest: str  # of the files, where it is whole and none changed while it was read; else empty


def read_new_craft(
    files: CraftFiles, yard: Yard, named: Collection[str], taken_into: str | None
) -> CraftRead:
    """Read craft files as far as a store may not hold what they say.

    Parameters
    ----------
    files : CraftFiles
    yard : Yard
    named : collection of str
        Ids or names of the craft that are asked about. Empty: all.
    taken_into : str or None
        Address of that store: of files whose bytes it was taken from, only craft that people have
        changed since are read. None: all are.
    """
    digest = files.digest_now()
    new = None if taken_into is None else _unknown_craft(taken_into, yard.id, digest)
    if new is not None and not new:
        return CraftRead(craft=(), faults=(), whole=False, digest="")
    named = named or new or ()
    craft, faults = read_craft_files(files.paths, yard, files.profiles, named)
    whole = not (faults or named)
    unchanged = whole and files.digest_now() == digest
    return CraftRead(
        craft=craft, faults=tuple(faults), whole=whole, digest=digest if unchanged else ""
    )


def _unknown_craft(store_url: str, yard: str, digest: str) -> frozenset[str] | None:
    """Ids of the craft that files of this digest may say something new of; None: of any.

    A store that does not answer knows of none; whoever goes on to open it meets its error then.
    """
    if not digest:
        return None
    from monitor.store.taken_files import craft_to_read

    try:
        return craft_to_read(store_url, yard, digest)
    except StoreError:
        return None


def read_craft_files(
    files: Sequence[Path],
    yard: Yard,
    profiles: Mapping[str, Profile],
    named: Collection[str],
) -> tuple[tuple[CraftRecord, ...], list[Fault]]:
    """Craft of every craft file with which nothing is wrong, and the faults of all together.

    Parameters
    ----------
    files : sequence of Path
    yard : Yard
    profiles : mapping of str to Profile
        The library.
    named : collection of str
        Ids or names of the craft that are asked about. Empty: all.
    """
    if named:
        files = [file for file in files if _may_speak_of(file, named)]
    if not files:
        return (), []
    from monitor.settings.craft_file import read_craft  # its forms take long to make

    records: list[CraftRecord] = []
    faults: list[Fault] = []
    for file in files:
        read, wrong = read_craft(file, yard, profiles, may_be_empty=True, named=named)
        records.extend(read)
        faults.extend(wrong)
    return tuple(records), faults


def _may_speak_of(path: Path, named: Collection[str]) -> bool:
    """Whether a craft file says anything of these craft, or cannot be read, which is to be told."""
    if path.suffix.lower() == ".csv":
        return True
    try:
        return bool(only_named(read_toml(path), named))
    except ConfigurationError:
        return True
