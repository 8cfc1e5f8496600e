"""One question of the bench: asked until the answer can be used, is left open, or leads back."""

import difflib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from monitor.craft.fields import Field
from monitor.craft.naming import plain_name
from monitor.craft.plan.shelf import ShelfProduct
from monitor.settings.entry_as_typed import typed_value

_LEAVE = frozenset({"q", "quit"})
_BACK = frozenset({"<", "back"})
YES = frozenset({"y", "yes"})
NO = frozenset({"n", "no"})
_FEW = 6  # more choices than that are shown as a numbered list
_NEAR = 0.6
_SHOW = "?"  # shows a list of choices once more


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
            if text in YES:
                return True
            if text in NO:
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
    while True:
        hint = f" [{open_is}]" if open_is else ""
        if field.words:
            text = ask_choice(
                field.question + hint,
                field.words,
                bench,
                needed=needed,
                also=[(word, str(one)) for word, one in field.also.items()],
                meant=field.choice_meant,
            )
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
            # Whoever typed something did not mean what Enter alone would stand for.
            needed, open_is = needed or bool(open_is), ""
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
    names: Mapping[str, str] | None = None,
    show: Callable[[], None] | None = None,
    meant: Callable[[str], str] | None = None,
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
    names : mapping of str to str, optional
        What a choice is called to a person, where that is not the choice itself.
    show : callable, optional
        Shows the list of choices once more.
    meant : callable, optional
        Makes a choice of a person's word; ValueError where it may be one or another.

    Returns
    -------
    str
        The choice; empty where it was left open.
    """
    many = len(choices) > _FEW
    hint = "" if listed else _offer_choices(choices, bench)
    instead = ""  # typed in place of a yes or no
    while True:
        text, instead = instead or bench.read_typed(f"{question}{hint}").lower(), ""
        if text == _SHOW and show is not None:
            show()
            continue
        if not text and not needed:
            return ""
        text = _meant_or_said(text, meant, bench)
        if not text:
            continue
        found = choices_meant(text, choices, also, by_number=many or listed)
        if len(found) == 1:
            return found[0]
        near = [] if found else nearest_choices(text, choices, also)
        if len(near) == 1:
            answer = _ask_if_meant(_called(near[0], choices, names, numbered=False), bench)
            if answer in YES:
                return near[0]
            instead = "" if answer in NO else answer
            continue
        called = [_called(one, choices, names, numbered=listed) for one in found or near]
        again = f" {_SHOW} shows it again." if show is not None and not called else ""
        bench.say(f"  {_ask_for_more(text, found, called, () if listed else choices)}{again}")


def _ask_if_meant(called: str, bench: Bench) -> str:
    """What a person says to a guess, in small letters; Enter alone is a no."""
    return bench.read_typed(f"  Did you mean {called}? (yes/no)").lower() or "no"


def _offer_choices(choices: tuple[str, ...], bench: Bench) -> str:
    """Show many choices with their numbers; what stands behind the question."""
    if len(choices) <= _FEW:
        return f" ({', '.join(choices)})"
    for number, one in enumerate(choices, start=1):
        bench.say(f"  {number}: {one}")
    return " (number or word)"


def _meant_or_said(text: str, meant: Callable[[str], str] | None, bench: Bench) -> str:
    """The choice that a word means; empty where that was said to be asked again."""
    if not text:
        bench.say("  This one is needed.")
        return ""
    try:
        return meant(text) if meant is not None else text
    except ValueError as error:
        bench.say(f"  {error}")
        return ""


def _called(
    choice: str, choices: tuple[str, ...], names: Mapping[str, str] | None, *, numbered: bool
) -> str:
    """What a choice is called to a person, behind its number where a list was shown."""
    name = (names or {}).get(choice, choice)
    return f"{choices.index(choice) + 1}: {name}" if numbered else name


def _ask_for_more(
    text: str, found: Sequence[str], called: Sequence[str], few: Sequence[str]
) -> str:
    """What to type instead of a text that names no choice, or several.

    ``few`` are the choices where no list of them was shown.
    """
    if len(found) > _FEW:
        return f"{len(found)} of them hold {text!r}: say more of it."
    if called:
        # A number always is that of the whole list, so those of the few are told with theirs.
        return f"Which: {'; '.join(called)}?"
    if few:
        return f"One of: {', '.join(few)}."
    return f"{text!r} is none of the list: type its number, or a word of it."


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
    names = _plain_names(choices, also)
    plain = plain_name(text)
    for fits in (
        lambda name: name == plain,
        lambda name: name.startswith(plain),
        lambda name: plain in name,
    ):
        found = list(dict.fromkeys(one for name, one in names if fits(name)))
        if found:
            return found
    return []


def nearest_choices(
    text: str, choices: tuple[str, ...], also: Sequence[tuple[str, str]]
) -> list[str]:
    """The choice that a misspelt text comes nearest to, several where they have that name."""
    names = _plain_names(choices, also)
    near = difflib.get_close_matches(
        plain_name(text), [name for name, _ in names], n=1, cutoff=_NEAR
    )
    return list(dict.fromkeys(one for name, one in names if near and name == near[0]))


def _plain_names(
    choices: tuple[str, ...], also: Sequence[tuple[str, str]]
) -> list[tuple[str, str]]:
    """All names of the choices, as they are compared: ``fogged running`` is ``fogged-running``."""
    return [(plain_name(one), one) for one in choices] + [
        (plain_name(name), one) for name, one in also
    ]
