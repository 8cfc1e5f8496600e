"""Checks the proof in a season record: the craft's links, hours of sensors, the yard's head."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from hashlib import sha256
from typing import Any

from monitor.craft.canonical import canonical_bytes
from monitor.craft.links import FIRST, LinkKind
from monitor.craft.merkle import RecordHead, leaf_hash
from monitor.craft.sealing import DONE, first_difference
from monitor.craft.signed_statements import head_in
from monitor.craft.tree_cover import CoveredTree, HashedTree
from monitor.errors import BadValueError

_LINK, _TREE, _HOUR, _HEAD, _SIGNATURE = "link", "tree", "hour", "head", "signature"
_MARK = 8  # digits of a leaf's hash: enough to name it, the tree proves it
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_REWRITTEN = (
    "The yard's record was rewritten since that head left it, or the head is of another yard."
    " The mail that carried it is your proof: keep it."
)
_TAMPERED = "What stands here is not what the yard's record holds. Do not rely on it."


@dataclass(frozen=True, slots=True)
class ProofMisfit:
    """One thing in a proof that does not fit; ``kind`` is a word of `MisfitKind`."""

    kind: str
    place: str
    words: str
    meaning: str = _TAMPERED


@dataclass(kw_only=True)
class CheckedProof:
    """What a proof comes to."""

    misfits: list[ProofMisfit] = field(default_factory=list)
    head: RecordHead | None = None  # of the yard, signed
    signer: str = ""  # public key that signed the head
    tree: CoveredTree | None = None  # over all links of the yard, where it fits the head
    links: int = 0
    leaves: int = 0  # of days that are shown: hours of sensors, alarms, letters

    def head_misfit(self, kept: RecordHead) -> ProofMisfit | None:
        """What is wrong with the record beside a head out of a mail; None if it extends that."""
        place = f"head {kept.short}"
        if self.tree is None or self.head is None:
            return ProofMisfit(
                _HEAD,
                place,
                "cannot be compared: the record carries no proof that holds",
                "Ask the yard for a record with its proof.",
            )
        if kept.count > self.head.count:
            more = kept.count - self.head.count
            return ProofMisfit(
                _HEAD,
                place,
                f"is {more} links newer than the head of {self.head.count} in the record",
                "The record was made before that mail, or the end of the yard's record was cut off:"
                " ask the yard for a record of today.",
            )
        try:
            root = self.tree.root_at(kept.count)
        except BadValueError:
            return ProofMisfit(
                _HEAD,
                place,
                "is none of those that the record can be compared with",
                "Take one out of a mail to the owner of this craft, or the newest before the record"
                " was made.",
            )
        if not root.startswith(kept.root):
            return ProofMisfit(
                _HEAD, place, f"has another root than the first {kept.count} links", _REWRITTEN
            )
        return None


def check_proof(proof: object, yard: str) -> CheckedProof:
    """Check a proof as anybody may have written it; an absent one has no misfit and no tree.

    Parameters
    ----------
    proof : object
        The member of that name.
    yard : str
        Id of the yard that the record says it is of.
    """
    found = CheckedProof()
    if proof is None:
        return found
    if not isinstance(proof, Mapping):
        found.misfits.append(ProofMisfit(_TREE, "proof", "is no proof"))
        return found
    links = proof.get("links")
    links = links if isinstance(links, list) else []
    found.links = len(links)
    leaves = [sha256(canonical_bytes(one)).digest() for one in links]
    if (misfit := _marked_misfit(_LINK, "proof.links", proof.get("marks"), leaves, links)) or (
        misfit := _chain_misfit(links)
    ):
        found.misfits.append(misfit)
    _check_days(proof.get("days"), links, found)
    _check_tree(proof, leaves, yard, found)
    return found


def _check_tree(
    proof: Mapping[str, Any], leaves: Sequence[bytes], yard: str, found: CheckedProof
) -> None:
    """The yard's tree over all its links, and the head that it signed."""
    said = proof.get("head")
    head = head_in(said, yard)
    if head is None or not isinstance(said, Mapping):
        words = "is not signed by its key for this yard"
        found.misfits.append(ProofMisfit(_SIGNATURE, "proof.head", words))
        return
    found.head, found.signer = head, str(said["public_key"])
    try:
        tree = CoveredTree(proof.get("tree"), leaves)
        root = tree.root
    except BadValueError as error:
        found.misfits.append(ProofMisfit(_TREE, "proof.tree", f"does not hold: {error}"))
        return
    if (tree.size, root) != (head.count, head.root):
        words = "does not lead to the head that the yard signed"
        found.misfits.append(ProofMisfit(_TREE, "proof.tree", words))
        return
    found.tree = tree


def marks_of(leaves: Sequence[bytes]) -> str:
    """The first digits of each leaf's hash, so that a changed one can be named."""
    return "".join(leaf_hash(one).hex()[:_MARK] for one in leaves)


