"""How well a winter was watched, what its record leaves open, and how to check it, as blocks."""

from collections.abc import Iterator

from monitor.craft.pdf_identity import PdfIdentity, name_in
from monitor.craft.signing_key import fingerprint_of
from monitor.phrases.names import plain, sensor_label, space_name
from monitor.phrases.standings import standing_words
from monitor.reports.season.figures import NotProved, SeasonFigures, SensorReliedOn
from monitor.reports.season.page_blocks import (
    MOST_ROWS,
    Block,
    Told,
    count_words,
    day_words,
    moment_words,
)
from monitor.reports.season.short_words import hours_words
from monitor.wording import Wording
from monitor.yard.space import Yard

NOT_PROVED_WORDS = {
    NotProved.NOT_IN_WATER: "The temperature inside a circuit is computed from the air around the"
    " craft, unless a probe is named. Computed ice is no ice that somebody saw.",
    NotProved.SENSOR_PLACE: "Sensors are taken to have hung where the yard's file says today, in"
    " air that is like the air around this craft.",
    NotProved.BETWEEN_SENSORS: "Inside one space a corner without a sensor may have been colder.",
    NotProved.WORK_AS_TOLD: "Work is told as people entered it. The chain of entries shows later"
    " changes, and not whether an entry was true when it was written.",
    NotProved.NOT_HEARD: "Of hours that were not heard nothing is known. They count neither as mild"
    " nor as dry.",
    NotProved.READ_OR_NOT: "That a server took a message does not show that somebody read it.",
    NotProved.STAFF_MESSAGES: "Of some alarms nobody kept which messages to the yard's own people"
    " told of them. That none is here shows neither that they were told nor that they were not.",
    NotProved.NO_DAMAGE_SHOWN: "Nothing here shows that the craft is undamaged, or when a damage"
    " came about. Ice shows its damage at the thaw.",
    NotProved.SKY: "Under a clear sky surfaces outdoors go some degrees below the air. The nights'"
    " lows are of the air; rounds of judgement allow for the sky.",
    NotProved.BEFORE_THE_WATCH: "The craft stood in the yard before its air was first heard.",
}


def standing_blocks(figures: SeasonFigures, words: Wording) -> Iterator[Block]:
    """Damp and battery: how long each stood how."""
    wet = [
        f"{standing_words(one.standing, one.hazard)} {hours_words(one.hours)}"
        for one in figures.damp
    ]
    yield (
        f"Its bare metal, as judged: {', '.join(wet)}."
        if wet
        else "Its bare metal was not judged against damp."
    )
    battery = [
        f"{standing_words(one.standing, one.hazard)} {hours_words(one.hours)}"
        for one in figures.battery
    ]
    yield (
        f"Its battery, as judged: {', '.join(battery)}."
        if battery
        else "Its battery was not judged."
    )
    if figures.rested:
        yield Told(
            title="Battery at rest, as read",
            heads=("When", "Volts", "By"),
            rows=[
                (moment_words(at, words), f"{volts:.2f} V", plain(words.person(by)))
                for at, volts, by in figures.rested[:MOST_ROWS]
            ],
            shares=(1.2, 0.8, 1.5),
            left_out=max(len(figures.rested) - MOST_ROWS, 0),
        )


