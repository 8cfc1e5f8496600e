"""Where the yard's list of links as a whole is not what was written, and what of it is answered.

Of a craft's own chain `monitor.craft.chain_check` tells. Here stand the gaps in the order in which
the whole yard wrote, and the heads that left and that the record does not fit.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from monitor.craft.break_marks import BreakAnswer
from monitor.craft.breaks import Break, Tampering, part_of_yard, position_of_key
from monitor.craft.chain_check import open_breaks_of
from monitor.craft.merkle import RecordHead, roots_at
from monitor.errors import QuantityError
from monitor.store.link_order import LinkPlace, LostLink, lost_links
from monitor.store.transaction import Transaction
from monitor.wording import listed, listed_first

_NAMED = 4  # craft in one sentence
_ENTER_AGAIN = "Look for it in a backup of the store and in the mails since, and enter it again."
_CONFIRM = (
    " Then say so on the machine that laidup runs on, `laidup layup confirm --all --by NAME"
    " --compared`."
)
_OF_YARD = "yard: "  # begins the key of a break of the whole list, in a person's word on it


@dataclass(frozen=True, slots=True, kw_only=True)
class _Unfit:
    """A head that the record does not fit, when it first left, and how many links still fit."""

    head: RecordHead
    left_at: datetime | None  # None: somebody kept it
    fits: int


def breaks_of_yard(
    tx: Transaction, places: Sequence[LinkPlace], kept: Sequence[RecordHead]
) -> list[Break]:
    """Every break of the yard's list of links, answered or not; of unfit heads sent the first.

    Parameters
    ----------
    tx : Transaction
    places : sequence of LinkPlace
        Every link, in the order of writing.
    kept : sequence of RecordHead
        Heads that people kept, out of mails.
    """
    odd, unfit = _heads(tx, places, kept)
    sent = [one for one in unfit if one.left_at is not None]
    told = [*sent[:1], *(one for one in unfit if one.left_at is None)]
    told.sort(key=lambda one: one.head.count)
    marked = _marked(tx.layup.chain.break_answers()) if _is_missing(places) else {}
    gaps = _runs(lost_links(places, marked))
    return [
        *_lost_yards(tx),
        *(_gap(run, places) for run in gaps),
        *(brk for brk, _ in odd),
        *(_unfit_break(one, places) for one in told),
    ]


def open_breaks_of_yard(tx: Transaction) -> list[Break]:
    """Breaks of the yard's list of links that nobody has answered.

    A gap is answered by a person's word on every craft whose link it may have been, and so is a
    head of before that word which only such gaps make unfit. All else, of which no craft tells, is
    answered by a person's word on the yard's list as a whole (`confirm_yard`). A head that left
    after the word answers for itself, so that what is cut or rewritten later is told anew.
    """
    places = tx.layup.chain.links_since()
    odd, unfit = _heads(tx, places, ())
    lost_yards = list(_lost_yards(tx))
    if not lost_yards and not odd and not unfit and not _is_missing(places):
        return []
    answers = tx.layup.chain.break_answers()
    words = [one for one in answers if one.compared_by]
    lost = lost_links(places, _marked(answers))
    answered = _answered_links(tx, lost, answers)
    runs = _open_runs(lost, places, answered, words)
    first = _open_heads(unfit, lost, answered, words)[:1]
    refused = [found for found, left_at in odd if not _is_answered_since(found, left_at, words)]
    of_others = [one for one in lost_yards if _answered_at(one, words) is None]
    return [
        *of_others,
        *(_gap(run, places) for run in runs),
        *refused,
        *(_unfit_break(one, places) for one in first),
    ]


def words_of_yard_breaks(tx: Transaction) -> str:
    """Where the yard's list of links was cut or rewritten, in words; empty where it was not.

    What a person has answered is not told. Costs one pass over all links, and looks at a craft's
    own chain only where the yard's order misses a link.
    """
    found = open_breaks_of_yard(tx)
    more = f"; and {len(found) - 1} more" if len(found) > 1 else ""
    return f"{found[0].words}{more}" if found else ""


def confirm_yard(tx: Transaction, by: str, at: datetime) -> tuple[Break, ...]:
    """Enter that a person compared the yard's list as a whole with the paper; gives what stays.

    The word goes into the chain of the craft that was written last.
    """
    found = open_breaks_of_yard(tx)
    places = tx.layup.chain.links_since()
    if found and places:
        keyed = [replace(one, part=f"{_OF_YARD}{one.part}") for one in found]
        tx.layup.chain.mark_compared(places[-1].craft, keyed, by, at)
    return tuple(open_breaks_of_yard(tx)) if found else ()


def _answered_at(found: Break, words: Sequence[BreakAnswer]) -> datetime | None:
    """When a person last answered a break of the yard's list; None: nobody did."""
    key = replace(found, part=f"{_OF_YARD}{found.part}").key
    return max((one.at for one in words if key in one.keys), default=None)


