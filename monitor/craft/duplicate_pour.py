"""A pour that is told of more than once: it went in once, and the worst of its accounts counts.

Until somebody says that it was a second one, antifreeze in one circuit is one pour, whoever wrote
it down how often, by which act, with which strength, and for which of the circuits. Only another
glycol is certainly another pour.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from monitor.craft.contents import Contents, Pour
from monitor.craft.lacks import can_make_safe, reason_not_counting
from monitor.craft.layup import Act, LayupEntry, Liquid, Outflow
from monitor.craft.pour_outcome import pass_by, pour_into
from monitor.craft.poured_flow import PouredFlow, goes_past
from monitor.craft.profile import CircuitProfile
from monitor.craft.protection import LayupState
from monitor.craft.reasons import Because, Lack, Reason

Reached = Mapping[str, tuple[CircuitProfile, Contents]]


def kinds_poured(entry: LayupEntry) -> frozenset[Liquid]:
    """What went in; one that nobody named may be any, and stands beside what is named."""
    return frozenset({entry.product.liquid if entry.product is not None else Liquid.NOT_KNOWN})


def possible_duplicate_pours(
    entry: LayupEntry, named: Iterable[str], reached: Reached
) -> list[Pour]:
    """Find earlier pours of which an entry may tell once more; none where it is a second one.

    Parameters
    ----------
    entry : LayupEntry
        Of antifreeze.
    named : iterable of str
        Circuits that it names.
    reached : mapping of str to (CircuitProfile, Contents)
        All that it can have reached.

    Returns
    -------
    list of Pour
        Each once, in the order in which they went in. Two pours by hand into different circuits
        are two. Two runs through one path may be one, whatever parts of it were named.
    """
    if entry.again:
        return []
    names = frozenset(named)
    found: list[Pour] = []
    for name, (_, contents) in reached.items():
        for pour in contents.pours:
            new = not any(pour.is_same(one) for one in found)
            if new and _may_tell_of(pour, entry, name, is_named=name in names):
                found.append(pour)
    return sorted(found, key=lambda one: one.accounts[0].at)


def _may_tell_of(pour: Pour, entry: LayupEntry, name: str, *, is_named: bool) -> bool:
    if len((kinds_poured(pour.accounts[0]) | kinds_poured(entry)) - {Liquid.NOT_KNOWN}) > 1:
        return False
    run = Act.ANTIFREEZE_RUN_THROUGH
    both_run = entry.act is run and any(one.act is run for one in pour.accounts)
    return both_run or (is_named and name in pour.named)


def is_repeated(entry: LayupEntry, told: Iterable[Pour]) -> bool:
    """Whether an account of one of these pours agrees in all that circuits are judged by."""
    said = _what_counts(entry)
    return any(_what_counts(account) == said for pour in told for account in pour.accounts)


def _what_counts(entry: LayupEntry) -> tuple[object, ...]:
    product = entry.product
    return (
        entry.act,
        set(entry.circuits),
        None if product is None else replace(product, name="", lot=""),
        entry.quantity_l,
        entry.residual_l,
        replace(entry.evidence, photos=(), photo_sha256=(), witness=""),
    )


def outcomes_if_duplicate(
    on_top: PouredFlow, told: list[Pour], reached: Reached
) -> dict[str, list[Contents]]:
    """What circuits hold if an entry tells once more of each of these pours, and of all in one.

    Parameters
    ----------
    on_top : PouredFlow
        The entry as a further pour.
    told : list of Pour
    reached : mapping of str to (CircuitProfile, Contents)
        All that it can have reached, with their running accounts before it.

    Returns
    -------
    dict of str to list of Contents
        By circuit, for every one that either account can mean.
    """
    found: dict[str, list[Contents]] = {}
    for pours in [*([pour] for pour in told), *([told] if len(told) > 1 else [])]:
        retold = _Retold.of(on_top, pours, reached)
        for name, outcome in retold.outcomes():
            found.setdefault(name, []).append(outcome)
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class _Retold:
    """Earlier pours taken for one that is told of once more, with the circuits of all accounts."""

    pours: list[Pour]
    entry: LayupEntry
    named: frozenset[str]  # by any account
    now: Reached  # every circuit, with what it holds as the entry comes
    # What each held before the first of these pours. Of each, every circuit is set back, not one by
    # one: what went in was one pour, and its neighbours hold no more of it.
    before: Mapping[str, Contents]

    @classmethod
    def of(cls, on_top: PouredFlow, pours: list[Pour], reached: Reached) -> "_Retold":
        now = {name: pair for pour in pours for name, pair in pour.reached.items()}
        now.update(reached)
        named = {one.circuit.id for one, _ in on_top.stood}
        before = {}
        for name, (_, contents) in now.items():
            part_of = [pour for pour in pours if contents.holds_pour(pour)]
            before[name] = _set_back(contents, part_of[0].before[name] if part_of else contents)
            if any(name in pour.named for pour in part_of):
                named.add(name)
        return cls(pours=pours, entry=on_top.entry, named=frozenset(named), now=now, before=before)

    def outcomes(self) -> Iterator[tuple[str, Contents]]:
        """What each circuit holds by each account, once for every circuit it tells more of."""
        more = any(self.named - pour.named for pour in self.pours) or len(self.pours) > 1
        earlier = [account for pour in self.pours for account in pour.accounts] if more else []
        for account in (self.entry, *earlier):
            flow = PouredFlow(
                entry=account,
                stood=tuple((self.now[name][0], self.before[name]) for name in sorted(self.named)),
                beside=tuple(
                    (one, self.before[name])
                    for name, (one, _) in self.now.items()
                    if name not in self.named
                ),
            )
            for name, (one, contents) in self.now.items():
                if self._may_change(name, account):
                    yield name, self._outcome(one, contents, flow)

    def _may_change(self, name: str, account: LayupEntry) -> bool:
        """Whether an account says anything of what a circuit holds.

        Where nothing came out is said of what is named, unless the same work was told of more.
        """
        one, contents = self.now[name]
        sampled = [kept for kept in contents.pours if kept.sampled_since]
        if any(kept.is_same(pour) for kept in sampled for pour in self.pours):
            return False
        if goes_past(account, one) and name not in self.named:
            return False
        acts = {one.act for pour in self.pours for one in pour.accounts}
        stuck = account.evidence.outflow is Outflow.NONE
        return not stuck or name in account.circuits or account.act in acts

    def _outcome(self, one: CircuitProfile, now: Contents, flow: PouredFlow) -> Contents:
        """What one circuit holds by one account of the pour.

        Of a circuit that it does not name, and that its act cannot fill, only the strength counts
        that the pour has by it.
        """
        name, account = one.circuit.id, flow.entry
        if name in self.named and account.evidence.outflow is Outflow.NONE:
            blocked = now.copy_account()
            why = Reason(because=Because.BLOCKED, entry=account)
            blocked.judge_as_water(LayupState.UNPROVEN, why, account.at)
            return blocked
        if goes_past(account, one):
            left = self.before[name].copy_account()
            left.why = reason_not_counting(one, left, account, (Lack.COLD_ENGINE,))
            return left
        if name in self.named and (name in account.circuits or can_make_safe(account, one)):
            outcome = self.before[name].copy_account()
            flow.note_limits(outcome, self.before[name])
            pour_into(one, outcome, flow)
            return outcome
        outcome = now.copy_account()
        outcome.strongest = outcome.undiluted = None  # what can be read there stays as it is known
        pass_by(outcome, flow)
        return outcome


def add_account(told: Iterable[Pour], entry: LayupEntry, new: Pour) -> list[Pour]:
    """Note a further account in every circuit of these pours; return them with it.

    ``new`` is the entry as a pour of its own: what it names and reaches belongs to them now.
    """
    updated = []
    for pour in told:
        more = replace(
            pour,
            accounts=(*pour.accounts, entry),
            named=pour.named | new.named,
            reached={**new.reached, **pour.reached},
            before={
                **new.before,
                **{
                    name: held
                    for name, held in pour.before.items()
                    if name not in new.reached or new.reached[name][1].holds_pour(pour)
                },
            },
        )
        updated.append(more)
        for _, contents in more.reached.values():
            contents.pours = [
                replace(more, sampled_since=one.sampled_since) if one.is_same(pour) else one
                for one in contents.pours
            ]
    return updated


def _set_back(now: Contents, before: Contents) -> Contents:
    """What stood in a circuit, with what was noted of it since: its kinds, and how it stands."""
    back = before.copy_account()
    back.kinds, back.posture = now.kinds, now.posture
    return back
