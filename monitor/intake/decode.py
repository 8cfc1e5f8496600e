"""From a message to readings of known sensors; what cannot be one gets a reason."""

from collections.abc import Iterable, Sequence
from contextlib import suppress
from typing import NamedTuple

from monitor.errors import PayloadError
from monitor.intake.inbox import ArrivedMessage
from monitor.intake.mapping import Mapping, Mappings
from monitor.intake.own_clock import OwnClock, Stamped
from monitor.intake.senml import MAX_BYTES, Record, decode_pack, is_pack
from monitor.intake.sensors import Sensors, is_own_topic
from monitor.intake.track import Track
from monitor.intake.trust import Clocks, TimePolicy
from monitor.yard.space import Sensor

CUT_SHORT = "only its beginning is kept"  # words of the reason, for people
_new = tuple.__new__  # half the time of calling the named tuple itself; thousands a second
_LONGEST_PROMISE_S = 86400.0
_MAX_REASONS = 3  # that are told of one message


class DecodedReading(NamedTuple):
    """One reading on its way to the store; value and raw in steps of the channel's resolution."""

    track: Track
    at_ms: int
    value: int
    raw: int | None
    mended: bool  # its time is ours, because the sensor's clock is wrong


class Decoder:
    """Knows the yard's sensors and mappings, and reads messages with that."""

    def __init__(
        self,
        sensors: Iterable[Sensor],
        policy: TimePolicy,
        mappings: Sequence[Mapping] = (),
        own_topic: str = "",
        own_clock: OwnClock | None = None,
    ) -> None:
        """Make a reader of messages.

        ``own_topic`` and what is below it are laidup's own words, not a sensor's; ``own_clock``
        hears what the sensors' times say of ours.
        """
        self._own = f"{own_topic}/" if own_topic else ""
        self.sensors = Sensors(sensors)
        self._next_sensors: tuple[Sensor, ...] | None = None
        self.clocks = Clocks(policy, own_clock)
        self.stamped: list[Stamped] = []  # of what was read since this was last emptied
        self._mappings = Mappings(mappings)

    def announce_sensors(self, sensors: Iterable[Sensor]) -> None:
        """Have other sensors known from the next batch on; any thread may say so."""
        self._next_sensors = tuple(sensors)

    def take_announced(self) -> bool:
        """Know the sensors that were announced; between two batches, for each keeps its state.

        Returns
        -------
        bool
            Whether there were any: what was kept aside may be of use now.
        """
        new, self._next_sensors = self._next_sensors, None
        if new is None:
            return False
        self.sensors = Sensors(new)
        if self.clocks.own is not None:
            self.clocks.own.count_sensors(len(new))
        return True

    def decode_message(self, message: ArrivedMessage) -> tuple[list[DecodedReading], str]:
        """Read one message.

        Returns
        -------
        readings : list of DecodedReading
            What could be used of it.
        reason : str
            Why the rest could not, or empty. Such a message is kept aside.
        """
        try:
            records = self.read_records(message)
        except PayloadError as error:
            own = bool(self._own) and message.topic.startswith(self._own)
            return [], "" if own else str(error)
        return self.decode_records(records, message)

    def decode_records(
        self, records: Sequence[Record], message: ArrivedMessage
    ) -> tuple[list[DecodedReading], str]:
        """Make readings of records, as `decode_message` does of a message that carries them."""
        taken: list[DecodedReading] = []
        reasons: list[str] = []
        doubtful: list[Record] = []
        earliest_s, latest_s = self.clocks.believed_range(message.arrived_ms)
        live = message.live
        for record in records:
            if earliest_s <= record.at_s <= latest_s and (live or not record.relative):
                usual = self._usual_reading(record, message.topic)
                if usual is not None:
                    taken.append(usual)
                    continue
            try:
                self._take_record(record, message, taken, doubtful)
            except PayloadError as error:
                _add_reason(reasons, str(error))
        if live and taken:
            self._learn_clock_errors(taken, records, message, is_doubtful=bool(doubtful))
        if doubtful:
            self._correct_times(doubtful, records, message, taken, reasons)
        return taken, "; ".join(reasons)

    def _usual_reading(self, record: Record, topic: str) -> DecodedReading | None:
        """A reading of a series that is known, in its range and on its topic; None of another.

        What is None here is taken again with care: this is the way of nearly all records.
        """
        number = record.value
        if number is None:
            return None
        series = self.sensors.known.get((record.name, record.unit))
        if series is None or not series.low <= number <= series.high:
            return None
        if series.topic and not is_own_topic(series.topic, topic):
            return None
        at_ms = round(record.at_s * 1000)
        if series.plain:
            value, raw = round(number * series.gain + series.offset), None
        else:
            value, raw = series.in_steps(number, at_ms)
        if record.update_s is not None:
            _note_promise(series.track, record.update_s)
        if record.relative:
            self._note_stamped(series.track, at_ms)
        return _new(DecodedReading, (series.track, at_ms, value, raw, False))

    def _learn_clock_errors(
        self,
        taken: list[DecodedReading],
        records: Sequence[Record],
        message: ArrivedMessage,
        *,
        is_doubtful: bool,
    ) -> None:
        """Learn from a live message about our own clock, and about its sensor's."""
        if self.clocks.own is not None:
            self._compare_clocks(taken, records, message)
        if not is_doubtful and self.clocks.worth_noting(records[-1].at_s, message.arrived_ms):
            self.clocks.note_clock(taken[-1].track.sensor, records[-1].at_s, message)

    def read_records(self, message: ArrivedMessage) -> list[Record]:
        """Read a message's records, from SenML or by a mapping.

        Raises
        ------
        PayloadError
            If it is neither.
        """
        if message.cut_from:
            raise PayloadError(
                f"{CUT_SHORT}: too large, {message.cut_from} bytes, and {MAX_BYTES} are taken at"
                " most"
            )
        mapping = self.mapping_for(message.topic)
        if mapping is not None:
            return mapping.read_records(message.topic, message.payload, message.arrived_ms / 1000)
        if not message.payload:
            raise PayloadError("an empty message")
        if not is_pack(message.payload):
            raise PayloadError("no SenML pack, and no mapping is for this topic")
        return decode_pack(message.payload, message.arrived_ms / 1000)

    def can_read(self, message: ArrivedMessage) -> bool:
        """Whether records can be made of a message, known or not."""
        try:
            self.read_records(message)
        except PayloadError:
            return False
        return True

    def is_foreign(self, message: ArrivedMessage) -> bool:
        """Whether a message brings a sensor's readings on a topic that is not that sensor's."""
        try:
            records = self.read_records(message)
        except PayloadError:
            return False
        for record in records:
            with suppress(PayloadError):  # a sensor that nobody knows has no topic
                if not is_own_topic(self.sensors.sensor_of(record.name)[0].topic, message.topic):
                    return True
        return False

    def mapping_for(self, topic: str) -> Mapping | None:
        """Mapping that reads a topic; None where none does."""
        return self._mappings.mapping_of(topic)

    def _take_record(
        self,
        record: Record,
        message: ArrivedMessage,
        taken: list[DecodedReading],
        doubtful: list[Record],
    ) -> None:
        """Take a record that is not the usual kind; what is doubtful in time is put off."""
        sensor, _ = self.sensors.sensor_of(record.name)
        if not is_own_topic(sensor.topic, message.topic):
            raise PayloadError(
                f"it came on a topic that is not this sensor's ({sensor.topic})", field=record.name
            )
        if record.value is None and record.boolean is None:
            return  # a text or a sum: nothing that we keep
        one = self._reading_of(record)
        if record.relative and not message.live:
            raise PayloadError(
                "its time counts from when it was sent, and nobody knows how long it waited",
                field=record.name,
            )
        earliest_s, latest_s = self.clocks.believed_range(message.arrived_ms)
        if earliest_s <= record.at_s <= latest_s:
            if record.relative:
                self._note_stamped(one.track, one.at_ms)
            taken.append(one)
        else:
            doubtful.append(record)

    def _reading_of(self, record: Record, shift_s: float = 0.0) -> DecodedReading:
        """Make a reading of a record; its time is shifted where its clock is wrong."""
        series = self.sensors.series_of(record.name, record.unit)
        number = float(record.boolean or False) if record.value is None else record.value
        if not series.low <= number <= series.high:
            raise PayloadError(
                f"{number:g} {record.unit or ''} is no {series.track.channel}", field=record.name
            )
        at_ms = round((record.at_s + shift_s) * 1000)
        if record.update_s is not None:
            _note_promise(series.track, record.update_s)
        return DecodedReading(series.track, at_ms, *series.in_steps(number, at_ms), shift_s != 0.0)

    def _correct_times(
        self,
        doubtful: list[Record],
        records: Sequence[Record],
        message: ArrivedMessage,
        taken: list[DecodedReading],
        reasons: list[str],
    ) -> None:
        """Put right the times of sensors whose clock is wrong, where we know by how much."""
        mended: list[DecodedReading] = []
        replaced: set[str] = set()
        for name, own in self._by_sensor(doubtful, records, message).items():
            clock_s = [record.at_s for record in own if not record.relative]
            try:
                shift_s = self.clocks.shift_for(name, max(clock_s or [own[-1].at_s]), message)
            except PayloadError as error:
                _add_reason(reasons, str(error))
                continue
            replaced.add(name)
            earliest_s, latest_s = self.clocks.believed_range(message.arrived_ms)
            for record in own:
                by_s = 0.0 if record.relative else shift_s
                if record.value is None and record.boolean is None:
                    continue
                if not earliest_s <= record.at_s + by_s <= latest_s:
                    _add_reason(reasons, f"{record.name}: its time cannot be put right")
                    continue
                with suppress(PayloadError):  # its reason is told already
                    mended.append(self._reading_of(record, by_s))
        taken[:] = [one for one in taken if one.track.sensor not in replaced] + mended

    def _by_sensor(
        self, doubtful: list[Record], records: Sequence[Record], message: ArrivedMessage
    ) -> dict[str, list[Record]]:
        """All records of those sensors whose clock is in doubt, by the sensor's name."""
        of: dict[str, list[Record]] = {
            self.sensors.sensor_of(record.name)[0].name: [] for record in doubtful
        }
        for record in records:
            with suppress(PayloadError):  # its reason is told already
                name = self.sensors.sensor_of(record.name)[0].name
                if name in of:
                    of[name].append(_as_clock(record, message))
        return of

    def _compare_clocks(
        self, taken: Sequence[DecodedReading], records: Sequence[Record], message: ArrivedMessage
    ) -> None:
        """Let each sensor's newest time in a live message speak of our own clock."""
        last = taken[-1]
        if records[-1].relative or last.mended:
            return
        if taken[0].track.sensor == last.track.sensor:  # the usual pack: one sensor's
            self.clocks.hear_message(last.track.sensor, last.at_ms / 1000, message)
            return
        sensors = {one.track.sensor: one.at_ms for one in taken if not one.mended}
        for sensor, newest_ms in sensors.items():  # times rise: the last one stays
            self.clocks.hear_message(sensor, newest_ms / 1000, message)

    def _note_stamped(self, track: Track, at_ms: int) -> None:
        if self.clocks.own is not None:
            self.stamped.append(Stamped(track.sensor, track.channel, at_ms))


def _add_reason(reasons: list[str], reason: str) -> None:
    """Add what is not yet there; a pack may have two thousand, and nobody reads more than these."""
    if len(reasons) < _MAX_REASONS and reason not in reasons:
        reasons.append(reason)


def _note_promise(track: Track, update_s: float) -> None:
    """Note how soon a sensor says that it will send again; beyond a day that is no promise."""
    track.update_s = min(update_s, _LONGEST_PROMISE_S) if update_s > 0 else None


def _as_clock(record: Record, message: ArrivedMessage) -> Record:
    """Take a relative time in the future for what it is: a clock that counts from 1970.

    SenML reads small times as seconds from now (RFC 8428, section 4.5.3).
    """
    since_1970_s = record.at_s - message.arrived_ms / 1000
    if record.relative and since_1970_s > 0:
        return record._replace(at_s=since_1970_s, relative=False)
    return record
