"""One transaction's repositories, each made when it is first asked for.

A question about one craft asks two of some twenty, and what the others import takes longer than the
answer.
"""

from functools import cached_property
from threading import Lock
from typing import TYPE_CHECKING, Protocol

from sqlalchemy import Connection

if TYPE_CHECKING:
    from monitor.store.alarms import Alarms
    from monitor.store.aside import Aside
    from monitor.store.assessments import Assessments
    from monitor.store.day_trees import DayTrees
    from monitor.store.dropped_months import DroppedMonths
    from monitor.store.forecasts import Forecasts
    from monitor.store.housekeeping_memory import JobRuns, NotifiedArrivals
    from monitor.store.intake_state import IntakeFaults, SensorClocks, SessionNames
    from monitor.store.kept_answers import KeptAnswers
    from monitor.store.landing import Landing
    from monitor.store.layup import Layup
    from monitor.store.outbox import Outbox
    from monitor.store.page_deeds import PageDeeds
    from monitor.store.page_grants import PageGrants
    from monitor.store.photos import Photos
    from monitor.store.present import PresentPicture
    from monitor.store.reading_rows import ArchivedRows
    from monitor.store.reading_writer import ReadingWriter
    from monitor.store.readings import Readings
    from monitor.store.record_heads import RecordHeads
    from monitor.store.reserve import RoomSamples
    from monitor.store.rollups import Rollups
    from monitor.store.said_nights import SaidNights
    from monitor.store.series import YardSeries
    from monitor.store.sign_ins import SignIns
    from monitor.store.stale_hours import LateHours, StaleHours
    from monitor.store.standing_history import StandingHistory
    from monitor.store.taken_files import TakenFiles
    from monitor.store.told_alarms import ToldAlarms
    from monitor.store.watches import AnswerLinks, Conversations, Watches
    from monitor.store.yard_changes import ChangesOfYard
    from monitor.store.yard_marks import KeptReads, SteadyReads
    from monitor.store.yard_readings import YardReadings


class Archive(Protocol):
    """Files of readings that the store may no longer hold."""

    only_dropped: bool  # asked for nothing but what was dropped

    def read_beside(self, tx: "Transaction") -> "ArchivedRows":
        """What they give beside one snapshot of the store."""


class StoreMemory:
    """What the transactions of one process leave each other beside what stands in the store."""

    def __init__(self) -> None:
        self._lock = Lock()  # two threads may be the first to ask
        self._present: PresentPicture | None = None
        self._heads: RecordHeads | None = None
        self._reads: KeptReads | None = None
        self.archive: Archive | None = None  # asked for what the store no longer holds
        self.commits = 0  # of transactions that may show on a page
        self.changes = 0  # of them, those that changed judgements or alarms
        self.alarm_commits = 0  # of transactions that changed alarms

    def count_commit(self, *, shows: bool, judged: bool, told: bool) -> None:
        """Count a transaction: whether it may show on a page, and what it changed."""
        with self._lock:
            self.alarm_commits += told
            if shows:
                self.commits += 1
                self.changes += judged or told

    @property
    def present(self) -> "PresentPicture":
        """The present judgements, as this process wrote them."""
        from monitor.store.present import PresentPicture

        with self._lock:
            if self._present is None:
                self._present = PresentPicture()
            return self._present

    @property
    def reads(self) -> "KeptReads":
        """What snapshots of this process read, for as long as it stays true."""
        from monitor.store.yard_marks import KeptReads

        with self._lock:
            if self._reads is None:
                self._reads = KeptReads()
            return self._reads

    @property
    def heads(self) -> "RecordHeads":
        """The newest heads of the record's chains."""
        from monitor.store.record_heads import RecordHeads

        with self._lock:
            if self._heads is None:
                self._heads = RecordHeads()
            return self._heads


