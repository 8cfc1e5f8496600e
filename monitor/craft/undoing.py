"""What takes protection away again: runs, opened circuits, spring, torn covers, ice."""

from datetime import datetime

from monitor.craft.contents import Contents
from monitor.craft.layup import RUNS, Act, LayupEntry
from monitor.craft.profile import CircuitKind, CircuitProfile
from monitor.craft.protection import Confidence, LayupState
from monitor.wording import Wording

Touched = list[tuple[CircuitProfile, Contents]]

_RUN_WORDS = {
    Act.FLUSHED: "flushed with water",
    Act.FUEL_RUN_THROUGH: "run on water to bring treated fuel through",
    Act.RUN_ON_WATER: "run on water",
}


def undone(touched: Touched, entry: LayupEntry, words: Wording) -> None:
    """Apply an entry that brings water in or opens a circuit; other entries change nothing."""
    day, who = words.day(entry.at), words.person(entry.by)
    for _, contents in touched:
        if entry.act in RUNS:
            _wetted(contents, entry, day, words)
        elif entry.act is Act.CIRCUIT_OPENED:
            contents.water(
                LayupState.VOID,
                f"opened on {day} by {who} and not treated since",
                entry.at,
            )
        elif entry.act is Act.PORT_LEFT_OPEN:
            contents.water(
                LayupState.VOID,
                f"a port was left open on {day} ({who}): what it held may have run out or"
                " taken in water",
                entry.at,
            )
        elif entry.act is Act.COMMISSIONED:
            contents.water(
                LayupState.VOID,
                f"made ready for the water on {day} by {who}",
                entry.at,
            )
        elif entry.act is Act.COVER_TORN:
            contents.water(
                LayupState.UNKNOWN,
                f"the cover was found torn on {day} ({who}): rain or snow may stand in it",
                entry.at,
            )
        elif entry.act is Act.OWNER_STATEMENT and contents.state is LayupState.UNKNOWN:
            contents.why = f"only {who}'s word of {day}; nobody here has seen it"


def _wetted(contents: Contents, entry: LayupEntry, day: str, words: Wording) -> None:
    done = f"{_RUN_WORDS[entry.act]} on {day} by {words.person(entry.by)}"
    if contents.state is LayupState.UNKNOWN or contents.treated_at is None:
        contents.water(LayupState.UNKNOWN, f"{done}, and nothing on record since", entry.at)
        return
    before = f", which undid the work of {words.day(contents.treated_at)}"
    again = contents.state is LayupState.VOID or contents.treated_at >= entry.at
    contents.water(LayupState.VOID, done if again else done + before, entry.at)


def stood(one: CircuitProfile, contents: Contents, entry: LayupEntry, words: Wording) -> None:
    """Note how it stands now: a pocket that is dry only upright collects rain when tilted.

    What lake water left behind ran out while it stood right, and does not come back.
    """
    contents.posture = entry.posture
    exposed = one.kind is CircuitKind.POCKET and contents.dry
    if one.posture is None or entry.posture is one.posture or not exposed:
        return
    contents.water(
        LayupState.UNPROVEN,
        f"stands {entry.posture} since {words.day(entry.at)}, not {one.posture}: water collects"
        " in it",
        entry.at,
    )


def iced(contents: Contents, at: datetime, words: Wording) -> None:
    """It was computed below its ice point: presume damage, or distrust an old reading."""
    if not contents.proven:
        if contents.suspect_since is None:
            contents.suspect_since = at
        return
    contents.confidence = Confidence.LOW
    note = f"part of it was ice on {words.day(at)}: read it again"
    if not contents.notes:
        contents.notes.append(note)
