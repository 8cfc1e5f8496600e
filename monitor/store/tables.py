"""Every table of the store. Each key leads with the yard, so that yards can be split apart.

Times are UTC milliseconds since 1970. Values are whole numbers of their channel's resolution.
"""

from sqlalchemy import (
    BigInteger,
    Column,
    Float,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    PrimaryKeyConstraint,
    SmallInteger,
    Table,
    Text,
    UniqueConstraint,
)

metadata = MetaData(
    naming_convention={
        "pk": "pk_%(table_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    }
)


def _yard() -> Column[int]:
    return Column("yard_id", Integer, primary_key=True, autoincrement=False)


yards = Table(
    "yards",
    metadata,
    _yard(),
    Column("key", Text, nullable=False, unique=True),
)

series = Table(
    "series",
    metadata,
    _yard(),
    Column("series_id", Integer, primary_key=True, autoincrement=False),
    Column("sensor", Text, nullable=False),
    Column("channel", Text, nullable=False),
    # Longest time until its next reading, as the sensor itself says (SenML's ut).
    Column("update_s", Float),
    UniqueConstraint("yard_id", "sensor", "channel"),
)

readings = Table(
    "readings",
    metadata,
    _yard(),
    Column("series_id", Integer, primary_key=True, autoincrement=False),
    Column("at_ms", BigInteger, primary_key=True, autoincrement=False),
    Column("value", Integer, nullable=False),
    Column("raw", Integer),  # only where a correction made it differ from the value
    Column("flag", SmallInteger, nullable=False),
    sqlite_with_rowid=False,  # the key is the row: 17 bytes a reading instead of 42
)
# Readings of the mark and later, for an hour or so, until they move into `readings`
# (monitor/store/landing.py). Led by the time: what comes together is written to one page.
landed_readings = Table(
    "landed_readings",
    metadata,
    Column("yard_id", Integer, nullable=False),
    Column("series_id", Integer, nullable=False),
    Column("at_ms", BigInteger, nullable=False),
    Column("value", Integer, nullable=False),
    Column("raw", Integer),
    Column("flag", SmallInteger, nullable=False),
    PrimaryKeyConstraint("yard_id", "at_ms", "series_id"),
    sqlite_with_rowid=False,
)
landing_mark = Table(
    "landing_mark",
    metadata,
    _yard(),
    Column("from_ms", BigInteger, nullable=False),
)

# Readings hour by hour, for ever (monitor/store/rollups.py). Values in the steps of `readings`; the
# mean and the degree-hours lie between steps.
rollups = Table(
    "rollups",
    metadata,
    _yard(),
    Column("series_id", Integer, primary_key=True, autoincrement=False),
    Column("hour_ms", BigInteger, primary_key=True, autoincrement=False),
    Column("readings", Integer, nullable=False),
    Column("low", Integer),
    Column("high", Integer),
    Column("mean", Float),
    Column("seen_min", SmallInteger, nullable=False),
    Column("wet_min", SmallInteger),
    Column("frost_min", SmallInteger),
    Column("frost_kh", Float),
    sqlite_with_rowid=False,
)
rollup_mark = Table(
    "rollup_mark",
    metadata,
    _yard(),
    Column("until_ms", BigInteger, nullable=False),
)
stale_hours = Table(
    "stale_hours",
    metadata,
    _yard(),
    Column("series_id", Integer, primary_key=True, autoincrement=False),
    Column("hour_ms", BigInteger, primary_key=True, autoincrement=False),
    sqlite_with_rowid=False,
)

# Trees of days (monitor/store/closing_days.py): a row for leaves that belong together; the root
# over a day's rows stands in ``record_links``. Add-only.
day_groups = Table(
    "day_groups",
    metadata,
    _yard(),
    Column("day", Text, primary_key=True),  # of UTC: 2026-11-04
    Column("n", Integer, primary_key=True, autoincrement=False),
    Column("about", Text, nullable=False),  # what they are of; canonical JSON
    Column("size", Integer, nullable=False),
    Column("root", Text, nullable=False),
    Column("leaves", LargeBinary, nullable=False),  # canonical JSON, packed by zlib
    Index(None, "yard_id", "about", "day"),
)
# Hours whose readings changed after the tree of their day was begun, until another takes them in.
late_mark = Table(
    "late_mark",
    metadata,
    _yard(),
    Column("before_ms", BigInteger, nullable=False),
)
late_hours = Table(
    "late_hours",
    metadata,
    _yard(),
    Column("series_id", Integer, primary_key=True, autoincrement=False),
    Column("hour_ms", BigInteger, primary_key=True, autoincrement=False),
    Column("times", Integer, nullable=False),
    sqlite_with_rowid=False,
)

# Months whose raw readings are in archive files alone (monitor/store/dropped_months.py), or are on
# their way there: all before the end of the last of them. NULL: not so far yet.
dropped_months = Table(
    "dropped_months",
    metadata,
    _yard(),
    Column("month", Text, primary_key=True),  # of UTC: 2026-11
    Column("end_ms", BigInteger, nullable=False),
    Column("begun_ms", BigInteger, nullable=False),
    Column("checked_ms", BigInteger),  # file, leaves, readings and rollups agreed
    Column("dropped_ms", BigInteger),  # the last of its readings was removed
    Column("rows", BigInteger, nullable=False),  # of its file
    Column("digest", Text, nullable=False),  # of these rows, hex
    Column("file_sum", Text, nullable=False),  # SHA-256 of the file, hex
)

# Only of yards that are older than a default made of their id (monitor/store/intake_state.py).
session_names = Table(
    "session_names",
    metadata,
    _yard(),
    Column("client_id", Text, nullable=False),
)

# The last run of each job of the house (monitor/store/housekeeping_memory.py).
job_runs = Table(
    "job_runs",
    metadata,
    _yard(),
    Column("job", Text, primary_key=True),
    Column("began_ms", BigInteger, nullable=False),
    Column("took_s", Float, nullable=False),
    Column("problem", Text, nullable=False),
)

# Craft that came in and were seen to in a list of arrivals, a row a reader (NotifiedArrivals).
told_arrivals = Table(
    "told_arrivals",
    metadata,
    _yard(),
    Column("craft_id", Text, primary_key=True),
    Column("came_ms", BigInteger, primary_key=True, autoincrement=False),
    Column("person", Text, primary_key=True),
    Column("at_ms", BigInteger, nullable=False),
)

# Messages that could not be used. The same bytes on the same topic for the same reason are one
# row with a count, so that a broken sensor cannot fill the store.
aside = Table(
    "aside",
    metadata,
    _yard(),
    Column("digest", Text, primary_key=True),
    Column("topic", Text, nullable=False),
    Column("reason", Text, nullable=False),
    Column("payload", LargeBinary, nullable=False),
    Column("first_ms", BigInteger, nullable=False),
    Column("last_ms", BigInteger, nullable=False),
    Column("count", Integer, nullable=False),
    Column("kind", Text),  # why it is of no use later either; NULL: it may be
    Index(None, "yard_id", "last_ms"),
)

_SUBJECT = ("hazard", "space", "craft", "part")


def _subject() -> list[Column[str]]:
    return [Column(name, Text, primary_key=True) for name in _SUBJECT]


# The latest judgement of each subject, and below it every change of standing for good.
assessments = Table(
    "assessments",
    metadata,
    _yard(),
    *_subject(),
    Column("at_ms", BigInteger, nullable=False),
    Column("standing", Text, nullable=False),
    Column("body", Text, nullable=False),
)

# One row a yard: all present judgements in few bytes (packed_judgements.py), and when they were
# last made.
present_judgements = Table(
    "present_judgements",
    metadata,
    _yard(),
    Column("at_ms", BigInteger, nullable=False),
    Column("body", LargeBinary, nullable=False),
)
standing_changes = Table(
    "standing_changes",
    metadata,
    _yard(),
    *_subject(),
    Column("at_ms", BigInteger, primary_key=True, autoincrement=False),
    Column("standing", Text, nullable=False),
    Column("body", Text, nullable=False),
    Column("program", Text),  # version; null, as below: of an earlier program
    Column("settings_digest", Text),
    Column("profile_digest", Text),
    Index(None, "yard_id", "at_ms"),
    Index(None, "yard_id", "craft", "at_ms"),
)

alarms = Table(
    "alarms",
    metadata,
    _yard(),
    Column("alarm_id", Text, primary_key=True),
    Column("cause", Text, nullable=False),
    Column("space", Text, nullable=False),
    Column("craft", Text, nullable=False),
    Column("part", Text, nullable=False),
    Column("state", Text, nullable=False),
    Column("priority", Text, nullable=False),
    Column("urgency", Text, nullable=False),
    Column("severity", Text, nullable=False),
    Column("certainty", Text, nullable=False),
    Column("headline", Text, nullable=False),
    Column("raised_ms", BigInteger, nullable=False),
    Column("changed_ms", BigInteger, nullable=False),
    Column("deadline_ms", BigInteger),
    Column("cleared_ms", BigInteger),
    Column("headline_facts", Text),  # JSON; null: an earlier program's headline
    Index(None, "yard_id", "state"),
    Index(None, "yard_id", "craft"),
)

alarm_events = Table(
    "alarm_events",
    metadata,
    _yard(),
    Column("alarm_id", Text, primary_key=True),
    Column("n", Integer, primary_key=True, autoincrement=False),
    Column("at_ms", BigInteger, nullable=False),
    Column("before", Text, nullable=False),
    Column("after", Text, nullable=False),
    Column("by", Text, nullable=False),
    Column("why", Text, nullable=False),
    Column("why_facts", Text),  # JSON; null: a person's words, or an earlier program's
    Index(None, "yard_id", "at_ms"),
)

# How many events there are: to count a season's takes longer each week, and pages ask each second.
alarm_change_counts = Table(
    "alarm_change_counts",
    metadata,
    _yard(),
    Column("changes", BigInteger, nullable=False),
)

outbox = Table(
    "outbox",
    metadata,
    _yard(),
    Column("key", Text, primary_key=True),
    Column("person", Text, nullable=False),
    Column("channel", Text, nullable=False),
    Column("address", Text, nullable=False),
    Column("kind", Text, nullable=False),
    Column("subject", Text, nullable=False),
    Column("text", Text, nullable=False),
    Column("html", Text, nullable=False),
    Column("thread", Text, nullable=False),
    Column("created_ms", BigInteger, nullable=False),
    Column("outcome", Text),  # null while it waits or will be tried again
    Column("tries", Integer, nullable=False),
    Column("due_ms", BigInteger, nullable=False),
    Column("claimed_until_ms", BigInteger, nullable=False),
    Column("claimed_by", Text),  # the process that has it in hand, or had it last
    Column("record_head", Text),  # of the lay-up record when it was written; null: none then
    Column("language", Text),  # of its sentences, a code of BCP 47; null: English
    # As whom a reader was written to of alarms; null: not of alarms, or an earlier program's.
    Column("role", Text),
    Index(None, "yard_id", "outcome", "due_ms"),
    Index(None, "yard_id", "created_ms"),
    Index(None, "yard_id", "person", "created_ms"),
)

# Alarms that a message tells of by name.
outbox_alarms = Table(
    "outbox_alarms",
    metadata,
    _yard(),
    Column("alarm_id", Text, primary_key=True),
    Column("key", Text, primary_key=True),
    Index(None, "yard_id", "key"),
)

outbox_attachments = Table(
    "outbox_attachments",
    metadata,
    _yard(),
    Column("key", Text, primary_key=True),
    Column("n", Integer, primary_key=True, autoincrement=False),
    Column("filename", Text, nullable=False),
    Column("media_type", Text, nullable=False),
    Column("content_id", Text, nullable=False),
    Column("content", LargeBinary, nullable=False),
)

# JPEGs, by the digest of their bytes; entries of the lay-up record name them by it.
photos = Table(
    "photos",
    metadata,
    _yard(),
    Column("sha256", Text, primary_key=True),
    Column("kept_ms", BigInteger, nullable=False),
    Column("by", Text, nullable=False),
    Column("craft", Text, nullable=False),  # on whose bench it was sent
    Column("on_record", SmallInteger, nullable=False),  # 0: no entry names it yet
    Column("content", LargeBinary, nullable=False),
)

delivery_attempts = Table(
    "delivery_attempts",
    metadata,
    _yard(),
    Column("key", Text, primary_key=True),
    Column("n", Integer, primary_key=True, autoincrement=False),
    Column("at_ms", BigInteger, nullable=False),
    Column("outcome", Text, nullable=False),
    Column("detail", Text, nullable=False),
)

# What the alarm room remembers between rounds: since when a cause holds, and what was told.
alarm_watches = Table(
    "alarm_watches",
    metadata,
    _yard(),
    Column("cause", Text, primary_key=True),
    Column("craft", Text, primary_key=True),
    Column("space", Text, primary_key=True),
    Column("part", Text, primary_key=True),
    Column("body", Text, nullable=False),
)

conversations = Table(
    "conversations",
    metadata,
    _yard(),
    Column("thread", Text, primary_key=True),
    Column("person", Text, nullable=False),
    Column("topic", Text, nullable=False),
    Column("closed_ms", BigInteger),
    Column("body", Text, nullable=False),
    Index(None, "yard_id", "closed_ms"),
)

answer_links = Table(
    "answer_links",
    metadata,
    _yard(),
    Column("digest", Text, primary_key=True),
    Column("person", Text, nullable=False),
    Column("thread", Text, nullable=False),
    Column("expires_ms", BigInteger, nullable=False),
    Column("used_ms", BigInteger),
    Column("alarms", Text),  # ids, one a line
)

# Who may open the page (monitor/store/sign_ins.py, page_grants.py, page_deeds.py). Of what lets
# somebody in, only a digest is kept.
page_passwords = Table(
    "page_passwords",
    metadata,
    _yard(),
    Column("person", Text, primary_key=True),
    Column("hash", Text, nullable=False),
    Column("set_ms", BigInteger, nullable=False),
)
page_invitations = Table(
    "page_invitations",
    metadata,
    _yard(),
    Column("digest", Text, primary_key=True),
    Column("person", Text, nullable=False),
    Column("made_ms", BigInteger, nullable=False),
    Column("expires_ms", BigInteger, nullable=False),
    Column("used_ms", BigInteger),
)
page_sessions = Table(
    "page_sessions",
    metadata,
    _yard(),
    Column("digest", Text, primary_key=True),
    Column("person", Text, nullable=False),
    Column("made_ms", BigInteger, nullable=False),
    Column("seen_ms", BigInteger, nullable=False),
    Column("address", Text, nullable=False),
)
page_grants = Table(
    "page_grants",
    metadata,
    _yard(),
    Column("grant_id", Text, primary_key=True),
    Column("digest", Text, nullable=False),
    Column("kind", Text, nullable=False),
    Column("role", Text, nullable=False),  # of a key; else empty
    Column("name", Text, nullable=False),  # of a key, or of whom a third party's link is for
    Column("person", Text, nullable=False),  # an owner's id; else empty
    Column("craft_id", Text, nullable=False),  # that a third party may see; else empty
    Column("made_by", Text, nullable=False),
    Column("made_ms", BigInteger, nullable=False),
    Column("expires_ms", BigInteger),
    Column("withdrawn_ms", BigInteger),  # equal to expires_ms: it was seen to have run out
    Column("seen_ms", BigInteger),
    UniqueConstraint("yard_id", "digest"),
)
page_deeds = Table(
    "page_deeds",
    metadata,
    _yard(),
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("at_ms", BigInteger, nullable=False),
    Column("who", Text, nullable=False),
    Column("deed", Text, nullable=False),
    Column("about", Text, nullable=False),
    Column("address", Text, nullable=False),
)

# What people changed of the yard itself; it only grows, and the present is read off it.
yard_changes = Table(
    "yard_changes",
    metadata,
    _yard(),
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("at_ms", BigInteger, nullable=False),
    Column("since_ms", BigInteger, nullable=False),  # from when it holds
    Column("who", Text, nullable=False),
    Column("part", Text, nullable=False),
    Column("key", Text, nullable=False),
    Column("before", Text),  # JSON of the item; none: it was not there
    Column("after", Text),
    Column("undoes", Integer),
)

# What acts were answered that came with a key of their own (Idempotency-Key).
kept_answers = Table(
    "kept_answers",
    metadata,
    _yard(),
    Column("caller", Text, primary_key=True),
    Column("key", Text, primary_key=True),
    Column("request", Text, nullable=False),  # digest
    Column("status", Integer, nullable=False),
    Column("body", Text, nullable=False),
    Column("at_ms", BigInteger, nullable=False),
)

craft = Table(
    "craft",
    metadata,
    _yard(),
    Column("craft_id", Text, primary_key=True),
    Column("name", Text, nullable=False),
    Column("profile", Text, nullable=False),
    Column("fittings", Text, nullable=False),  # JSON list of profiles
    Column("owner", Text, nullable=False),
    Column("hull_number", Text),  # null: not known
    Column("arrived_ms", BigInteger, nullable=False),
    Column("left_ms", BigInteger),
    Column("measured", Text, nullable=False),  # JSON list of time constants
    Column("note", Text, nullable=False),
    UniqueConstraint("yard_id", "hull_number"),
)

# Where a craft stood from when on; a move is a new row, and the old one stays.
stays = Table(
    "stays",
    metadata,
    _yard(),
    Column("craft_id", Text, primary_key=True),
    Column("since_ms", BigInteger, primary_key=True, autoincrement=False),
    Column("space", Text, nullable=False),
    Column("berth", Text, nullable=False),
    Column("by", Text, nullable=False),
)

# Append-only: ``body`` is the canonical form that ``hash`` was taken of. ``number`` is the link's
# place in its craft's chain, which moves and versions of the craft's row share.
layup_entries = Table(
    "layup_entries",
    metadata,
    _yard(),
    Column("craft_id", Text, primary_key=True),
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("entry_id", Text, nullable=False),
    Column("at_ms", BigInteger, nullable=False),
    Column("body", Text, nullable=False),
    Column("hash", Text, nullable=False),
    UniqueConstraint("yard_id", "craft_id", "entry_id"),
)

# Append-only: every link of every craft's chain in the order of writing. A link holds the hash of
# the one before it of its craft; that of a piece of work has its body in its own row above.
record_links = Table(
    "record_links",
    metadata,
    _yard(),
    Column("position", Integer, primary_key=True, autoincrement=False),
    Column("craft_id", Text, nullable=False),
    Column("number", Integer, nullable=False),
    Column("kind", Text, nullable=False),
    Column("hash", Text, nullable=False),
    Column("body", Text, nullable=False),
    UniqueConstraint("yard_id", "craft_id", "number"),
)

# Craft files that the record up to a position holds all of (monitor/store/taken_files.py).
taken_files = Table(
    "taken_files",
    metadata,
    _yard(),
    Column("digest", Text, nullable=False),
    Column("position", BigInteger, nullable=False),
)

# Craft whose chain does not hold, as the last check found them: nothing of their record counts.
record_breaks = Table(
    "record_breaks",
    metadata,
    _yard(),
    Column("craft_id", Text, primary_key=True),
    Column("found_ms", BigInteger, nullable=False),
    Column("words", Text, nullable=False),
)

# Every issue of a public forecast as it was known: the past ones tell how far to trust the next.
forecasts = Table(
    "forecasts",
    metadata,
    _yard(),
    Column("source", Text, primary_key=True),
    Column("issued_ms", BigInteger, primary_key=True, autoincrement=False),
    Column("valid_ms", BigInteger, primary_key=True, autoincrement=False),
    Column("fetched_ms", BigInteger, nullable=False),
    Column("air", Integer, nullable=False),  # 0.01 °C
    Column("dew_point", Integer),  # 0.01 °C; null where the agency does not say
    Index(None, "yard_id", "fetched_ms"),
)

forecast_asking = Table(
    "forecast_asking",
    metadata,
    _yard(),
    Column("source", Text, primary_key=True),
    Column("body", Text, nullable=False),
)

# What is wrong with the way in, for as long as it is; and what the broker has counted so far.
intake_faults = Table(
    "intake_faults",
    metadata,
    _yard(),
    Column("kind", Text, primary_key=True),
    Column("amount", Float, nullable=False),
    Column("since_ms", BigInteger, nullable=False),
    Column("last_ms", BigInteger, nullable=False),
)

# How much room the store's disk had, hour by hour over a week.
room_samples = Table(
    "room_samples",
    metadata,
    _yard(),
    Column("at_ms", BigInteger, primary_key=True, autoincrement=False),
    Column("free_bytes", BigInteger, nullable=False),
)

# What was said of each night at the evening hour, and what it came to: a row a space a night.
said_nights = Table(
    "said_nights",
    metadata,
    _yard(),
    Column("space", Text, primary_key=True),
    Column("evening", Text, primary_key=True),  # ISO 8601 date, by the yard's clock
    Column("said_ms", BigInteger, nullable=False),
    Column("air", Integer, nullable=False),  # 0.01 °C, as all temperatures here
    Column("cold", Integer, nullable=False),
    Column("expected", Integer, nullable=False),
    Column("warm", Integer, nullable=False),
    Column("below_zero", Integer),  # chance in thousandths; null where none was said
    Column("low", Integer),  # null until the night is over, and where it was not read
)

# Sensors whose own clock is wrong, for as long as it is.
sensor_clocks = Table(
    "sensor_clocks",
    metadata,
    _yard(),
    Column("sensor", Text, primary_key=True),
    Column("ahead_s", Float, nullable=False),  # negative: behind
    Column("since_ms", BigInteger, nullable=False),
)
