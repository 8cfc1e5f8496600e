"""Passwords and secrets: read from the files and variables that the yard's file names."""

from collections.abc import Iterable, Mapping
from pathlib import Path

from monitor.errors import Fault
from monitor.settings.channel_blocks import secret_of
from monitor.settings.yard_file import YardContent


class _NoPasswordError(Exception):
    def __init__(self, key: str, problem: str, remedy: str) -> None:
        super().__init__(problem)
        self.key, self.problem, self.remedy = key, problem, remedy


def _secret_blocks(
    content: YardContent,
) -> Iterable[tuple[str, tuple[str | None, str | None], str]]:
    """Blocks with a secret: their key, environment variable and file, and what the secret is."""
    broker, mail, signature = content.broker, content.mail, content.pdf_signature
    yield "broker", (broker.password_env, broker.password_file), "password"
    yield "store", (content.store.password_env, content.store.password_file), "password"
    yield "mail", (mail.password_env, mail.password_file) if mail else (None, None), "password"
    if signature is not None:
        yield "pdf_signature", (signature.password_env, signature.password_file), "password"
    for name, block in content.channel_blocks().items():
        yield name, secret_of(block), "secret"


def secret_files(content: YardContent, folder: Path) -> tuple[Path, ...]:
    """Files that hold nothing but a secret: passwords, and the key of a certificate."""
    named = [file for _, (_, file), _ in _secret_blocks(content)] + [content.broker.key_file]
    if content.pdf_signature is not None:
        named.append(content.pdf_signature.file)
    return tuple(folder / file for file in named if file is not None)


def _read_password(
    where: tuple[str | None, str | None], folder: Path, environment: Mapping[str, str], noun: str
) -> str | None:
    variable, file = where
    if variable is not None:
        if variable not in environment:
            raise _NoPasswordError(
                f"{noun}_env",
                f"the environment has no {variable}",
                f"Set it, or use {noun}_file.",
            )
        return environment[variable]
    if file is not None:
        try:
            return (folder / file).read_text(encoding="utf-8").rstrip("\r\n")
        except (OSError, UnicodeDecodeError) as error:
            raise _NoPasswordError(
                f"{noun}_file",
                f"{file} cannot be read: {error}",
                f"Put the {noun} alone into that file, readable by this user.",
            ) from error
    return None


def read_secrets(
    content: YardContent, path: Path, environment: Mapping[str, str]
) -> tuple[dict[str, str | None], list[Fault]]:
    """Every secret by its block, None where the block names none; and what is wrong with any.

    Parameters
    ----------
    content : YardContent
    path : Path
        Of the yard's file: files with secrets are read from its folder.
    environment : mapping
        Where ``password_env`` and its like look.
    """
    found: dict[str, str | None] = {}
    faults: list[Fault] = []
    for key, where, noun in _secret_blocks(content):
        try:
            found[key] = _read_password(where, path.resolve().parent, environment, noun)
        except _NoPasswordError as error:
            faults.append(
                Fault(
                    file=str(path),
                    key=f"{key}.{error.key}",
                    problem=error.problem,
                    remedy=error.remedy,
                )
            )
    return found, faults
