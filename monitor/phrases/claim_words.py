"""What a claim's case says of one circuit's winter, in each language that owners are written to.

What people wrote into the record stays in their words, and what it notes of a piece of work as it
notes it, in quotation marks where that is another language than the reader's.
"""

from collections.abc import Mapping
from dataclasses import dataclass, fields

from monitor.craft.acts import ACTS
from monitor.craft.layup import Act, FindingKind
from monitor.craft.protection import LayupState
from monitor.phrases.owner_catalogue import OWNER_CAUSES, Counted
from monitor.phrases.owner_german import GERMAN as OWNER_GERMAN
from monitor.phrases.owner_languages import LANGUAGES
from monitor.phrases.standings import standing_words
from monitor.wording import Wording, hours_in_words
from monitor.yard.alarm import AlarmState
from monitor.yard.assessment import Hazard
from monitor.yard.message import DeliveryOutcome
from monitor.yard.standing import STANDINGS, Standing


@dataclass(frozen=True, slots=True, kw_only=True)
class ClaimWords:
    """Every text of a case in one language; templates name what is put in."""

    skip: str
    heading: str  # {name}
    choose: str
    nothing_near: str
    none_on_record: str
    no_gaps: str
    no_alarms: str
    no_messages: str
    near: str
    gaps: str
    alarms: str
    messages: str
    work: str
    left_undone: str
    others: str
    others_count: Counted  # {count}
    found_here: str
    circuits: str
    other_cases: str
    no_judgement: str
    foot: str

    found: str  # {part}, {kind}, {words}, {at}, {by}, {end}
    not_settled: str
    settled: str  # {at}
    summary: str  # {since}, {until}, {nights}, {near}, {past}
    unseen: Counted  # {count}
    unread: Counted  # {hours}, {count}
    alarms_told: str  # {alarms}, {taken}, {messages}
    nights: Counted
    alarms_count: Counted
    messages_count: Counted
    night: str  # {day}, {space}, {came}
    evening: str  # {day}
    air: str  # {low}
    air_not_read: str
    inside_read: str  # {low}
    inside_reckoned: str  # {low}
    not_expected: str
    expected: str  # {at}, {expected}, {cold}, {warm}
    held_unknown: str
    held_dry: str  # {state}
    held: str  # {limit}, {state}
    proven: str
    as_water: str  # {state}
    by_heat: str
    room_unknown: str
    past_limit: str  # {room}
    to_spare: str  # {room}
    judged: str  # {standing}
    night_unread: str  # {hours}
    nobody_took: str
    taken_on: str  # {at}, {by}
    over: str  # {at}
    alarm: str  # {at}, {headline}, {answer}, {over}
    change: str  # {at}, {state}, {by}, {why}
    set_aside: str  # {headline}, {state}, {at}, {by}, {why}
    message: str  # {at}, {person}, {channel}
    subject_gone: str
    message_waits: str
    written_down: str  # {at}
    moved: str  # {place}, {at}
    before: str  # {line}
    day_and_hour: str  # {day}, {hour}
    hour_not_told: str  # {day}
    gap: str  # {space}, {since}, {until}, {hours}
    as_recorded: str  # {text}, in the record's own words
    no_hours: str
    acts: Mapping[Act, str]
    headlines: Mapping[str, str]  # by cause; of what has none the record's own stands
    kinds: Mapping[FindingKind, str]
    states: Mapping[LayupState, str]
    alarm_states: Mapping[AlarmState, str]
    standings: Mapping[Standing, str]
    outcomes: Mapping[DeliveryOutcome, str]
    channels: Mapping[str, str]

    def __post_init__(self) -> None:
        """Hold that no text is empty and that everything on record has a name.

        Raises
        ------
        ValueError
            If one lacks.
        """
        for each in fields(self):
            value = getattr(self, each.name)
            if not value and each.name not in {"headlines", "channels"}:
                raise ValueError(f"{each.name}: is empty")
        wanted: Mapping[str, frozenset[object]] = {
            "acts": frozenset(Act),
            "kinds": frozenset(FindingKind),
            "states": frozenset(LayupState),
            "alarm_states": frozenset(AlarmState),
            "standings": frozenset(STANDINGS[Hazard.FROST]),
            "outcomes": frozenset(DeliveryOutcome),
        }
        for name, known in wanted.items():
            for lacking in known ^ getattr(self, name).keys():
                raise ValueError(f"{name}: {lacking} has no name, or there is none such")

    def write_hours(self, value_h: float, words: Wording) -> str:
        """Write a number of hours, with the sign for decimals of the reader's language."""
        text = hours_in_words(value_h)
        if not text[0].isdigit():
            return self.no_hours
        return text.replace(".", ",") if words.language == "de" else text


