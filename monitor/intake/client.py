"""Intake as a whole: broker, inbox, decoder and writer, started and stopped together."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime

from monitor.clock import Clock, CorrectedClock, correctable_clock, from_ms, to_ms
from monitor.errors import StoreError
from monitor.intake.batch import BatchSummary, Writer
from monitor.intake.broker import BROKER_REMEDIES, BrokerSettings
from monitor.intake.connection import Connection
from monitor.intake.decode import Decoder
from monitor.intake.drops import DropWatch
from monitor.intake.inbox import Inbox
from monitor.intake.mapping import Mapping
from monitor.intake.own_clock import OwnClock
from monitor.intake.trust import TimePolicy, policy_of
from monitor.intake.upkeep import IntakeUpkeep
from monitor.store.store import Store
from monitor.yard.space import Sensor

__all__ = ["BrokerSettings", "Intake", "IntakeHealth"]


@dataclass(frozen=True, slots=True, kw_only=True)
class IntakeHealth:
    """How intake is, now."""

    connected: bool  # and subscribed: what the sensors send reaches us
    broker: str  # one sentence
    broker_remedy: str  # of the last trouble with it; sentences
    store: StoreError | None  # why the store takes nothing; None while it does
    catching_up: bool  # what comes now had waited in the broker, for some while already
    waiting: int  # messages taken from the broker and not yet stored
    messages: int  # since the start, as all below
    readings: int
    aside: int
    connections: int
    last_message_at: datetime | None
    clocks: tuple[str, ...]  # one sentence for each sensor's clock that is wrong


class Intake:
    """Everything between the broker and the store.

    Parameters
    ----------
    settings : BrokerSettings
    store : Store
    sensors : sequence of Sensor
        Whose readings are taken; others are kept aside.
    clock : Clock
        Tells the time at which messages arrive.
    on_batch : callable
        Called in the writer's thread after each commit; must return soon.
    policy : TimePolicy, optional
        Which of the sensors' own times are believed; the clock says, if not given.
    mappings : sequence of Mapping
        How payloads that are not SenML are read.
    own_topic : str, optional
        What laidup itself publishes on this broker is below it, and no reading.
    """

    def __init__(
        self,
        settings: BrokerSettings,
        store: Store,
        sensors: Sequence[Sensor],
        clock: Clock,
        on_batch: Callable[[BatchSummary], None],
        policy: TimePolicy | None = None,
        mappings: Sequence[Mapping] = (),
        own_topic: str = "",
    ) -> None:
        policy = policy or policy_of(clock)
        clock = correctable_clock(clock)
        corrected = clock if isinstance(clock, CorrectedClock) and policy.compared else None
        own_clock = None if corrected is None else OwnClock(corrected, len(sensors))
        self._decoder = Decoder(sensors, policy, mappings, own_topic, own_clock)
        # A new connection may bring a full window while the old one's is not yet stored.
        self._inbox = Inbox(capacity=2 * settings.receive_maximum)
        drops = DropWatch(store)
        self._connection = Connection(
            settings,
            self._inbox,
            lambda: _arrival_stamp(clock),
            on_dropped=drops.read_count,
        )
        self._writer = Writer(
            store,
            self._decoder,
            self._inbox,
            self._connection.acknowledge,
            on_batch,
            between=IntakeUpkeep(store, self._decoder, clock, drops, on_batch),
        )

    def start(self) -> None:
        """Start; a broker that is not there yet is waited for."""
        self._writer.start()
        self._connection.start()

    def stop(self, timeout: float = 20.0) -> None:
        """Store and acknowledge what has arrived, then say goodbye to the broker.

        Parameters
        ----------
        timeout : float
            Longest wait for the store [s]. What is not stored by then stays in the broker.
        """
        self._connection.stop_reading()
        self._writer.stop(timeout)
        self._connection.stop(timeout=5.0)

    def take_sensors(self, sensors: Sequence[Sensor]) -> None:
        """Take the readings of these sensors from the next batch on."""
        self._decoder.announce_sensors(sensors)

    def intake_health(self) -> IntakeHealth:
        """Tell how intake is."""
        last_ms = self._writer.last_message_ms
        return IntakeHealth(
            connected=self._connection.subscribed,
            broker=self._connection.words,
            broker_remedy=BROKER_REMEDIES[self._connection.trouble],
            store=self._writer.refusal,
            catching_up=self._connection.is_catching_up,
            waiting=len(self._inbox),
            messages=self._writer.messages,
            readings=self._writer.readings,
            aside=self._writer.aside,
            connections=self._connection.connections,
            last_message_at=None if last_ms is None else from_ms(last_ms),
            clocks=tuple(self._decoder.clocks.in_words()),
        )


def _arrival_stamp(clock: Clock) -> tuple[int, int]:
    """Time at which a message arrives [ms], and how often the clock was shifted until then."""
    if isinstance(clock, CorrectedClock):
        now, shifts = clock.now_and_shifts()
        return to_ms(now), shifts
    return to_ms(clock.now()), 0
