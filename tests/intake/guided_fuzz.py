"""Bytes that a fuzzer finds by watching which code they reach, against the decoder.

    pip install atheris    # no dependency of laidup: into an environment of its own beside laidup's
    python -m tests.intake.guided_fuzz -max_total_time=3600 FOLDER

FOLDER keeps what it found to be of interest; it begins with the sound payloads of
`tests.intake.fuzz`. All other arguments are libFuzzer's.

Thirteen million inputs so far, beside the random ones of `tests.intake.fuzz`. They found one fault,
now held by a test: a time before 1970, after a wrong clock had been put right.
"""

import sys
from pathlib import Path

import atheris

with atheris.instrument_imports(include=["monitor.intake", "jsonpointer"]):
    from monitor.intake.inbox import ArrivedMessage
    from tests.intake import fuzz

TOPICS = sorted({topic for topic, _ in fuzz.sound()})
FORGET_AFTER = 20_000  # what a decoder learns of clocks must not decide what is found
reader, done = fuzz.decoder(), 0


def try_one(data: bytes) -> None:
    """Decode; the first byte chooses the topic."""
    global reader, done
    done += 1
    if done % FORGET_AFTER == 0:
        reader = fuzz.decoder()
    if not data:
        return
    topic = TOPICS[data[0] % len(TOPICS)]
    message = ArrivedMessage(topic, data[1:], fuzz.ARRIVED_MS, True, 1, 1, 1)
    taken, reason = reader.decode_message(message)
    fuzz.check(taken, reason)


if __name__ == "__main__":
    folders = [Path(argument) for argument in sys.argv[1:] if not argument.startswith("-")]
    for n, (topic, payload) in enumerate(fuzz.sound() if folders else []):
        folders[0].mkdir(exist_ok=True)
        seed = bytes([TOPICS.index(topic)]) + payload
        folders[0].joinpath(f"sound-{n}").write_bytes(seed)
    atheris.Setup(sys.argv, try_one)
    atheris.Fuzz()