_ENGLISH = ClaimWords(
    skip="Skip to the page",
    heading="What is on record of {name}",
    choose="Nothing was found on a circuit of this craft. Choose a circuit to see its winter.",
    nothing_near="None is on record.",
    none_on_record="Nothing is on record.",
    no_gaps="No hours in a row without a reading.",
    no_alarms="None was raised on it.",
    no_messages="None is on record.",
    near="Nights near or past its limit",
    gaps="When nobody watched",
    alarms="Alarms on it, and who answered",
    messages="Messages that told of this craft",
    work="What was done, with every correction",
    left_undone="Declined, or left undone on purpose",
    others="Its other nights",
    others_count=Counted("1 night", "{count} nights"),
    found_here="Found on this craft",
    circuits="Its circuits",
    other_cases="Other cases",
    no_judgement="These are facts as they are on record. Whether a night did the damage is for"
    " people to judge who see the part; a night that nobody saw proves neither.",
    foot="laidup is an aid to judgement, not a life-safety device; it does not replace smoke, gas"
    " or carbon-monoxide alarms, local codes or licensed people.",
    found="{part}{kind}: {words}. Found {at} by {by}; {end}.",
    not_settled="not settled",
    settled="settled {at}",
    summary="From {since} to {until}: {nights} on record, {near} near or past what it held by the"
    " record, {past} of them past it or counted as ice by the watch.",
    unseen=Counted(
        "Of 1 night nobody can tell: the air, or what it held, is not on record.",
        "Of {count} nights nobody can tell: the air, or what it held, is not on record.",
    ),
    unread=Counted(
        "Nothing was read of its air for {hours}, in 1 gap.",
        "Nothing was read of its air for {hours}, in {count} gaps.",
    ),
    alarms_told="{alarms} on it, {taken} taken on; {messages} told of this craft.",
    nights=Counted("1 night", "{count} nights"),
    alarms_count=Counted("1 alarm", "{count} alarms"),
    messages_count=Counted("1 message", "{count} messages"),
    night="{day}, {space}: {came}",
    evening="Night from {day}",
    air="air {low}",
    air_not_read="air not read",
    inside_read=", inside {low} (read)",
    inside_reckoned=", inside {low} (reckoned)",
    not_expected="Nothing was said of its air that evening.",
    expected="Expected at {at}: {expected}, most likely {cold} to {warm}.",
    held_unknown="What it held cannot be added up from the record.",
    held_dry="It held: seen dry ({state}).",
    held="It held: ice from {limit} ({state}).",
    proven="proven",
    as_water="{state}, so judged as water",
    by_heat="safe by heat alone",
    room_unknown="Nobody can tell how near that came.",
    past_limit="{room} past its limit.",
    to_spare="{room} to spare.",
    judged="The watch: {standing}.",
    night_unread="{hours} of it without a reading.",
    nobody_took="nobody took it on",
    taken_on="taken on {at} by {by}",
    over="; over {at}",
    alarm="{at}: {headline}; {answer}{over}",
    change="{at}: {state}, {by}. {why}",
    set_aside="{headline}: {state}, {at}, {by}. {why}",
    message="{at} to {person} by {channel}",
    subject_gone="its text is not kept any more",
    message_waits="waits",
    written_down="written down {at}",
    moved="Moved to {place}, {at}",
    before="Before: {line}",
    day_and_hour="{day} {hour}",
    hour_not_told="{day}, hour not told",
    gap="{space}: {since} to {until}, {hours} without a reading",
    as_recorded="{text}",
    no_hours="no hours",
    acts={act: row.name for act, row in ACTS.items()},
    headlines={},
    kinds={one: str(one) for one in FindingKind},
    states={one: str(one) for one in LayupState},
    alarm_states={one: str(one) for one in AlarmState},
    standings={one: standing_words(one, Hazard.FROST) for one in STANDINGS[Hazard.FROST]},
    outcomes={
        DeliveryOutcome.TAKEN: "handed over",
        DeliveryOutcome.PUT_OFF: "put off",
        DeliveryOutcome.REFUSED: "refused, and not delivered",
    },
    channels={},
)