def _open_runs(
    lost: Sequence[LostLink],
    places: Sequence[LinkPlace],
    answered: Mapping[int, datetime],
    words: Sequence[BreakAnswer],
) -> list[list[LostLink]]:
    return [
        run
        for run in _runs(lost)
        if any(one.position not in answered for one in run)
        and _answered_at(_gap(run, places), words) is None
    ]


def _open_heads(
    unfit: Sequence[_Unfit],
    lost: Sequence[LostLink],
    answered: Mapping[int, datetime],
    words: Sequence[BreakAnswer],
) -> list[_Unfit]:
    return [
        one
        for one in unfit
        if not _is_explained(one, lost, answered) and not _is_head_answered(one, words)
    ]


def _is_answered_since(found: Break, left_at: datetime, words: Sequence[BreakAnswer]) -> bool:
    at = _answered_at(found, words)
    return at is not None and left_at <= at


def _is_missing(places: Sequence[LinkPlace]) -> bool:
    return bool(places) and places[-1].position + 1 != len(places)


def _lost_yards(tx: Transaction) -> Iterator[Break]:
    """Records that no yard of this database is named for: whoever asks for one finds it empty."""
    lost = tx.layup.chain.links_of_no_yard()
    if lost:
        yield Break(
            craft="",
            part="yards",
            what=Tampering.DELETED,
            words=f"The store holds {lost} links of a yard that its list of yards names no more",
            remedy=(
                "Stop laidup and put the store back from a backup that has the yard; keep this one,"
                " and compare the work since."
            ),
            state=str(lost),
        )


def _marked(answers: Sequence[BreakAnswer]) -> dict[int, set[str]]:
    """Craft whose links name a missing link as one that they may have lost, by its position."""
    found: dict[int, set[str]] = {}
    for one in answers:
        for position in map(position_of_key, one.keys):
            if position is not None:
                found.setdefault(position, set()).add(one.craft)
    return found


def _answered_links(
    tx: Transaction, lost: Sequence[LostLink], answers: Sequence[BreakAnswer]
) -> dict[int, datetime]:
    """Missing links that a person answered for each craft, by position, with when the last did."""
    marked = _marked(answers)
    said = _marked([one for one in answers if one.compared_by])
    within = sorted({key for one in lost for key in one.within})
    chains = tx.layup.chain.stored_rows(within) if within else {}
    whole = {key for key in within if key in chains and not open_breaks_of(chains[key])}
    found: dict[int, datetime] = {}
    for one in lost:
        may_have = marked.get(one.position, set()) | set(one.at_end)
        answered_by = said.get(one.position, set())
        of_craft = may_have | set(one.within)
        times = [each.at for each in answers if each.compared_by and each.craft in of_craft]
        if times and may_have <= answered_by and whole.issuperset(one.within):
            found[one.position] = max(times)
    return found


def _is_explained(one: _Unfit, lost: Sequence[LostLink], answered: Mapping[int, datetime]) -> bool:
    """Whether answered gaps alone make a head unfit that left before they were answered."""
    inside = [each for each in lost if one.fits <= each.before < one.head.count]
    return (
        one.left_at is not None
        and bool(inside)
        and all(each.position in answered for each in inside)
        and one.left_at <= max(answered[each.position] for each in inside)
    )


def _is_head_answered(one: _Unfit, words: Sequence[BreakAnswer]) -> bool:
    """Whether a person answered this head, or an older one that did not fit, after it left."""
    for word in words:
        for key in word.keys:
            if not key.startswith(f"{_OF_YARD}head ") or one.left_at is None:
                continue
            count = key.removeprefix(f"{_OF_YARD}head ").partition("-")[0]
            if count.isdecimal() and int(count) <= one.head.count and one.left_at <= word.at:
                return True
    return False


