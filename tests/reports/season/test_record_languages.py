"""A season record in an owner's language: the same figures, no English word left behind."""

import re
from dataclasses import fields, replace
from datetime import UTC, date, datetime, timedelta
from io import BytesIO

import pypdf
import pytest

from monitor.craft.acts import ACTS
from monitor.craft.canonical import canonical_bytes
from monitor.craft.layup import Act
from monitor.phrases.claim_words import CLAIM_WORDS_OF
from monitor.phrases.owner_catalogue import Counted
from monitor.reports.season.figures import (
    NotProved,
    SeasonAlarm,
    SeasonMessage,
    SensorInDoubt,
    StaffTold,
    StandingTime,
)
from monitor.reports.season.making import reader_words
from monitor.reports.season.page_blocks import Drawn, Told
from monitor.reports.season.record_catalogue import JUDGED
from monitor.reports.season.record_pages import record_pages
from monitor.reports.season.record_pdf import write_record_pdf
from monitor.reports.season.record_words import RECORD_WORDS_OF
from monitor.reports.season.season_json import season_json
from monitor.yard.message import DeliveryOutcome, MessageKind
from monitor.yard.standing import STANDINGS, Hazard, Standing
from tests.craft.scene import library, work
from tests.phrases.test_claim_words import ALIKE
from tests.reports.season import winter
from tests.reports.season.winter import ARRIVED, SHED, ZONE, cold_nights, figures_of, put_craft

ENGLISH, GERMAN = RECORD_WORDS_OF["en"], RECORD_WORDS_OF["de"]
UNTIL = ARRIVED + timedelta(days=40)
# Spelled alike in both languages, or names: of a standard, a file, a command or a format.
SPELLED_ALIKE = ALIKE | {
    "alarm", "also", "april", "aug", "broker", "gateway", "feb", "jan", "json", "mild", "nov",
    "pades", "pdf", "record", "ring", "season", "server", "sha", "si", "so", "stand", "utc",
    "verify", "version",
}  # fmt: skip


def words_in(text):
    return set(re.findall(r"[^\W\d_]{2,}", re.sub(r"\{\w+\}", " ", text).lower()))


def texts_of(words):
    return [
        text
        for each in fields(words)
        if each.name not in {"language", "day", "date_of_work", "day_axis", "month_axis"}
        for text in words.texts_of(each.name)
    ]


def english_words():
    """Every word of the English catalogue, and of the other lists that a record takes from."""
    said = [*texts_of(ENGLISH), *(row.name for row in ACTS.values())]
    return set().union(*map(words_in, said)) - SPELLED_ALIKE


@pytest.fixture
def store(tmp_path):
    made = winter.open_store(tmp_path)
    yield made
    made.close()


@pytest.fixture
def full_winter(store):
    """Figures of which every part of the record says something."""
    at = datetime(2026, 11, 2, 10, tzinfo=ZONE)
    poured = work(Act.ANTIFREEZE_POURED, 0.0, "water-box", at=at, quantity_l=0.3, by="ines")
    better = replace(poured, id="better", quantity_l=0.4, replaces=poured.id)
    put_craft(store, poured, better, owner="wren")
    gone = (datetime(2026, 11, 20, 7, tzinfo=ZONE), datetime(2026, 11, 21, 13, tzinfo=ZONE))
    air = cold_nights([date(2026, 11, 14), date(2026, 11, 15)])
    winter.put_readings(store, ARRIVED, gone[0], air, rh_pct=lambda _: 85.0)
    winter.put_readings(store, gone[1], UNTIL, air, rh_pct=lambda _: 85.0)
    raised = datetime(2026, 11, 14, 16, tzinfo=ZONE)
    told = [
        StaffTold(
            at=raised, person="ines", role=role, channel="mail", kind=MessageKind.ALARM, fate=fate,
            taken_at=raised + timedelta(minutes=1) if fate == "taken" else None, tries=2,
        )
        for role, fate in (("operator", "taken"), ("mechanic", "refused"), ("operator", "given up"))
    ]  # fmt: skip
    alarms = [
        SeasonAlarm(
            id=cause, cause=cause, space=SHED, part="", is_of_space=cause == "heat-loss",
            raised_at=raised, answered_at=raised + timedelta(minutes=9) if n else None,
            answered_by="ines" if n else "", over_at=raised + timedelta(days=1) if n else None,
            times_raised=1 + n, told=tuple(told) if n else (), told_is_whole=n != 2,
        )
        for n, cause in enumerate(["frost", "battery-low", "heat-loss"])
    ]  # fmt: skip
    message = SeasonMessage(
        written_at=raised, channel="mail", kind=MessageKind.ALARM, subject="",
        outcome=DeliveryOutcome.PUT_OFF, taken_at=None, tries=1,
    )  # fmt: skip
    doubt = SensorInDoubt(sensor="", space=SHED, standing=Standing.SILENT, since=raised, until=None)
    times = {
        hazard: tuple(
            StandingTime(hazard=hazard, standing=one, hours=6.5, times=1)
            for one in sorted(STANDINGS[hazard])
        )
        for hazard in JUDGED
    }
    return replace(
        figures_of(store, now=UNTIL), alarms=tuple(alarms), messages=(message,), doubts=(doubt,),
        damp=times[Hazard.DAMP], battery=times[Hazard.BATTERY], not_proved=tuple(NotProved),
        rested=((raised, 12.65, "ines"),),
    )  # fmt: skip