_GERMAN = ClaimWords(
    skip="Zum Inhalt",
    heading="Was über {name} aufgezeichnet ist",
    choose="An keinem Kreis dieses Boots wurde etwas gefunden. Wählen Sie einen Kreis, um seinen"
    " Winter zu sehen.",
    nothing_near="Keine ist aufgezeichnet.",
    none_on_record="Nichts ist aufgezeichnet.",
    no_gaps="Keine Stunden in Folge ohne Messwert.",
    no_alarms="Dazu gab es keinen.",
    no_messages="Keiner ist aufgezeichnet.",
    near="Nächte nahe oder jenseits der Grenze",
    gaps="Wann niemand gemessen hat",
    alarms="Alarme dazu, und wer geantwortet hat",
    messages="Briefe, die von diesem Boot berichteten",
    work="Was getan wurde, mit jeder Berichtigung",
    left_undone="Abgelehnt oder mit Absicht unterlassen",
    others="Die übrigen Nächte",
    others_count=Counted("1 Nacht", "{count} Nächte"),
    found_here="An diesem Boot gefunden",
    circuits="Seine Kreise",
    other_cases="Weitere Fälle",
    no_judgement="Das sind Tatsachen, wie sie aufgezeichnet sind. Ob eine Nacht den Schaden"
    " angerichtet hat, beurteilen Menschen, die das Teil sehen; eine Nacht, die niemand gemessen"
    " hat, beweist weder das eine noch das andere. Was in Anführungszeichen steht, steht so im"
    " Buch, manches auf Englisch.",
    foot=OWNER_GERMAN.not_life_safety,
    found="{part}{kind}: „{words}“. Gefunden {at} von {by}; {end}.",
    not_settled="nicht erledigt",
    settled="erledigt {at}",
    summary="Vom {since} bis {until}: {nights} aufgezeichnet, davon {near} nahe an der Grenze,"
    " die sich aus dem Buch ergibt, oder jenseits davon; {past} jenseits davon oder als Eis"
    " gewertet.",
    unseen=Counted(
        "Über 1 Nacht kann niemand etwas sagen: Die Luft, oder das, was darin war, ist nicht"
        " aufgezeichnet.",
        "Über {count} Nächte kann niemand etwas sagen: Die Luft, oder das, was darin war, ist nicht"
        " aufgezeichnet.",
    ),
    unread=Counted(
        "Die Luft wurde {hours} lang nicht gemessen, in 1 Lücke.",
        "Die Luft wurde {hours} lang nicht gemessen, in {count} Lücken.",
    ),
    alarms_told="{alarms} dazu, {taken} übernommen; {messages} von diesem Boot.",
    nights=Counted("1 Nacht", "{count} Nächte"),
    alarms_count=Counted("1 Alarm", "{count} Alarme"),
    messages_count=Counted("1 Brief", "{count} Briefe"),
    night="{day}, {space}: {came}",
    evening="Nacht ab {day}",
    air="Luft {low}",
    air_not_read="Luft nicht gemessen",
    inside_read=", innen {low} (gemessen)",
    inside_reckoned=", innen {low} (berechnet)",
    not_expected="An jenem Abend wurde zur Luft nichts gesagt.",
    expected="Erwartet {at}: {expected}, am ehesten {cold} bis {warm}.",
    held_unknown="Was darin war, ergibt sich nicht aus dem Buch.",
    held_dry="Darin: trocken gesehen ({state}).",
    held="Darin: Eis ab {limit} ({state}).",
    proven="bewiesen",
    as_water="{state}, also als Wasser beurteilt",
    by_heat="nur durch Heizung sicher",
    room_unknown="Wie nahe das kam, weiß niemand.",
    past_limit="{room} jenseits der Grenze.",
    to_spare="{room} Abstand zur Grenze.",
    judged="laidup sagte: {standing}.",
    night_unread="{hours} davon ohne Messwert.",
    nobody_took="niemand hat ihn übernommen",
    taken_on="übernommen {at} von {by}",
    over="; vorbei {at}",
    alarm="{at}: {headline}; {answer}{over}",
    change="{at}: {state}, {by}. „{why}“",
    set_aside="{headline}: {state}, {at}, {by}. „{why}“",
    message="{at} an {person} per {channel}",
    subject_gone="der Text wird nicht mehr aufbewahrt",
    message_waits="wartet",
    written_down="eingetragen {at}",
    moved="Umgestellt nach {place}, {at}",
    before="Vorher: {line}",
    day_and_hour="{day}, {hour} Uhr",
    hour_not_told="{day}, Uhrzeit nicht genannt",
    gap="{space}: {since} bis {until}, {hours} ohne Messwert",
    as_recorded="„{text}“",
    no_hours="kaum eine Stunde",
    acts={
        **OWNER_GERMAN.acts,
        Act.TAKEN_OUT: "vorübergehend aus dem Winterlager geholt",
        Act.HANDED_OVER: "übergeben",
        Act.SOLD: "verkauft und nicht mehr im Winterlager",
        Act.ENTERED_IN_ERROR: "irrtümlich eingetragen, war nie im Winterlager",
        Act.BILGE_WET: "Wasser in der Bilge",
        Act.COVER_TORN: "Abdeckung gerissen",
        Act.COLLECTION_TOLD: "Abholtag mitgeteilt",
        Act.DECLINED: "Arbeit angeboten und abgelehnt",
        Act.SNOW_LOAD: "Schnee oder Eis auf der Abdeckung",
        Act.SNOW_CLEARED: "Schnee geräumt",
        Act.KEPT_WARM: "mit Absicht unbehandelt warm gehalten",
        Act.RUN_ON_WATER: "mit Wasser laufen lassen",
        Act.CIRCUIT_OPENED: "Kreis geöffnet",
        Act.PORT_LEFT_OPEN: "Messöffnung offen gelassen",
        Act.READIED: "ein Schritt vor dem ersten Start erledigt",
        Act.SIGNED_OFF: "zum Starten freigegeben",
        Act.COMMISSIONED: "fürs Wasser bereit gemacht",
        Act.WITHDRAWN: "zurückgezogen: geschah nie",
    },
    headlines=OWNER_GERMAN.cause_titles,
    kinds={
        FindingKind.ICE: "Eis",
        FindingKind.CRACK: "Riss",
        FindingKind.BLOCKED: "verstopft",
        FindingKind.LEAK: "undicht",
        FindingKind.WATER: "Wasser, wo keines sein soll",
        FindingKind.READING: "Messwert, der nicht stimmen kann",
    },
    states={
        LayupState.PROVEN: "bewiesen",
        LayupState.UNPROVEN: "gesagt, nicht bewiesen",
        LayupState.HEAT_ONLY: "nur durch Heizung sicher",
        LayupState.VOID: "durch Späteres aufgehoben",
        LayupState.UNKNOWN: "unbekannt",
    },
    alarm_states={
        AlarmState.NORMAL: "vorbei",
        AlarmState.UNACKNOWLEDGED: "noch nicht beantwortet",
        AlarmState.ACKNOWLEDGED: "übernommen",
        AlarmState.RETURNED: "vorbei, aber von niemandem zur Kenntnis genommen",
        AlarmState.SHELVED: "zurückgestellt",
        AlarmState.SUPPRESSED: "mit Absicht nicht gemeldet",
        AlarmState.OUT_OF_SERVICE: "außer Betrieb",
    },
    standings={
        Standing.SOLID: "durchgefroren",
        Standing.ICING: "Eis darin",
        Standing.SUSPECT: "war vielleicht gefroren",
        Standing.EXPOSED: "dem Frost ausgesetzt",
        Standing.NOT_KNOWN: "nicht bekannt",
        Standing.SLUSH: "Eisbrei darin",
        Standing.THIN: "knapp",
        Standing.HOLDING: "hält stand",
    },
    outcomes={
        DeliveryOutcome.TAKEN: "übergeben",
        DeliveryOutcome.PUT_OFF: "aufgeschoben",
        DeliveryOutcome.REFUSED: "abgelehnt und nicht zugestellt",
    },
    channels={"mail": "Mail"},
)

CLAIM_WORDS_OF: Mapping[str, ClaimWords] = {"en": _ENGLISH, "de": _GERMAN}
for _language in set(LANGUAGES) ^ set(CLAIM_WORDS_OF):
    raise ValueError(f"{_language}: owners are written to in it, and a case lacks its words")
for _cause in OWNER_CAUSES - _GERMAN.headlines.keys():
    raise ValueError(f"{_cause}: owners hear of it, and a case lacks its German name")


def claim_words_of(language: str) -> ClaimWords:
    """A case's words in a language; English for one that is not there."""
    return CLAIM_WORDS_OF.get(language, _ENGLISH)