def _runs(lost: Sequence[LostLink]) -> list[list[LostLink]]:
    """Missing links that follow each other, together; the last run may go on further."""
    runs: list[list[LostLink]] = []
    for one in lost:
        if runs and one.before == runs[-1][0].before:
            runs[-1].append(one)
        else:
            runs.append([one])
    return runs


def _gap(run: Sequence[LostLink], places: Sequence[LinkPlace]) -> Break:
    """Links that are missing from the yard's order of writing, in one place."""
    first = run[0]
    after = places[first.before]
    before = places[first.before - 1] if first.before else None
    count = after.position - first.position
    behind = f" behind one of craft {before.craft}" if before is not None else ""
    several = count > 1
    return Break(
        craft=first.craft[0] if len(first.craft) == 1 and not several else "",
        part=part_of_yard(first.position),
        what=Tampering.DELETED,
        words=f"In the yard's order of writing {count} link"
        f"{'s are' if several else ' is'} missing{behind}, before one of craft {after.craft}"
        f"{_lost_by(first.craft)}",
        remedy=_ENTER_AGAIN + _CONFIRM,
        number=first.position,
        state=str(count) if several else "",
    )


def _lost_by(craft: Sequence[str]) -> str:
    if not craft:
        return ""
    if len(craft) <= _NAMED:
        return f": it was of craft {listed(list(craft), 'or')}"
    return f": it was of one of {len(craft)} craft, the last of its chain"


def _heads(
    tx: Transaction, places: Sequence[LinkPlace], kept: Sequence[RecordHead]
) -> tuple[list[tuple[Break, datetime]], list[_Unfit]]:
    """Messages that carry no head where one should stand, and heads that the record does not fit.

    The unfit by their count of links, those that left and those that somebody kept.
    """
    odd: list[tuple[Break, datetime]] = []
    asked: list[tuple[RecordHead, datetime | None]] = [(one, None) for one in kept]
    for text, at in tx.outbox.heads_sent():
        try:
            asked.append((RecordHead.parse(text), at))
        except QuantityError:
            found = Break(
                craft="",
                part="outbox",
                what=Tampering.CHANGED,
                words=f"A message of {_day(at)} carries {text!r}, which is no head of a record",
                remedy=f"Look at that message where it was received.{_CONFIRM}",
            )
            odd.append((found, at))
    roots = roots_at((one.hash for one in places), (head.count for head, _ in asked))
    fit: list[tuple[RecordHead, datetime | None]] = []
    unfit: list[_Unfit] = []
    for head, left_at in sorted(asked, key=lambda each: each[0].count):
        root = roots.get(head.count)
        if root is not None and root.startswith(head.root):
            fit.append((head, left_at))
            continue
        # One that left later may be of the record as it was changed.
        older = [one.count for one, at in fit if left_at is None or at is None or at <= left_at]
        unfit.append(_Unfit(head=head, left_at=left_at, fits=max(older, default=0)))
    return odd, unfit


def _unfit_break(one: _Unfit, places: Sequence[LinkPlace]) -> Break:
    head, fits = one.head, one.fits
    when = (
        "somebody kept it"
        if one.left_at is None
        else f"a message was written on {_day(one.left_at)}"
    )
    part = f"head {head.short}"
    if head.count > len(places):
        gone = head.count - len(places)
        return Break(
            craft="",
            part=part,
            what=Tampering.CUT,
            words=f"The record had {head.count} links when {when}, and has {len(places)} now: the"
            f" newest {gone} of then {'is' if gone == 1 else 'are'} gone",
            remedy=f"{_ENTER_AGAIN} If an older backup was put back, that is why.{_CONFIRM}",
            number=len(places),
        )
    among = list(dict.fromkeys(each.craft for each in places[fits : head.count]))
    return Break(
        craft="",
        part=part,
        what=Tampering.REWRITTEN,
        words=f"Of the first {head.count} links, as they were when {when}, one or more behind the"
        f" first {fits} are others now; they are of craft {listed_first(among, _NAMED)}",
        remedy="Compare these craft with a backup of the store, with the mails and with the paper;"
        f" or the head is of another yard.{_CONFIRM}",
        number=fits,
    )


def _day(at: datetime) -> str:
    return f"{at:%Y-%m-%d %H:%M} UTC"
