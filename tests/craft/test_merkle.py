"""The tree over all links: RFC 9162's own values, and heads as people copy them."""

import pytest

from monitor.craft.merkle import HashTree, RecordHead, head_of, roots_at
from monitor.errors import QuantityError

# Public test data of certificate transparency (RFC 9162's tree); roots by number of leaves.
LEAVES = [
    "",
    "00",
    "10",
    "2021",
    "3031",
    "40414243",
    "5051525354555657",
    "606162636465666768696a6b6c6d6e6f",
]
ROOTS = [
    "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
    "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
    "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
    "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
    "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
    "4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
    "76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
    "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
    "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
]
LINKS = [f"{n:064x}" for n in range(21)]


def test_the_tree_gives_the_published_roots():
    tree = HashTree()
    found = [tree.root()]
    for leaf in LEAVES:
        tree.add(bytes.fromhex(leaf))
        found.append(tree.root())
    assert found == ROOTS


def test_a_record_that_grew_still_knows_every_head_that_it_had():
    heads = {count: head_of(LINKS[:count]).root for count in range(len(LINKS) + 1)}
    assert len(set(heads.values())) == len(heads)
    assert roots_at(LINKS, [*heads, 99]) == heads


@pytest.mark.parametrize("text", ["214-9f86d081884c7d65", " 0-E3B0C44298FC1C149AFBF4C8996FB924 "])
def test_a_head_is_read_as_it_was_copied(text):
    assert str(RecordHead.parse(text)) == text.strip().lower()


@pytest.mark.parametrize(
    "text", ["", "214", "214-9f86", "x-9f86d081884c7d65", "214-9f86d081884c7dxx"]
)
def test_what_is_no_head_is_refused_with_how_it_looks(text):
    with pytest.raises(QuantityError, match="like 214-"):
        RecordHead.parse(text)
