"""All craft files of a yard: read together, and the digest that tells whether they changed."""

import json
from collections.abc import Collection, Mapping, Sequence
from hashlib import sha256
from importlib.metadata import version
from pathlib import Path

from monitor.craft.profile import Profile
from monitor.craft.record import CraftRecord
from monitor.errors import ConfigurationError, Fault, StoreError
from monitor.settings.craft_names import only_named
from monitor.settings.faults import read_toml
from monitor.yard.space import Yard


def digest_craft_files(
    files: Sequence[Path], yard_digest: str, profiles: Mapping[str, Profile]
) -> str:
    """Digest of craft files and of all that their content is checked by.

    Parameters
    ----------
    files : sequence of Path
        Each byte of them counts, and their order.
    yard_digest : str
        Of the yard's file, with what people changed of it.
    profiles : mapping of str to Profile
        The library.

    Returns
    -------
    str
        A SHA-256; empty where there is no file, or one cannot be read.
    """
    if not files:
        return ""
    try:
        sums = [(str(one), sha256(one.read_bytes()).hexdigest()) for one in files]
    except OSError:
        return ""
    library = sorted((one.id, one.digest) for one in profiles.values())
    said = json.dumps([version("laidup"), yard_digest, library, sums])
    return sha256(said.encode()).hexdigest()


def unknown_craft(store_url: str, yard: str, digest: str) -> frozenset[str] | None:
    """Ids of the craft that files of this digest may say something new of; None: of any.

    A store that does not answer knows of none; whoever goes on to open it meets its error then.
    """
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
