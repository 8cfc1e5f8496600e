"""Turns what pydantic and tomllib complain about into faults that name file, key and remedy."""

import difflib
import re
import stat
import tomllib
from datetime import date
from pathlib import Path
from typing import Any, TypeVar, get_args

from pydantic import BaseModel, ConfigDict, ValidationError
from pydantic_core import ErrorDetails

from monitor.errors import ConfigurationError, Fault, as_sentence
from monitor.phrases.complaints import what_is_wrong
from monitor.settings.toml_lines import key_on_line
from monitor.toml_text import parse_toml

_MOST_BYTES = 16 * 1024 * 1024  # a yard of 2,000 craft with ten years of work needs half of that

_LINE_SAID = re.compile(r"at line (\d+)")

Model = TypeVar("Model", bound=BaseModel)


def error_at(path: Path, key: str, problem: str, remedy: str) -> ConfigurationError:
    """The error of a file with one thing wrong; ``key`` is empty where it is of the whole file."""
    return ConfigurationError([Fault(file=str(path), key=key, problem=problem, remedy=remedy)])


class Block(BaseModel):
    """A table of a configuration file; an unknown key is an error."""

    model_config = ConfigDict(extra="forbid", frozen=True)


def read_toml(path: Path) -> dict[str, Any]:
    """Read a TOML file.

    Raises
    ------
    ConfigurationError
        If the file is missing, unreadable or no TOML; says where and what to do.
    """
    text = read_text_file(path)
    try:
        return parse_toml(text)
    except tomllib.TOMLDecodeError as error:
        raise error_at(path, "", f"it is not TOML: {error}", _place_to_mend(error, text)) from error
    except RecursionError as error:
        raise error_at(
            path,
            "",
            "its brackets stand inside each other deeper than any file of laidup needs",
            "Close what was left open, or give what is inside a table of its own.",
        ) from error
    except ValueError as error:  # a number or a key without end
        raise error_at(
            path, "", f"it cannot be made sense of: {error}", "Correct the file."
        ) from error


def _place_to_mend(error: tomllib.TOMLDecodeError, text: str) -> str:
    """What to do about a file that is no TOML: the key that the parser came to, where it says."""
    found = _LINE_SAID.search(str(error))
    key = "" if found is None else key_on_line(text, int(found[1]))
    return f"Correct {key} on that line." if key else "Correct the file at that place."


def check_content(model: type[Model], content: dict[str, Any], file: Path) -> Model:
    """Check a file's content against its model.

    Raises
    ------
    ConfigurationError
        With one fault for each thing that is wrong.
    """
    try:
        return model.model_validate(content)
    except ValidationError as error:
        raise ConfigurationError(
            [_fault_from(model, detail, file) for detail in _told_once(error.errors())]
        ) from error


def key_path(location: tuple[int | str, ...]) -> str:
    """Write a place inside a file as people write it: ``sensors[2].space`` (counted from 1)."""
    text = ""
    for step in location:
        if isinstance(step, int):
            text += f"[{step + 1}]"
        else:
            text += f".{step}" if text else step
    return text


def one_of(value: str, known: list[str]) -> str:
    """Remedy for a word that is not among the known ones, with the likeliest slip first."""
    near = difflib.get_close_matches(value, known, n=1)
    if near:
        return f"Did you mean {near[0]!r}?"
    return f"Use one of: {', '.join(known)}." if known else "There is none to choose from yet."


def _told_once(details: list[ErrorDetails]) -> list[ErrorDetails]:
    """Leave out that a list is too short where it is so only because its items are wrong."""
    return [
        detail
        for detail in details
        if detail["type"] != "too_short"
        or not any(
            len(other["loc"]) > len(detail["loc"])
            and other["loc"][: len(detail["loc"])] == detail["loc"]
            for other in details
        )
    ]


def _fault_from(model: type[BaseModel], detail: ErrorDetails, file: Path) -> Fault:
    location = tuple(detail["loc"])
    key = key_path(location)
    kind = detail["type"]
    value = detail["input"]
    if kind == "extra_forbidden":
        known = _keys_at(model, location[:-1])
        problem = f"laidup knows no such key (value {value!r})"
        return Fault(
            file=str(file), key=key, problem=problem, remedy=one_of(str(location[-1]), known)
        )
    if kind == "missing":
        return Fault(file=str(file), key=key, problem="it is missing", remedy="Add it.")
    if kind in {"enum", "literal_error"}:
        expected = str(detail.get("ctx", {}).get("expected", ""))
        return Fault(
            file=str(file), key=key, problem=f"{value!r} will not do", remedy=f"Use {expected}."
        )
    problem, remedy = what_is_wrong(detail)
    return Fault(
        file=str(file),
        key=key,
        problem=_of_value(value, problem if remedy else ""),
        remedy=as_sentence(remedy or problem),
    )


_LONGEST_SHOWN = 60  # of a value that is wrong


def _of_value(value: object, problem: str) -> str:
    """What is wrong with a value, the value named once."""
    shown = value.isoformat() if isinstance(value, date) else repr(value)
    if not problem:
        return f"{_beginning_of(shown)} will not do"
    if problem.startswith(shown):
        return problem
    return f"{_beginning_of(shown)}: {problem}"


def _beginning_of(shown: str) -> str:
    return shown if len(shown) <= _LONGEST_SHOWN else f"{shown[:_LONGEST_SHOWN]}…"


def _keys_at(model: type[BaseModel], location: tuple[int | str, ...]) -> list[str]:
    """Keys that the model takes at a place, found by walking its annotations."""
    here: Any = model
    for step in location:
        block = _block_in(here)
        if block is not None and step in block.model_fields:
            here = block.model_fields[str(step)].annotation
        # Else the step is a place in a list or a name in a table: all of one kind.
    block = _block_in(here)
    return [] if block is None else list(block.model_fields)


def _block_in(annotation: Any) -> type[BaseModel] | None:  # noqa: ANN401  may be anything
    """The model that an annotation is, or is a list, table or choice of."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    return next(filter(None, map(_block_in, get_args(annotation))), None)


def read_text_file(path: Path) -> str:
    """Read a file of UTF-8 text, with or without the mark that some editors put first.

    Raises
    ------
    ConfigurationError
        If it is missing, no plain file, too large, unreadable or no UTF-8; says what to do.
    """
    try:
        with path.open("rb") as file:
            if not stat.S_ISREG(path.stat().st_mode) and not stat.S_ISFIFO(path.stat().st_mode):
                raise error_at(path, "", "it is no plain file", "Name a file.")
            content = file.read(_MOST_BYTES + 1)
    except FileNotFoundError as error:
        raise error_at(
            path, "", "there is no such file", "Check the path, or copy an example."
        ) from error
    except IsADirectoryError as error:
        raise error_at(path, "", "it is a folder", "Name a file.") from error
    except OSError as error:
        raise error_at(
            path, "", f"it cannot be read: {error.strerror}", "Let this user read the file."
        ) from error
    if len(content) > _MOST_BYTES:
        raise error_at(
            path,
            "",
            f"it is larger than {_MOST_BYTES // 2**20} MB",
            "Name another file, or cut it in parts.",
        )
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise error_at(
            path,
            "",
            f"line {line} is not UTF-8 (byte {error.start} of the file)",
            "Save the file as UTF-8 text; in a spreadsheet, as CSV UTF-8.",
        ) from error
