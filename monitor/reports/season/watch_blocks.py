"""How well a winter was watched, what its record leaves open, and how to check it, as blocks."""

from collections.abc import Iterator, Sequence

from monitor.craft.pdf_identity import PdfIdentity, name_in
from monitor.craft.signing_key import fingerprint_of
from monitor.phrases.names import plain, sensor_label, space_name
from monitor.reports.season.figures import SeasonFigures, SensorReliedOn, StandingTime
from monitor.reports.season.page_blocks import MOST_ROWS, Block, Told
from monitor.reports.season.record_catalogue import RecordWords
from monitor.reports.season.record_words import record_words_of
from monitor.reports.season.short_words import hours_words
from monitor.wording import Wording
from monitor.yard.space import Yard


def standing_blocks(figures: SeasonFigures, words: Wording) -> Iterator[Block]:
    """Damp and battery: how long each stood how."""
    say = record_words_of(words)
    wet, battery = _hours_at(figures.damp, say), _hours_at(figures.battery, say)
    yield say.metal.format(said=wet) if wet else say.metal_unjudged
    yield say.battery.format(said=battery) if battery else say.battery_unjudged
    if figures.rested:
        yield Told(
            title=say.rest_title,
            heads=(say.when, say.volts, say.by),
            rows=[
                (
                    say.write_moment(at, words),
                    say.write_number(f"{volts:.2f} V"),
                    plain(words.person(by)),
                )
                for at, volts, by in figures.rested[:MOST_ROWS]
            ],
            shares=(1.2, 0.8, 1.5),
            left_out=max(len(figures.rested) - MOST_ROWS, 0),
        )


def _hours_at(times: Sequence[StandingTime], say: RecordWords) -> str:
    return ", ".join(
        f"{say.standings[one.hazard, one.standing]} {hours_words(one.hours, say)}" for one in times
    )


def watch_blocks(figures: SeasonFigures, yard: Yard, words: Wording) -> Iterator[Block]:
    """Gaps, sensors relied on, and sensors in doubt."""
    say = record_words_of(words)
    if figures.gaps:
        longest = sorted(figures.gaps, key=lambda one: one.until - one.since, reverse=True)
        yield Told(
            title=say.gaps_title,
            heads=(say.since, say.until, say.hours, say.space),
            rows=[
                (
                    say.write_moment(one.since, words),
                    say.write_moment(one.until, words),
                    hours_words((one.until - one.since).total_seconds() / 3600.0, say),
                    space_name(yard, one.space),
                )
                for one in longest[:MOST_ROWS]
            ],
            shares=(1.2, 1.2, 0.8, 1.5),
            left_out=max(len(longest) - MOST_ROWS, 0),
        )
    else:
        yield say.no_gap
    if figures.sensors:
        yield Told(
            title=say.sensors_title,
            heads=(say.sensor, say.where, say.heard, say.compared),
            rows=[_sensor_row(one, yard, say) for one in figures.sensors[:MOST_ROWS]],
            shares=(1.3, 1.8, 1.3, 2.0),
            left_out=max(len(figures.sensors) - MOST_ROWS, 0),
        )
    else:
        yield say.no_sensor
    if figures.doubts:
        yield Told(
            title=say.doubts_title,
            heads=(say.since, say.until, say.sensor, say.how),
            rows=[
                (
                    say.write_moment(one.since, words),
                    say.the_end if one.until is None else say.write_moment(one.until, words),
                    sensor_label(one.sensor) if one.sensor else space_name(yard, one.space),
                    say.doubts[one.standing],
                )
                for one in figures.doubts[:MOST_ROWS]
            ],
            shares=(1.2, 1.2, 1.8, 1.0),
            left_out=max(len(figures.doubts) - MOST_ROWS, 0),
        )
    else:
        yield say.no_doubt + (say.gaps_stay if figures.gaps else "")


def _sensor_row(sensor: SensorReliedOn, yard: Yard, say: RecordWords) -> tuple[str, ...]:
    place = space_name(yard, sensor.space)
    if sensor.height_m is not None:
        height = say.write_number(f"{sensor.height_m:g}")
        place = say.height.format(space=place, height=height)
    if sensor.place:
        place = f"{place}: {plain(sensor.place)}"
    heard = (
        "–"
        if sensor.heard_h is None
        else say.hours_of.format(
            hours=hours_words(sensor.heard_h, say), whole=hours_words(sensor.of_h, say)
        )
    )
    compared = "; ".join(
        f"{say.measured[one.channel]}, {say.write_date(one.made_on)}, {plain(one.standard)}"
        for one in sensor.calibrations
    )
    return (sensor_label(sensor.name), place, heard, compared or say.never_compared)


def check_blocks(
    figures: SeasonFigures, words: Wording, sealed_by: str, pdf_identity: PdfIdentity | None
) -> Iterator[Block]:
    """How a stranger checks the record; what it is sealed and its PDF is signed with, if at all."""
    say = record_words_of(words)
    yield say.check_inside
    yield (
        say.sealed.format(fingerprint=fingerprint_of(sealed_by)) if sealed_by else say.not_sealed
    )
    yield _signature_words(pdf_identity, say)
    begins = figures.chain_hash[:16]
    last = say.last_hash.format(begins=begins) if begins else ""
    yield say.count_of(figures.links, say.chain, last=last)


def _signature_words(identity: PdfIdentity | None, say: RecordWords) -> str:
    if identity is None:
        return say.unsigned
    digits = f"{identity.sha256[:16]}"
    if identity.is_self_issued:
        return f"{say.signed} {say.self_issued.format(digits=digits)}"
    who, by = (name_in(one) for one in (identity.certificate.subject, identity.certificate.issuer))
    issued = say.issued_by.format(issuer=plain(by), subject=plain(who), digits=digits)
    return f"{say.signed} {issued}"