class Transaction:
    """The repositories of one yard, all on one connection: they commit together or not at all."""

    def __init__(
        self, connection: Connection, yard_id: int, memory: StoreMemory, *, only_reads: bool = False
    ) -> None:
        """Make it, before its first statement.

        Parameters
        ----------
        connection : Connection
        yard_id : int
        memory : StoreMemory
        only_reads : bool
            It sees one steady state: what has not changed since another one is not read again.
        """
        self._connection = connection
        self._yard_id = yard_id
        self._memory = memory
        self._only_reads = only_reads
        self._alarm_commits = memory.alarm_commits

    def note_commit(self, *, counts: bool) -> None:
        """Let the other transactions of this process see what this one committed.

        Parameters
        ----------
        counts : bool
            It may show on a page.
        """
        judged = "assessments" in vars(self)  # nobody judged, else
        if judged:
            self.assessments.show_committed()
        told = "alarms" in vars(self) and self.alarms.were_changed
        self._memory.count_commit(shows=counts, judged=judged, told=told)

    @cached_property
    def reads(self) -> "SteadyReads | None":
        """What of this steady state is read already; None in a transaction that writes."""
        from monitor.store.yard_marks import SteadyReads

        if not self._only_reads:
            return None
        return SteadyReads(self._connection, self._yard_id, self._memory.reads, self._alarm_commits)

    @cached_property
    def _stale(self) -> "StaleHours":
        from monitor.store.stale_hours import StaleHours

        refuse_change = self.dropped_months.refuse_change
        return StaleHours(self._connection, self._yard_id, self.late_hours, refuse_change)

    @cached_property
    def dropped_months(self) -> "DroppedMonths":
        """Months whose raw readings are in archive files."""
        from monitor.store.dropped_months import DroppedMonths

        return DroppedMonths(self._connection, self._yard_id)

    @cached_property
    def late_hours(self) -> "LateHours":
        """Hours that came late for the tree of their day."""
        from monitor.store.stale_hours import LateHours

        return LateHours(self._connection, self._yard_id)

    @cached_property
    def day_trees(self) -> "DayTrees":
        """The trees of days."""
        from monitor.store.day_trees import DayTrees

        return DayTrees(self._connection, self._yard_id, self.readings, self.landing)

    @cached_property
    def series(self) -> "YardSeries":
        """Sensors' channels, and their numbers in the store."""
        from monitor.store.series import YardSeries

        return YardSeries(self._connection, self._yard_id)

    @cached_property
    def landing(self) -> "Landing":
        """Which of two tables holds a reading."""
        from monitor.store.landing import Landing

        return Landing(self._connection, self._yard_id)

    @cached_property
    def readings(self) -> "Readings":
        """Readings of a series, as they came in."""
        from monitor.store.readings import Readings

        return Readings(self._connection, self._yard_id, self.series, self.landing, self.archived)

    @cached_property
    def reading_writer(self) -> "ReadingWriter":
        """Readings on their way into the store."""
        from monitor.store.reading_writer import ReadingWriter

        return ReadingWriter(
            self._connection, self._yard_id, self.series, self.landing, self._stale
        )

    @cached_property
    def yard_readings(self) -> "YardReadings":
        """The newest reading of every series, and how many there are."""
        from monitor.store.yard_readings import YardReadings

        return YardReadings(self._connection, self._yard_id, self.series, self.landing)

    @cached_property
    def archived(self) -> "ArchivedRows | None":
        """Readings that only the archive has; None where all may write, or nothing was dropped."""
        archive = self._memory.archive
        if not self._only_reads:
            return None
        if archive is None or (archive.only_dropped and self.dropped_months.before_ms is None):
            return None
        return archive.read_beside(self)

    @cached_property
    def rollups(self) -> "Rollups":
        """Readings by the hour."""
        from monitor.store.rollups import Rollups

        own, months = (self._connection, self._yard_id), self.dropped_months
        return Rollups(*own, self.series, self.readings, self._stale, months)

    @cached_property
    def sensor_clocks(self) -> "SensorClocks":
        """Wrong clocks of sensors."""
        from monitor.store.intake_state import SensorClocks

        return SensorClocks(self._connection, self._yard_id)

    @cached_property
    def intake_faults(self) -> "IntakeFaults":
        """What is wrong with the intake."""
        from monitor.store.intake_state import IntakeFaults

        return IntakeFaults(self._connection, self._yard_id)

    @cached_property
    def room_samples(self) -> "RoomSamples":
        """Free room on the disk, as it was."""
        from monitor.store.reserve import RoomSamples

        return RoomSamples(self._connection, self._yard_id)

    @cached_property
    def session_names(self) -> "SessionNames":
        """The session at the broker."""
        from monitor.store.intake_state import SessionNames

        return SessionNames(self._connection, self._yard_id)

    @cached_property
    def job_runs(self) -> "JobRuns":
        """When the jobs at fixed hours ran."""
        from monitor.store.housekeeping_memory import JobRuns

        return JobRuns(self._connection, self._yard_id)

    @cached_property
    def said_nights(self) -> "SaidNights":
        """What was said of nights."""
        from monitor.store.said_nights import SaidNights

        return SaidNights(self._connection, self._yard_id)

    @cached_property
    def notified_arrivals(self) -> "NotifiedArrivals":
        """Arrivals that readers were told of."""
        from monitor.store.housekeeping_memory import NotifiedArrivals

        return NotifiedArrivals(self._connection, self._yard_id)

    @cached_property
    def aside(self) -> "Aside":
        """Messages that cannot be taken in."""
        from monitor.store.aside import Aside

        return Aside(self._connection, self._yard_id)

    @cached_property
    def assessments(self) -> "Assessments":
        """Judgements."""
        from monitor.store.assessments import Assessments

        return Assessments(self._connection, self._yard_id, self._memory.present, self.reads)

    @cached_property
    def standing_history(self) -> "StandingHistory":
        """Standings as they changed."""
        from monitor.store.standing_history import StandingHistory

        return StandingHistory(self._connection, self._yard_id)

    @cached_property
    def alarms(self) -> "Alarms":
        """Alarms."""
        from monitor.store.alarms import Alarms

        return Alarms(self._connection, self._yard_id, self.reads)

    @cached_property
    def layup(self) -> "Layup":
        """Craft and their lay-up record."""
        from monitor.store.layup import Layup

        return Layup(self._connection, self._yard_id)

    @cached_property
    def taken_files(self) -> "TakenFiles":
        """Craft files that the record holds all of."""
        from monitor.store.taken_files import TakenFiles

        return TakenFiles(self._connection, self._yard_id)

    @cached_property
    def photos(self) -> "Photos":
        """Photos that entries name."""
        return self.layup.photos

    @cached_property
    def watches(self) -> "Watches":
        """Causes that wait until their alarm is due."""
        from monitor.store.watches import Watches

        return Watches(self._connection, self._yard_id)

    @cached_property
    def conversations(self) -> "Conversations":
        """Threads of messages."""
        from monitor.store.watches import Conversations

        return Conversations(self._connection, self._yard_id)

    @cached_property
    def answer_links(self) -> "AnswerLinks":
        """Links by which people answer a letter."""
        from monitor.store.watches import AnswerLinks

        return AnswerLinks(self._connection, self._yard_id)

    @cached_property
    def outbox(self) -> "Outbox":
        """Messages on their way."""
        from monitor.store.outbox import Outbox

        return Outbox(self._connection, self._yard_id, self._memory.heads)

    @cached_property
    def told_alarms(self) -> "ToldAlarms":
        """Which alarms messages told of."""
        from monitor.store.told_alarms import ToldAlarms

        return ToldAlarms(self._connection, self._yard_id)

    @cached_property
    def forecasts(self) -> "Forecasts":
        """Public forecasts."""
        from monitor.store.forecasts import Forecasts

        return Forecasts(self._connection, self._yard_id, self.reads)

    @cached_property
    def sign_ins(self) -> "SignIns":
        """Passwords and sessions of people who sign in at the page."""
        from monitor.store.sign_ins import SignIns

        return SignIns(self._connection, self._yard_id)

    @cached_property
    def page_grants(self) -> "PageGrants":
        """Keys and links that let somebody in who does not sign in."""
        from monitor.store.page_grants import PageGrants

        return PageGrants(self._connection, self._yard_id)

    @cached_property
    def page_deeds(self) -> "PageDeeds":
        """What was done about access to the page."""
        from monitor.store.page_deeds import PageDeeds

        return PageDeeds(self._connection, self._yard_id)

    @cached_property
    def kept_answers(self) -> "KeptAnswers":
        """Answers to acts that came with a key of their own."""
        from monitor.store.kept_answers import KeptAnswers

        return KeptAnswers(self._connection, self._yard_id)

    @cached_property
    def yard_changes(self) -> "ChangesOfYard":
        """What people changed of the yard itself."""
        from monitor.store.yard_changes import ChangesOfYard

        return ChangesOfYard(self._connection, self._yard_id)