def watch_blocks(figures: SeasonFigures, yard: Yard, words: Wording) -> Iterator[Block]:
    """Gaps, sensors relied on, and sensors in doubt."""
    if figures.gaps:
        longest = sorted(figures.gaps, key=lambda one: one.until - one.since, reverse=True)
        yield Told(
            title="Hours in a row of which less than half was heard, the longest first",
            heads=("From", "To", "Hours", "Space"),
            rows=[
                (
                    moment_words(one.since, words),
                    moment_words(one.until, words),
                    hours_words((one.until - one.since).total_seconds() / 3600.0),
                    space_name(yard, one.space),
                )
                for one in longest[:MOST_ROWS]
            ],
            shares=(1.2, 1.2, 0.8, 1.5),
            left_out=max(len(longest) - MOST_ROWS, 0),
        )
    else:
        yield "No hour went unheard."
    if figures.sensors:
        yield Told(
            title="Sensors that this record relies on",
            heads=("Sensor", "Where", "Heard", "Compared with a standard"),
            rows=[_sensor_row(one, yard) for one in figures.sensors[:MOST_ROWS]],
            shares=(1.3, 1.8, 1.3, 2.0),
            left_out=max(len(figures.sensors) - MOST_ROWS, 0),
        )
    else:
        yield "No sensor hung where it stood."
    if figures.doubts:
        yield Told(
            title="Sensors in doubt or silent",
            heads=("From", "To", "Sensor", "How"),
            rows=[
                (
                    moment_words(one.since, words),
                    "the end" if one.until is None else moment_words(one.until, words),
                    sensor_label(one.sensor) if one.sensor else space_name(yard, one.space),
                    str(one.standing),
                )
                for one in figures.doubts[:MOST_ROWS]
            ],
            shares=(1.2, 1.2, 1.8, 1.0),
            left_out=max(len(figures.doubts) - MOST_ROWS, 0),
        )
    else:
        gaps = " The hours above went unheard all the same." if figures.gaps else ""
        yield f"No judgement of a sensor in doubt or silent is on record.{gaps}"


def _sensor_row(sensor: SensorReliedOn, yard: Yard) -> tuple[str, ...]:
    height = "" if sensor.height_m is None else f", {sensor.height_m:g} m up"
    place = f"{space_name(yard, sensor.space)}{height}"
    if sensor.place:
        place = f"{place}: {plain(sensor.place)}"
    heard = (
        "–"
        if sensor.heard_h is None
        else f"{hours_words(sensor.heard_h)} of {hours_words(sensor.of_h)}"
    )
    compared = "; ".join(
        f"{one.channel}, {day_words(one.made_on)}, {plain(one.standard)}"
        for one in sensor.calibrations
    )
    return (sensor_label(sensor.name), place, heard, compared or "never, as far as is on record")


def check_blocks(
    figures: SeasonFigures, sealed_by: str, pdf_identity: PdfIdentity | None
) -> Iterator[Block]:
    """How a stranger checks the record; what it is sealed and its PDF is signed with, if at all."""
    yield (
        "This file carries season-record.json, which holds every figure of these pages and all"
        " that they leave out: each night, gap and version of the work. A reader of PDF saves it"
        " from its list of attachments."
    )
    if sealed_by:
        yield (
            "The yard has sealed it. The command laidup verify, on any machine and without a"
            " network, tells whether anything in it was changed since. It trusts a key that you"
            " have from the yard by another way, or the head in a mail of the yard that you kept."
            f" The key that sealed this has the fingerprint {fingerprint_of(sealed_by)}."
        )
    else:
        yield (
            "It is not sealed: whoever has the file can change it, and nothing in it shows that."
        )
    yield _signature_words(pdf_identity)
    hash_begins = figures.chain_hash[:16]
    last = f"; the last one's hash begins {hash_begins}" if hash_begins else ""
    yield (
        f"The record of work has {count_words(figures.links, 'link')}{last}. Mails of the yard"
        " carry the head of its record as it was then: whoever kept one can hold it against this"
        " record."
    )


def _signature_words(identity: PdfIdentity | None) -> str:
    if identity is None:
        return (
            "The PDF itself bears no signature: these pages can be changed and nothing shows it."
            " What counts is the file inside."
        )
    signed = (
        "The PDF bears a signature (PAdES), so a reader of PDF tells whether these pages are as"
        " they were set."
    )
    digits = f"{identity.sha256[:16]}"
    if identity.is_self_issued:
        return (
            f"{signed} It also says that the signer or the issuer is unknown: the yard has issued"
            " its certificate itself, so no authority says whose it is. season-record.json names"
            f" that certificate (its SHA-256 begins {digits}), so whoever trusts the yard's key"
            " can trust the signature; laidup verify looks at both."
        )
    who, by = (name_in(one) for one in (identity.certificate.subject, identity.certificate.issuer))
    return (
        f"{signed} It was made with a certificate that {plain(by)} has issued to {plain(who)}"
        f" (its SHA-256 begins {digits}; season-record.json names it too)."
    )
