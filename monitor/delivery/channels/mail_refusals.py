"""Whether a mail server's refusal is final, or may be mended, by the server or by waiting.

RFC 5321 calls every answer from 500 on permanent, but servers give 550 for policies of their own as
well: a list of senders, too many mails, a first meeting. So only what surely speaks of the address
or of the size ends a message; all else is tried again until it is too old.
"""

import re

_ENHANCED = re.compile(r"5\.\d{1,3}\.\d{1,3}(?=\s|$)")
# RFC 3463: no such mailbox, no address by its form, moved; RFC 7505: a domain that takes no mail.
_NO_ADDRESS = frozenset({"5.1.1", "5.1.3", "5.1.6", "5.1.10"})
_SAYS_NOTHING = frozenset({"", "5.0.0", "5.1.0"})  # then the words count
_TOO_LARGE = frozenset({"5.2.3", "5.3.4"})
# Answers that may speak of a mailbox without a code of their own (RFC 5321, section 4.2.3).
_OF_A_MAILBOX = frozenset({550, 551, 553})
# Greylisting: strangers are put off once, for they come again only if they are mail servers.
_COME_AGAIN = frozenset({450, 451})
_OWN_FAULT = b"4.3."
_DOUBTFUL = re.compile(
    r"\b(polic(y|ies)|gr[ae]y-?list\w*|(black|block|deny|allow|white)-?list\w*|spam\w*|virus"
    r"|rate|limit\w*|throttl\w*|too (many|much)|reputation|blocked|banned|rbl|dnsbl|spf|dkim|dmarc"
    r"|relay\w*|sender|client host|helo|authenticat\w*|access|quota|full|disabled|suspended"
    r"|temporar\w*|later|again)\b"
)
_WHO = r"(user|mailbox|recipient|addressee?|account|person)"
_NOBODY = re.compile(
    rf"\bno such {_WHO}\b|\b(unknown|invalid|non-?existent) {_WHO}\b"
    rf"|\b{_WHO} ((is|was|address) )*(unknown|not (found|known)|non-?existent|invalid)\b"
    r"|\b(does not|doesn't) exist\b|\bno mailbox\b"
)
_SIZE = re.compile(r"\b(size|length|too (large|big|long))\b")


def is_final_for_recipient(code: int, answer: bytes) -> bool:
    """Whether the address that RCPT named does not exist, so that no later try can succeed.

    Parameters
    ----------
    code : int
        The reply code.
    answer : bytes
        What follows it, with the enhanced code (RFC 3463) in front where the server gives one.
    """
    enhanced, words = _split_answer(answer)
    if not 500 <= code < 600 or _DOUBTFUL.search(words):
        return False
    if enhanced in _SAYS_NOTHING:
        return code in _OF_A_MAILBOX and _NOBODY.search(words) is not None
    return enhanced in _NO_ADDRESS


def is_too_large(code: int, answer: bytes) -> bool:
    """Whether a refusal of MAIL or DATA means the mail's size, and not a mailbox that is full."""
    enhanced, words = _split_answer(answer)
    if enhanced in _TOO_LARGE:
        return 500 <= code < 600
    return code == 552 and enhanced in _SAYS_NOTHING and _SIZE.search(words) is not None


def asks_to_wait(code: int, answer: bytes) -> bool:
    """Whether a server that works asks to try the same mail again in some minutes (RFC 6647).

    Parameters
    ----------
    code : int
        The reply code.
    answer : bytes
        What follows it. An enhanced code of the mail system itself (4.3.x) speaks of a fault.
    """
    return code in _COME_AGAIN and not answer.lstrip().startswith(_OWN_FAULT)


def _split_answer(answer: bytes) -> tuple[str, str]:
    """Enhanced code, if one leads, and the words in lower case."""
    text = " ".join(answer.decode(errors="replace").lower().split())
    found = _ENHANCED.match(text)
    return (found[0], text[found.end() :]) if found else ("", text)
