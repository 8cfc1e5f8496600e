"""What is wrong with the way that readings come in, in words."""

from monitor.wording import Wording, span_in_words
from monitor.yard.facts import DropFacts, ForeignFacts, OwnClockFacts
from monitor.yard.health import IntakeFault, IntakeFaultKind

_MOSQUITTO_QUEUES = 1000  # messages that mosquitto 2.0 holds for a client unless it is told


def own_clock_basis(facts: OwnClockFacts, words: Wording) -> str:
    """How far this machine's clock is off, and by what laidup goes meanwhile."""
    return (
        f"{own_clock_line(facts.ahead_s)} Seen since {words.clock(facts.since)} by the sensors'"
        " time. laidup goes by theirs meanwhile: readings are stored at the sensors' time, and no"
        " sensor is blamed."
    )


def fault_line(fault: IntakeFault) -> str:
    """A fault of the way in, in one sentence."""
    if fault.kind is IntakeFaultKind.OWN_CLOCK:
        return own_clock_line(fault.amount)
    if fault.kind is IntakeFaultKind.FOREIGN_TOPIC:
        return foreign_line(round(fault.amount))
    return drop_line(round(fault.amount))


def own_clock_line(ahead_s: float) -> str:
    """How far this machine's clock is off, in one sentence."""
    way = "ahead of" if ahead_s > 0 else "behind"
    return (
        f"The clock of the machine that laidup runs on is {span_in_words(abs(ahead_s))} {way} the"
        " clocks of its sensors."
    )


def own_clock_act() -> str:
    """What to do about the machine's clock."""
    return (
        "Set that machine's clock and let the network keep it (systemd-timesyncd or chrony). If it"
        " is right, the sensors share a wrong one: set their gateway's."
    )


def drop_basis(facts: DropFacts, words: Wording) -> str:
    """How many messages the broker threw away."""
    return (
        f"{drop_line(facts.messages)} Counted since {words.clock(facts.since)}. It does not say for"
        " whom they were; if for laidup, those readings are lost."
    )


def drop_line(messages: int) -> str:
    """How many messages the broker threw away, in one sentence."""
    count = f"{messages:,} message{'' if messages == 1 else 's'}"
    return f"The broker has dropped {count} after telling the senders that all was well."


def foreign_basis(facts: ForeignFacts, words: Wording) -> str:
    """How many messages claimed to be of a sensor, since when, and what became of them."""
    return (
        f"{foreign_line(facts.messages)} Counted since {words.clock(facts.since)}. They are kept"
        " aside; the sensor's own readings go on."
    )


def foreign_line(messages: int) -> str:
    """How many messages claimed to be of a sensor and came from elsewhere, in one sentence."""
    count = f"{messages:,} message{'' if messages == 1 else 's'}"
    return f"{count} claimed a sensor and came on a topic that is not that sensor's: not used."


def foreign_act() -> str:
    """What to do about readings from elsewhere."""
    return (
        "`laidup status` names sensor and topic. Was the sensor moved to another gateway? Then"
        " correct its topic or user in yard.toml. Else change that user's password at the broker."
    )


def drop_act(facts: DropFacts) -> str:
    """Which limit of the broker to raise, and how far."""
    enough = _MOSQUITTO_QUEUES + 2 * facts.messages
    return (
        f"Raise the broker's queue: in mosquitto, max_queued_messages ({_MOSQUITTO_QUEUES:,} unless"
        f" set) to {enough:,} or to 0, which is no limit, and max_inflight_messages to 1000, as"
        " deploy/mosquitto/keeping.conf has them."
    )
