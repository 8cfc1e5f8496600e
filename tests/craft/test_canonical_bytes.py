"""The canonical bytes are those of RFC 8785, whichever way they are written."""

import pytest
import rfc8785
from hypothesis import given
from hypothesis import strategies as st

from monitor.craft.canonical import canonical_bytes

TEXTS = st.text() | st.sampled_from(["", '\x00\x1f\x7f\\"\b\f\n\r\t/', "é\u2028😀", "\ud800"])
NUMBERS = (
    st.integers()
    | st.floats()
    | st.sampled_from([-0.0, 6.0, 0.1, 1e-4, 9.9e-5, 1e15, 1e16, 1e21, 2.0**53, 2**53, 2**53 - 1])
)
JSON = st.recursive(
    st.none() | st.booleans() | NUMBERS | TEXTS,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(TEXTS, inner, max_size=4),
    max_leaves=12,
)


@given(JSON)
def test_any_content_has_the_bytes_that_the_standard_gives_it_or_is_refused_as_by_it(content):
    # The library passes the vectors of the RFC; the code under test goes around it for speed.
    try:
        expected = rfc8785.dumps(content)
    except (rfc8785.CanonicalizationError, UnicodeEncodeError) as error:
        with pytest.raises(type(error)):
            canonical_bytes(content)
    else:
        assert canonical_bytes(content) == expected
