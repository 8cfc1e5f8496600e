"""Blocks of the yard's file that switch a channel on, made of each channel's settings."""

import typing
from collections.abc import Iterable, Mapping
from dataclasses import MISSING, Field, fields
from typing import Any

from pydantic import create_model

from monitor.delivery.channels import CHANNEL_KINDS
from monitor.delivery.channels.channel import ChannelKind
from monitor.errors import BadValueError, Fault, fault_from
from monitor.settings.faults import Block
from monitor.settings.words import Text, WebAddress

_SECRET = "secret"  # noqa: S105  the name of a field
_SECRET_KEYS = ("secret_file", "secret_env")


def _block_of(kind: ChannelKind) -> type[Block]:
    """The block of one kind: a key for each field of its settings."""
    hints = typing.get_type_hints(kind.settings)
    keys: dict[str, Any] = {}
    for each in fields(kind.settings):
        if each.name == _SECRET:
            keys |= dict.fromkeys(_SECRET_KEYS, (Text | None, None))
        elif _is_key(each):
            default = ... if each.default is MISSING else each.default
            keys[each.name] = (_written_as(each.name, hints[each.name]), default)
    made: type[Block] = create_model(f"{kind.settings.__name__}Block", __base__=Block, **keys)
    return made


def _is_key(each: "Field[Any]") -> bool:
    return each.name != _SECRET and not each.metadata.get("internal")


def _written_as(name: str, kind: Any) -> Any:  # noqa: ANN401  a type
    """What a file may hold for a field: one line of text, an address where it is a ``url``."""
    if name == "url":
        return WebAddress
    return Text if kind is str else kind


CHANNEL_BLOCKS: Mapping[str, type[Block]] = {kind.name: _block_of(kind) for kind in CHANNEL_KINDS}


def _needs_secret(kind: ChannelKind) -> bool:
    return any(f.name == _SECRET and f.default is MISSING for f in fields(kind.settings))


def secret_of(block: Block) -> tuple[str | None, str | None]:
    """Environment variable and file that hold a block's secret; None where it names none."""
    return getattr(block, "secret_env", None), getattr(block, "secret_file", None)


def missing_secrets(blocks: Mapping[str, Block]) -> Iterable[tuple[str, str, str]]:
    """Faults of blocks that must have a secret and name none: key, problem, remedy."""
    for kind in CHANNEL_KINDS:
        block = blocks.get(kind.name)
        if block is not None and _needs_secret(kind) and secret_of(block) == (None, None):
            yield (
                kind.name,
                "it has no secret, so its receiver could not tell whose posts they are",
                "Add secret_file or secret_env.",
            )


def channel_settings(
    blocks: Mapping[str, Block], secrets: Mapping[str, str | None], file: str
) -> tuple[dict[str, object], list[Fault]]:
    """Make the settings of each channel that the file has, and tell what is wrong with them.

    Parameters
    ----------
    blocks : mapping of Block by channel
    secrets : mapping of str by channel
        As they were read; None where the block names none.
    file : str
        The yard's file, for faults.
    """
    made: dict[str, object] = {}
    faults: list[Fault] = []
    for kind in CHANNEL_KINDS:
        block, secret = blocks.get(kind.name), secrets.get(kind.name)
        if block is None or (_needs_secret(kind) and secret is None):
            continue
        said = {f.name: getattr(block, f.name) for f in fields(kind.settings) if _is_key(f)}
        if secret is not None:
            said[_SECRET] = secret
        try:
            made[kind.name] = kind.settings(**said)
        except BadValueError as error:
            faults.append(fault_from(error, file, kind.name))
    return made, faults