def leaves_of_group(group: Any) -> list[bytes]:  # noqa: ANN401  whatever JSON holds
    """The leaves that a group of a day's shows, in the order of its tree.

    Raises
    ------
    BadValueError
        If it is none.
    """
    match group:
        case {"of": list(of), "leaves": list(leaves)} if all(isinstance(e, list) for e in leaves):
            return [canonical_bytes([*of, *leaf]) for leaf in leaves]
    raise BadValueError("a group does not say of what it shows which leaves")


def group_leaf(of: Sequence[Any], size: int, root: str) -> bytes:
    """The leaf of a day's tree that stands for a group of leaves, and a tree, of its own."""
    return canonical_bytes([list(of), size, root])


def _leaf_of_folded(group: Any) -> bytes | None:  # noqa: ANN401  whatever JSON holds
    """The day's leaf of a group that is named without its leaves; None if it shows some."""
    match group:
        case {"of": list(of), "size": int(size), "root": str(root)}:
            return group_leaf(of, size, root)
    return None


def _marked_misfit(
    kind: str, place: str, marks: object, leaves: Sequence[bytes], said: Sequence[Any], of: str = ""
) -> ProofMisfit | None:
    """The first leaf that is not the one whose mark stands there."""
    marks = marks if isinstance(marks, str) else ""
    wanted = [marks[n : n + _MARK] for n in range(0, len(marks), _MARK)]
    found = first_difference(wanted, [marks_of([one]) for one in leaves])
    if found is None:
        return None
    n, what = found
    called = _name_of_leaf(said[n], of) if n < len(said) else ""
    return ProofMisfit(kind, f"{place}[{n}]", f"{called}{DONE[what]}")


def _name_of_leaf(said: Any, of: str) -> str:  # noqa: ANN401  whatever JSON holds
    """What a leaf or link is of, as far as what stands there can be trusted to tell."""
    match said:
        case [int(hour), *_] if of and 0 <= hour < 10**6:
            return f"({_EPOCH + timedelta(hours=hour):%Y-%m-%d %H:%M} UTC, {of}) "
        case {"entry": {"id": str(name)}}:
            return f"(entry {name[:40]}) "
        case {"move": {"since": str(since)}}:
            return f"(move of {since[:40]}) "
        case {"day": {"day": str(day)}}:
            return f"(day {day[:20]}) "
        case {"craft": {"id": str(name)}}:
            return f"(craft row {name[:40]}) "
    return f"({of}) " if of else ""


def _chain_misfit(links: Sequence[Any]) -> ProofMisfit | None:
    """The craft's own links: all of them, each behind the one before."""
    number, before = 0, FIRST
    for n, link in enumerate(links):
        place = f"proof.links[{n}]"
        if not isinstance(link, Mapping):
            return ProofMisfit(_LINK, place, "is no link")
        if LinkKind.DAY in link:
            continue
        if link.get("number") != number:
            is_now = str(link.get("number"))[:20]
            return ProofMisfit(_LINK, place, f"is number {is_now} of its chain, not {number}")
        if link.get("before") != before:
            return ProofMisfit(_LINK, place, "was not written behind the link before it")
        number, before = number + 1, sha256(canonical_bytes(link)).hexdigest()
    return None


def _check_days(days: object, links: Sequence[Any], found: CheckedProof) -> None:
    """Days whose leaves do not lead to the root that their link holds."""
    roots = {
        said["day"]: (said.get("groups"), said.get("root"))
        for link in links
        if isinstance(link, Mapping)
        and isinstance(said := link.get(LinkKind.DAY), Mapping)
        and isinstance(said.get("day"), str)
    }
    for n, day in enumerate(days if isinstance(days, list) else ()):
        if (misfit := _day_misfit(f"proof.days[{n}]", day, roots, found)) is not None:
            found.misfits.append(misfit)


def _day_misfit(
    place: str,
    day: Any,  # noqa: ANN401  whatever JSON holds
    roots: Mapping[str, tuple[Any, Any]],
    found: CheckedProof,
) -> ProofMisfit | None:
    match day:
        case {"day": str(date), "groups": list(groups), "tree": cover}:
            named = f"{place} ({date[:20]})"
        case _:
            return ProofMisfit(_TREE, place, "is no day")
    if date not in roots:
        return ProofMisfit(_TREE, named, "has no link in the yard's record")
    leaves: list[bytes] = []
    try:
        for n, group in enumerate(groups):
            folded = _leaf_of_folded(group)
            if folded is not None:
                leaves.append(folded)
                continue
            own = leaves_of_group(group)
            of = " ".join(one for one in group["of"] if isinstance(one, str))[:80]
            under = f"{place}.groups[{n}].leaves"
            marked = _marked_misfit(_HOUR, under, group.get("marks"), own, group["leaves"], of)
            if marked is not None:
                return marked
            leaves.append(group_leaf(group["of"], len(own), HashedTree(own).root))
            found.leaves += len(own)
        tree = CoveredTree(cover, leaves)
        fits = (tree.size, tree.root) == roots[date]
    except BadValueError as error:
        return ProofMisfit(_TREE, named, f"does not hold: {error}")
    return None if fits else ProofMisfit(_TREE, named, "does not lead to the root of its link")
