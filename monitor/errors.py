"""Everything that laidup itself can say went wrong: one tree, each with its remedy."""

from dataclasses import dataclass
from datetime import timedelta


class LaidupError(Exception):
    """Root of all errors that laidup raises on purpose."""


class BadValueError(LaidupError, ValueError):
    """A value that will not do: what is wrong with it, and how to put it right."""

    def __init__(self, problem: str, remedy: str = "") -> None:
        super().__init__(f"{problem}; {remedy}" if remedy else problem)
        self.problem = problem
        self.remedy = remedy


class QuantityError(BadValueError):
    """A text that should be a number with a unit is not one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One thing that is wrong with what a person wrote, and how to put it right."""

    file: str
    key: str  # path of the field inside the file, such as ``sensors[2].space``
    problem: str  # says what came, in the person's own words
    remedy: str
    craft: str = ""  # id of the one craft whose record it is of; empty: of none, or of several
    entry: str = ""  # id of the piece of that craft's work that is refused; empty: of more than it
    line: int = 0  # of the file, counted from 1; 0: not known

    def __str__(self) -> str:
        where = f"{self.file}, line {self.line}" if self.line else self.file
        where = f"{where}: {self.key}" if self.key else where
        return f"{where}: {self.problem}. {self.remedy}"


def problem_and_remedy(error: ValueError) -> tuple[str, str]:
    """What an error says is wrong, and what to do about it; that is empty where it says none."""
    if isinstance(error, BadValueError):
        return error.problem, error.remedy
    return str(error), ""


def fault_from(error: ValueError, file: str, key: str) -> Fault:
    """The fault that an error tells of; without a remedy of its own, to be corrected."""
    problem, remedy = problem_and_remedy(error)
    return Fault(file=file, key=key, problem=problem, remedy=as_sentence(remedy or "correct it"))


def as_sentence(text: str) -> str:
    """A remedy as it stands alone: with a capital, and a stop behind it where it has none."""
    text = text[:1].upper() + text[1:]
    return text if text.endswith((".", "?")) else text + "."


class ConfigurationError(LaidupError):
    """The configuration cannot be used; carries every fault, not only the first."""

    def __init__(self, faults: list[Fault]) -> None:
        super().__init__("\n".join(str(fault) for fault in faults))
        self.faults = faults


class RecordError(ConfigurationError):
    """What a person entered cannot go into the lay-up record; nothing of it was written."""


class PayloadError(LaidupError):
    """A message cannot be read; it is kept aside with this reason."""

    def __init__(self, reason: str, *, topic: str = "", field: str = "") -> None:
        where = " ".join(part for part in (topic, field) if part)
        super().__init__(f"{where}: {reason}" if where else reason)
        self.topic = topic
        self.field = field
        self.reason = reason


class ForecastError(LaidupError):
    """An agency's forecast cannot be had, or cannot be read; says why."""

    def __init__(self, reason: str, *, wait: timedelta = timedelta()) -> None:
        super().__init__(reason)
        self.wait = wait  # the agency says not to ask again before


class BrokerError(LaidupError):
    """The broker does not take laidup's connection; says where and why."""


class DeliveryError(LaidupError):
    """A message was not taken by its channel."""

    def __init__(
        self, channel: str, reason: str, *, permanent: bool, asks_to_wait: bool = False
    ) -> None:
        super().__init__(f"{channel}: {reason}")
        self.channel = channel
        self.reason = reason
        self.permanent = permanent  # a later try cannot succeed
        self.asks_to_wait = asks_to_wait  # as ``Receipt.asks_to_wait``


class ActError(LaidupError):
    """A person's act on an alarm does not fit: no such alarm, its state, or something missing."""


class StoreError(LaidupError):
    """The store is missing, older or newer than this program, or cannot be opened."""


class StoreBusyError(StoreError):
    """Others hold the store's lock or all its connections; later it may go."""


class StoreFullError(StoreError):
    """The store's disk has no room for what was to be written."""


class StoreReadonlyError(StoreError):
    """The store may be read but not written by laidup's user."""


class StoreDamagedError(StoreError):
    """The store's file is damaged, or no database at all."""


class ArchiveError(LaidupError):
    """A month's archive file cannot be written or read, or is not what it was."""


class WebError(LaidupError):
    """The pages cannot be served."""
