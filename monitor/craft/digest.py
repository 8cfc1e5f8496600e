"""A short digest of what a file says: two versions of it can be told apart, years later."""

import json
from hashlib import sha256

_LETTERS = 16  # 64 bits: to tell the versions of one yard's files apart, not to prove anything


def digest_of(content: object) -> str:
    """Digest of parsed content; layout, comments and the order of keys do not count.

    Parameters
    ----------
    content : dict, list or other content of a TOML file

    Returns
    -------
    str
        The first 16 hexadecimal letters of a SHA-256.
    """
    plain = json.dumps(content, sort_keys=True, ensure_ascii=True, default=str)
    return sha256(plain.encode()).hexdigest()[:_LETTERS]
