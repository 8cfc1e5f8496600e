"""What an owner reads on the page of the own craft, in each language that owners are written to.

How a craft stands tonight is said in the words of the letters (`owner_catalogue.py`); here is what
only the page says.
"""

from collections.abc import Mapping
from dataclasses import dataclass, fields

from monitor.phrases.owner_languages import LANGUAGES


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnerPageWords:
    """Every text of the page in one language; templates name what is put in."""

    none_here: str
    skip: str
    done: str
    nothing_done: str
    season_record: str
    season_record_data: str
    photo: str  # what a photo of the work is called; the work stands before it
    winter: str
    winter_legend: str
    no_night: str
    earlier: str
    night_held: str
    night_unsafe: str
    night_iced: str
    night_unknown: str
    night_line: str  # {day}, {low}, {state}
    low_not_read: str
    told: str
    nothing_told: str
    alarm_open: str  # {at}
    alarm_over: str  # {at}, {until}
    answered: str  # {at}
    letters: str
    no_letters: str
    letter_gone: str
    call: str  # {telephone}
    write: str
    tell_yard: str
    collect: str
    collect_button: str
    collect_told: str  # {name}, {day}
    ran: str
    ran_caution: str
    ran_button: str
    ran_told: str  # {name}
    not_taken: str  # {why}
    too_often: str  # {minutes}
    not_kept: str
    dead_link: str
    use_link: str
    no_such_day: str  # these four stand behind `not_taken`
    day_out_of_reach: str
    no_such_hour: str
    hour_out_of_reach: str
    being_readied: str  # {done}, {steps}
    may_be_started: str
    not_to_be_started: str
    foot: str

    def __post_init__(self) -> None:
        """Hold that no text is empty.

        Raises
        ------
        ValueError
            If one is.
        """
        for each in fields(self):
            if not str(getattr(self, each.name)).strip():
                raise ValueError(f"{each.name}: is empty")


_ENGLISH = OwnerPageWords(
    none_here="None of your craft is in the yard's care now.",
    skip="Skip to the page",
    done="What was done",
    nothing_done="Nothing is on record yet.",
    season_record="Season record as PDF",
    season_record_data="Season record as JSON",
    photo="Photo: {work}",
    winter="This winter",
    winter_legend="A cell a night: the day it began, and the coldest air around your craft. Filled:"
    " ice formed in it. Double frame: it was not safe. Dotted: nobody knows. A cell opens its"
    " night.",
    no_night="No night has passed yet.",
    earlier="Earlier nights",
    night_held="it held",
    night_unsafe="it was not safe",
    night_iced="ice formed in it",
    night_unknown="nobody knows how it stood",
    night_line="Night from {day}: coldest air {low}; {state}.",
    low_not_read="not read",
    told="What was told and answered",
    nothing_told="Nothing had to be told.",
    alarm_open="told {at}",
    alarm_over="told {at}, over {until}",
    answered="the yard took it on {at}",
    letters="Letters to you",
    no_letters="No letter was written to you yet.",
    letter_gone="Its text is not kept any more.",
    call="Call {telephone}",
    write="Write to the yard",
    tell_yard="Tell the yard",
    collect="I collect it on",
    collect_button="Tell the yard that I collect it",
    collect_told="{name}: you collect it on {day}. The yard can read it in the record.",
    ran="I ran it, at",
    ran_caution="A run brings water in. From then on its lay-up no longer counts, and the yard is"
    " warned before a frost. Run engines outdoors only, and sniff for fuel first.",
    ran_button="Tell the yard that I ran it",
    ran_told="{name}: you ran it on {day}. Its lay-up no longer counts, and the yard can read why.",
    not_taken="Nothing was taken into the record: {why}",
    too_often="This one is not on record yet: much was told with this link in a short time. It"
    " still stands below: send it again in {minutes} min, or call the yard. All that you told"
    " before is on record.",
    not_kept="This is not on record yet: the yard's computer takes nothing now. It still stands"
    " below: send it again in a minute, or call the yard.",
    use_link="Owners of craft use the link that the yard gave them.",
    dead_link="This link opens nothing, or nothing any more; ask the yard for a new one.",
    no_such_day="no day was named.",
    day_out_of_reach="name a day from today on, within a year.",
    no_such_hour="no day and hour were named.",
    hour_out_of_reach="that hour is still to come, or your craft was not here then.",
    being_readied="It is being made ready for the water: {done} of {steps} steps done.",
    may_be_started="The yard has signed off that it may be started.",
    not_to_be_started="Do not start it before the yard has signed it off.",
    foot="laidup is an aid to judgement, not a life-safety device; it promises nothing.",
)

