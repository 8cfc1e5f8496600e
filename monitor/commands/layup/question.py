"""One question of the bench: asked until the answer can be used, is left open, or leads back."""

import difflib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from monitor.craft.fields import Field
from monitor.craft.plan.shelf import ShelfProduct
from monitor.settings.layup_written import typed_value

_LEAVE = frozenset({"q", "quit"})
_BACK = frozenset({"<", "back"})
_YES = frozenset({"y", "yes"})
_NO = frozenset({"n", "no"})
_FEW = 6  # more choices than that are shown as a numbered list
_NEAR = 0.6


class LeftError(Exception):
    """The person left without an entry."""


class BackError(Exception):
    """The person wants the question before this one again."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bench:
    """Where questions are asked: how a question is put, how a line is said, who and when."""

    answer: Callable[[str], str]
    say: Callable[[str], None]
    now: datetime  # on the yard's clock
    names: Mapping[str, str]  # who may enter work, by id
    shelf: Sequence[ShelfProduct] = ()  # products that need only be named

    def read_typed(self, question: str) -> str:
        """What the person types; raises what leads out of the questions."""
        text = self.answer(f"{question} ").strip()
        if text.lower() in _LEAVE:
            raise LeftError
        if text.lower() in _BACK:
            raise BackError
        return text

    def ask_agreement(self, question: str, *, enter_is: bool | None = False) -> bool:
        """Whether the person says yes; ``enter_is``: what Enter alone says, None: nothing."""
        hint = "" if enter_is is None else f" [{'yes' if enter_is else 'no'}]"
        while True:
            text = self.read_typed(f"{question} (yes/no){hint}").lower()
            if not text and enter_is is not None:
                return enter_is
            if text in _YES:
                return True
            if text in _NO:
                return False
            self.say("  Yes or no?")


def ask_field(field: Field, bench: Bench, *, needed: bool = False, open_is: str = "") -> Any:  # noqa: ANN401
    """Ask for one field.

    Parameters
    ----------
    field : Field
    bench : Bench
    needed : bool
        It cannot be left open.
    open_is : str
        What stands for Enter alone, in words; empty: the question is left open.

    Returns
    -------
    object
        The value as the form takes it; None where it was left open.
    """
    hint = f" [{open_is}]" if open_is else ""
    while True:
        if field.words:
            text = ask_choice(field.question + hint, field.words, bench, needed=needed)
        else:
            text = bench.read_typed(field.question + hint)
        if not text and not open_is:
            if not needed:
                return None
            bench.say("  This one is needed.")
            continue
        try:
            typed_value(field, text or open_is, bench.now, bench.names)
        except ValueError as error:
            bench.say(f"  {error}")
            continue
        return text or open_is


def ask_choice(
    question: str,
    choices: tuple[str, ...],
    bench: Bench,
    *,
    needed: bool = False,
    listed: bool = False,
    also: Sequence[tuple[str, str]] = (),
) -> str:
    """Ask for one of several words: by number, word, beginning, or nearly.

    Parameters
    ----------
    question : str
    choices : tuple of str
    bench : Bench
    needed : bool
        It cannot be left open.
    listed : bool
        The choices were shown with their numbers already.
    also : sequence of pairs, optional
        Other names, in small letters, each with its choice; one name may stand for several.

    Returns
    -------
    str
        The choice; empty where it was left open.
    """
    many = len(choices) > _FEW
    if many and not listed:
        for number, one in enumerate(choices, start=1):
            bench.say(f"  {number}: {one}")
    hint = "" if listed else " (number or word)" if many else f" ({', '.join(choices)})"
    instead = ""  # typed in place of a yes or no
    while True:
        text, instead = instead or bench.read_typed(f"{question}{hint}").lower(), ""
        if not text and not needed:
            return ""
        if not text:
            bench.say("  This one is needed.")
            continue
        found = choices_meant(text, choices, also, by_number=many or listed)
        if len(found) == 1:
            return found[0]
        if len(found) > _FEW:
            bench.say(f"  {len(found)} of them hold {text!r}: say more of it.")
            continue
        if found:
            # A number always is that of the whole list, so those of the few are told.
            told = [f"{choices.index(one) + 1}: {one}" if listed else one for one in found]
            bench.say(f"  Which: {', '.join(told)}?")
            continue
        near = nearest_choices(text, choices, also)
        if not near:
            bench.say(f"  One of: {', '.join(choices)}.")
            continue
        if len(near) > 1:
            bench.say(f"  Which: {', '.join(near)}?")
            continue
        agreed = bench.read_typed(f"  Did you mean {near[0]}? (yes/no)").lower()
        if agreed in _YES:
            return near[0]
        instead = "" if agreed in {"", *_NO} else agreed


def _choice_by_number(text: str, choices: tuple[str, ...]) -> list[str]:
    """The choice whose number was typed, counted from 1; none where a choice is itself a number."""
    if not text.isdigit() or text in choices or not 0 < int(text) <= len(choices):
        return []
    return [choices[int(text) - 1]]


def choices_meant(
    text: str,
    choices: tuple[str, ...],
    also: Sequence[tuple[str, str]] = (),
    *,
    by_number: bool = False,
) -> list[str]:
    """Choices that a text names: wholly, else by another name, else by their beginning.

    ``by_number``: the number of a choice, counted from 1, names it too.
    """
    if by_number and (numbered := _choice_by_number(text, choices)):
        return numbered
    if text in choices:
        return [text]
    names = [(one.lower(), one) for one in choices] + list(also)
    for fits in (
        lambda name: name == text,
        lambda name: name.startswith(text),
        lambda name: text in name,
    ):
        found = list(dict.fromkeys(one for name, one in names if fits(name)))
        if found:
            return found
    return []


def nearest_choices(
    text: str, choices: tuple[str, ...], also: Sequence[tuple[str, str]]
) -> list[str]:
    """The choice that a misspelt text comes nearest to, several where they have that name."""
    names = [(one.lower(), one) for one in choices] + list(also)
    near = difflib.get_close_matches(text, [name for name, _ in names], n=1, cutoff=_NEAR)
    return list(dict.fromkeys(one for name, one in names if near and name == near[0]))
