"""A message as a phone's text: one line of at most 160 signs that every phone can show."""

import unicodedata

from monitor.yard.message import TEXT_SIGNS, Message

# What a text of 160 signs may hold: the basic set of 3GPP TS 23.038. One sign beside it, a true
# minus or a degree, makes the network send all of it in another code, 70 signs a part.
_BASIC = frozenset(
    "@£$¥èéùìòÇ\nØø\rÅåΔ_ΦΓΛΩΠΨΣΘΞÆæßÉ !\"#¤%&'()*+,-./0123456789:;<=>?"
    "¡ABCDEFGHIJKLMNOPQRSTUVWXYZÄÖÑÜ§¿abcdefghijklmnopqrstuvwxyzäöñüà"
)
_INSTEAD = {"\N{MINUS SIGN}": "-", "–": "-", "—": "-", "‘": "'", "’": "'", "“": '"', "”": '"',
            "…": "...", "°": "", "·": ",", "\N{NO-BREAK SPACE}": " ", "×": "x"}  # fmt: skip


def text_of(message: Message) -> str:
    """What leaves for a phone: the message's text where it fits, else its subject line, cut.

    Parameters
    ----------
    message : Message
        A letter to a ``text-`` channel holds its short form already; a notice may be longer.

    Returns
    -------
    str
        One line of at most 160 signs of the basic set.
    """
    whole = _one_plain_line(message.text)
    if len(whole) <= TEXT_SIGNS:
        return whole
    subject = _one_plain_line(message.subject)
    return subject if len(subject) <= TEXT_SIGNS else f"{subject[: TEXT_SIGNS - 3]}..."


def _one_plain_line(text: str) -> str:
    return " ".join("".join(map(_plain_sign, text)).split())


def _plain_sign(sign: str) -> str:
    """A sign of the basic set: itself, what stands for it, its letter without marks, or ``?``."""
    if sign in _BASIC:
        return sign
    if sign in _INSTEAD:
        return _INSTEAD[sign]
    bare = "".join(each for each in unicodedata.normalize("NFKD", sign) if each in _BASIC)
    return bare or (" " if sign.isspace() or not sign.isprintable() else "?")