_GERMAN = OwnerPageWords(
    none_here="Keines Ihrer Boote steht zurzeit im Winterlager.",
    skip="Zum Inhalt",
    done="Was getan wurde",
    nothing_done="Noch ist nichts eingetragen.",
    season_record="Winterbericht als PDF",
    season_record_data="Winterbericht als JSON (auf Englisch)",
    photo="Foto: {work}",
    winter="Dieser Winter",
    winter_legend="Ein Feld je Nacht: der Tag, an dem sie begann, und die kälteste Luft um Ihr"
    " Boot. Gefüllt: Darin bildete sich Eis. Doppelter Rahmen: Es war nicht sicher. Gepunktet:"
    " Das weiß niemand. Ein Feld öffnet seine Nacht.",
    no_night="Noch ist keine Nacht vergangen.",
    earlier="Frühere Nächte",
    night_held="es hielt stand",
    night_unsafe="es war nicht sicher",
    night_iced="darin bildete sich Eis",
    night_unknown="niemand weiß, wie es stand",
    night_line="Nacht ab {day}: kälteste Luft {low}; {state}.",
    low_not_read="nicht gemessen",
    told="Was gemeldet und beantwortet wurde",
    nothing_told="Es gab nichts zu melden.",
    alarm_open="gemeldet {at}",
    alarm_over="gemeldet {at}, vorbei {until}",
    answered="das Winterlager übernahm es {at}",
    letters="Briefe an Sie",
    no_letters="Noch wurde Ihnen kein Brief geschrieben.",
    letter_gone="Der Text wird nicht mehr aufbewahrt.",
    call="Anrufen: {telephone}",
    write="Dem Winterlager schreiben",
    tell_yard="Dem Winterlager Bescheid geben",
    collect="Ich hole es ab am",
    collect_button="Bescheid geben, dass ich es abhole",
    collect_told="{name}: Sie holen es am {day} ab. Das Winterlager kann es im Buch lesen.",
    ran="Ich habe es laufen lassen, am",
    ran_caution="Dabei kommt Wasser hinein. Von da an zählt die Einwinterung nicht mehr, und das"
    " Winterlager wird vor Frost gewarnt. Motoren nur im Freien laufen lassen, vorher auf"
    " Kraftstoffgeruch achten.",
    ran_button="Bescheid geben, dass ich es laufen ließ",
    ran_told="{name}: Sie ließen es am {day} laufen. Die Einwinterung zählt nicht mehr; das"
    " Winterlager kann lesen, warum.",
    not_taken="Nichts wurde eingetragen: {why}",
    too_often="Das ist noch nicht eingetragen: Mit diesem Link kam viel in kurzer Zeit. Es steht"
    " unten noch: Senden Sie es in {minutes} min noch einmal, oder rufen Sie an. Alles, was Sie"
    " vorher mitgeteilt haben, ist eingetragen.",
    not_kept="Das ist noch nicht eingetragen: Der Rechner des Winterlagers nimmt gerade nichts an."
    " Es steht unten noch: Senden Sie es in einer Minute noch einmal, oder rufen Sie an.",
    use_link="Wem ein Boot gehört, nutzt den Link, den das Winterlager gegeben hat.",
    dead_link="Dieser Link öffnet nichts oder nichts mehr. Bitte das Winterlager um einen neuen.",
    no_such_day="Es wurde kein Tag genannt.",
    day_out_of_reach="Bitte einen Tag ab heute nennen, höchstens ein Jahr voraus.",
    no_such_hour="Es wurden nicht Tag und Uhrzeit genannt.",
    hour_out_of_reach="Diese Stunde kommt erst noch, oder Ihr Boot war dann nicht hier.",
    being_readied="Es wird fürs Wasser bereit gemacht: {done} von {steps} Schritten sind getan.",
    may_be_started="Das Winterlager hat es zum Starten freigegeben.",
    not_to_be_started="Bitte nicht starten, bevor das Winterlager es freigegeben hat.",
    foot="laidup ist eine Hilfe zur Beurteilung, kein Sicherheitsgerät; ohne Gewähr.",
)

PAGE_WORDS_OF: Mapping[str, OwnerPageWords] = {"en": _ENGLISH, "de": _GERMAN}
for _language in set(LANGUAGES) ^ set(PAGE_WORDS_OF):
    raise ValueError(f"{_language}: owners are written to in it, and the page lacks its words")


def page_words_of(language: str) -> OwnerPageWords:
    """The page's words in a language; English for one that is not there."""
    return PAGE_WORDS_OF.get(language, _ENGLISH)
