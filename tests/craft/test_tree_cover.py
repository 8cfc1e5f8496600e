"""Proofs in the hash tree: RFC 9162's own values, and covers of trees at random."""

import contextlib
import json
from hashlib import sha256
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.craft.merkle import HashTree
from monitor.craft.tree_cover import CoveredTree, HashedTree
from monitor.errors import BadValueError

# Leaves and roots are public test data of certificate transparency, and so are the proofs 0 of 8
# and 6 to 8; the others follow from the RFC's recursion.
VECTORS = json.loads((Path(__file__).parent / "vectors" / "merkle.json").read_text())
LEAVES = [bytes.fromhex(one) for one in VECTORS["leaves"]]


def hashes_of(cover):
    return [tile[1] for tile in cover if len(tile) == 2]


@pytest.mark.parametrize("proof", VECTORS["inclusion"], ids=lambda p: f"{p['leaf']}of{p['size']}")
def test_a_cover_of_one_leaf_holds_the_inclusion_proof(proof):
    cover = HashedTree(LEAVES[: proof["size"]]).cover_of([proof["leaf"]])
    assert sorted(hashes_of(cover)) == sorted(proof["proof"])


@pytest.mark.parametrize(
    "proof", VECTORS["consistency"], ids=lambda p: f"{p['first']}to{p['second']}"
)
def test_a_cover_with_an_earlier_size_holds_the_consistency_proof(proof):
    first, second = proof["first"], proof["second"]
    cover = HashedTree(LEAVES[:second]).cover_of([], [first])
    # RFC 9162, 2.1.4.1: of a size that is one subtree the old root itself is left out of the proof.
    old = VECTORS["roots_by_size"][first]
    assert sorted(set(hashes_of(cover)) - {old}) == sorted(set(proof["proof"]) - {old})
    assert CoveredTree(cover, []).root_at(first) == old


@pytest.mark.parametrize("size", range(9))
def test_the_tree_gives_the_published_roots(size):
    tree = HashedTree(LEAVES[:size])
    assert tree.root == VECTORS["roots_by_size"][size]
    assert CoveredTree(tree.cover_of([]), []).root == tree.root


def leaf(n):
    return b"leaf %d" % n


trees = st.integers(1, 200).flatmap(
    lambda size: st.tuples(
        st.just(size),
        st.sets(st.integers(0, size - 1)),
        st.sets(st.integers(0, size), max_size=6),
    )
)


@given(trees)
def test_a_cover_gives_the_root_of_every_size_asked_for_and_the_places_of_its_leaves(case):
    size, shown, sizes = case
    cover = HashedTree([leaf(n) for n in range(size)]).cover_of(shown, sizes)
    read = CoveredTree(json.loads(json.dumps(cover)), [leaf(n) for n in sorted(shown)])
    assert (read.size, read.places) == (size, sorted(shown))
    for count in {*sizes, size}:
        tree = HashTree()  # grown leaf by leaf, by other code
        for n in range(count):
            tree.add(leaf(n))
        assert read.root_at(count) == tree.root()


@given(trees.filter(lambda case: case[1]), st.data())
def test_another_leaf_gives_another_root(case, data):
    size, shown, sizes = case
    tree = HashedTree([leaf(n) for n in range(size)])
    leaves = [leaf(n) for n in sorted(shown)]
    leaves[data.draw(st.integers(0, len(leaves) - 1))] = b"forged"
    assert CoveredTree(tree.cover_of(shown, sizes), leaves).root != tree.root


@given(
    st.recursive(
        st.none() | st.integers() | st.floats() | st.text(max_size=3) | st.just("0" * 64),
        lambda inner: st.lists(inner, max_size=3),
    )
)
def test_what_is_no_cover_is_refused_and_crashes_nothing(said):
    with contextlib.suppress(BadValueError):
        assert len(CoveredTree(said, []).root) == 64


def test_a_node_never_passes_for_a_leaf():
    # RFC 9162, 2.1.1: what domain separation is for.
    tree = HashedTree(LEAVES[:2])
    pair = b"".join(sha256(b"\x00" + one).digest() for one in LEAVES[:2])
    assert HashedTree([pair]).root != tree.root


def test_a_size_that_the_cover_was_not_made_with_is_no_guess():
    cover = HashedTree(LEAVES).cover_of([], [4])
    with pytest.raises(BadValueError, match="does not tell"):
        CoveredTree(cover, []).root_at(3)