def yard_of(language):
    people = winter.yard().people
    return winter.yard(
        people=(people[0], replace(people[1], language=language, temperature_unit="C"))
    )


def pages_in(language, figures):
    yard = yard_of(language)
    words = reader_words(yard, figures, yard.people[1])
    return record_pages(figures, yard, library(), words)


def pdf_in(language, figures):
    data = canonical_bytes(season_json(figures, yard_of(language)))
    made = write_record_pdf(pages_in(language, figures), data, "a4")
    return pypdf.PdfReader(BytesIO(made)), data


def text_of(pdf):
    return " ".join(" ".join(page.extract_text() for page in pdf.pages).split())


def test_german_has_no_english_word():
    german = set().union(*(words_in(text) for text in texts_of(GERMAN)))
    assert not english_words() & german
    assert len(german) > 300


def test_a_german_record_holds_no_english_word_outside_quotation_marks(full_winter):
    pdf, _ = pdf_in("de", full_winter)
    text = text_of(pdf)
    said = re.sub(r"„[^“]*“", " ", text)
    left = english_words() & words_in(said)
    # Names of the yard, of people and of the files: no words of the record.
    assert not left - words_in("Long Shed Kettlemoss Yard season-record.json America Chicago mail")
    charts = [
        one for part in pages_in("de", full_winter).parts for one in part.blocks
        if isinstance(one, Drawn)
    ]  # fmt: skip
    for chart in charts:
        drawn = " ".join(re.findall(r">([^<]+)</text>", chart.svg))
        assert not english_words() & words_in(f"{drawn} {chart.words} {chart.caption}") - {
            "long", "shed",
        }  # fmt: skip


def test_its_language_is_what_a_reader_of_pdf_is_told(full_winter):
    for language, title in (("de", "Winterbericht für Teal"), ("en", "Season record of Teal")):
        pdf, data = pdf_in(language, full_winter)
        root = pdf.trailer["/Root"]
        assert root["/Lang"] == language
        assert pdf.metadata.title == f"{title}, 2026/27"
        meta = root["/Metadata"].get_object().get_data().decode()
        assert "<pdfaid:part>3</pdfaid:part>" in meta
        assert "<pdfaid:conformance>A</pdfaid:conformance>" in meta
        assert "<pdfuaid:part>1</pdfuaid:part>" in meta
        assert pdf.attachments["season-record.json"] == [data]
        assert 3 <= len(pdf.pages) <= 8


def test_the_record_for_machines_is_the_same_in_every_language(full_winter):
    [english, german] = [pdf_in(one, full_winter)[1] for one in ("en", "de")]
    assert english == german


def test_both_have_the_same_parts_rows_and_blocks(full_winter):
    english, german = (pages_in(one, full_winter) for one in ("en", "de"))
    assert len(english.parts) == len(german.parts)
    for part, other in zip(english.parts, german.parts, strict=True):
        shape, also = (
            [(type(one), len(one.rows) if isinstance(one, Told) else 0) for one in each.blocks]
            for each in (part, other)
        )
        assert shape == also
        assert part.title != other.title


def test_dates_and_numbers_are_written_as_german_has_them(full_winter):
    text = text_of(pdf_in("de", full_winter)[0])
    assert "12,65 V" in text
    assert "−5,0 °C" in text
    assert "14.11.2026, 16:00 Uhr" in text
    outside = re.sub(r"„[^“]*“", " ", text)
    assert not re.search(r"\d\.\d+ (?:°C|V|h|L)\b", outside.replace("\xa0", " "))


def test_only_the_owner_reads_it_in_the_owners_language(full_winter):
    yard = yard_of("de")
    ines, wren = yard.people
    assert reader_words(yard, full_winter, wren).language == "de"
    for other in (None, ines, replace(wren, id="other")):
        assert reader_words(yard, full_winter, other).language == "en"
    assert reader_words(yard, full_winter, wren).now == datetime(1970, 1, 1, tzinfo=UTC)


@pytest.mark.parametrize(
    ("changes", "fault"),
    [
        ({"no_gap": " "}, "no_gap: is empty"),
        ({"nights": Counted("1 Nacht", "")}, "nights: is empty"),
        ({"causes": {}}, "causes: is empty"),
        ({"causes": {"frost": "Frost"}}, "causes: .* has no name"),
        ({"months": ("Jan",)}, "months: are not twelve"),
        ({"roles": {**GERMAN.roles, "cook": "Koch"}}, "roles: cook has no name, or"),
    ],
)
def test_a_text_that_lacks_stops_the_import(changes, fault):
    with pytest.raises(ValueError, match=fault):
        replace(GERMAN, **changes)


def test_a_language_of_the_letters_is_one_of_the_record():
    assert RECORD_WORDS_OF.keys() == CLAIM_WORDS_OF.keys()
