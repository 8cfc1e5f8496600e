"""Spoils what is sound: payload so and so of a parser is the same bytes on every machine."""

from collections.abc import Sequence
from random import Random

SPICE = [b"NaN", b"1e999", b"-", b"\x00", b"\xff", b"[", b"]", b"{", b"}", b'"', b"null", b"true"]
SPICE += [b"9" * 40, b'"bn"', b'"v":', b'"t":', b"\\ud800", b"\xfb\x7f\xf0", b"\x9f", b"\xbf"]
WRITTEN = [b"\r\n", b"\n\n", b"\t", b"=", b"'", b'"""', b",", b";", b"#", b"[[", b"]]", b"-inf"]
WRITTEN += ["−4 °C".encode(), "\u202e".encode(), "\ufeff".encode(), "é".encode(), b"nan", b"%00"]
WRITTEN += [b"0x7fffffffffffffff", b"1e308", b"../../etc/passwd", b"<script>", b"{{7*7}}"]
WRITTEN += [b"9" * 20, b"2026-02-30", b"24:00", b"1979-05-27T07:32:00", b"C", b"degF", b"floz"]
WRITTEN += [b"\x1b[2J"]
LARGE = [b"[", b"{", b'{"a":', b"\x9f", b"\xd8", b"A", b"\n", b",", b" ", b"a.", b"("]
LONGEST = 256 * 1024  # of a payload


def spoil(sound: bytes, others: Sequence[bytes], chance: Random) -> bytes:
    """Do one to four things to a sound payload; now and then something large.

    Parameters
    ----------
    sound : bytes
    others : sequence of bytes
        Sound payloads to splice it with.
    chance : Random
    """
    spoilt = bytearray(sound)
    for _ in range(chance.choice([1, 1, 1, 2, 3, 4])):
        place = chance.randrange(len(spoilt) + 1)
        match chance.randrange(10):
            case 0:
                del spoilt[place : place + chance.randint(1, 8)]
            case 1:
                spoilt[place:place] = chance.choice(SPICE)
            case 2:
                spoilt[place:place] = chance.randbytes(chance.randint(1, 4))
            case 3:
                spoilt[place : place + 1] = bytes([chance.randrange(256)])
            case 4:
                other = chance.choice(others) or b"x"
                spoilt[place:] = other[chance.randrange(len(other)) :]
            case 5:
                spoilt[place:place] = spoilt[: chance.randint(1, 30)]
            case 6:
                spoilt[place:place] = chance.choice(WRITTEN)
            case 7:
                _change_lines(spoilt, chance)
            case 8:
                _change_number(spoilt, chance)
            case _:
                if chance.randrange(40) == 0:
                    _swell(spoilt, place, chance)
    return bytes(spoilt[:LONGEST])


def _change_lines(spoilt: bytearray, chance: Random) -> None:
    """Take out, double or exchange lines."""
    lines = bytes(spoilt).split(b"\n")
    one, two = chance.randrange(len(lines)), chance.randrange(len(lines))
    match chance.randrange(3):
        case 0:
            del lines[one]
        case 1:
            lines.insert(two, lines[one])
        case _:
            lines[one], lines[two] = lines[two], lines[one]
    spoilt[:] = b"\n".join(lines)


def _change_number(spoilt: bytearray, chance: Random) -> None:
    """Write another number in the place of one."""
    digits = [at for at, byte in enumerate(spoilt) if 48 <= byte <= 57]
    if digits:
        begin = end = chance.choice(digits)
        while end < len(spoilt) and 48 <= spoilt[end] <= 57:
            end += 1
        spoilt[begin:end] = chance.choice(
            [b"0", b"-1", b"1e400", b"0.0000000001", b"12345678901234567890", b"31", b"60", b"\xb2"]
        )


def _swell(spoilt: bytearray, place: int, chance: Random) -> None:
    """Put in a great deal of one thing."""
    what = chance.choice(LARGE)
    spoilt[place:place] = what * chance.choice([100, 2_000, 60_000])
