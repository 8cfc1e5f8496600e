"""In whose units and language a letter to an owner is written."""

from dataclasses import replace
from datetime import datetime

from monitor.phrases.owner_english import ENGLISH
from monitor.phrases.owner_languages import LANGUAGES
from monitor.wording import Wording
from monitor.yard.people import names_by_id
from monitor.yard.readers import units_of, words_for
from monitor.yard.space import Person, Yard


def owner_words_for(yard: Yard, now: datetime, person: Person) -> Wording:
    """Words for a letter to an owner: units, clock and language of this reader."""
    if person.language == ENGLISH.language or person.language not in LANGUAGES:
        return words_for(yard, now, person)
    # Only here, so that a yard without such a reader carries no table of languages in memory.
    from monitor.phrases.local_wording import LocalWording

    return LocalWording(
        zone=yard.zone,
        now=now,
        units=units_of(yard, person),
        people=names_by_id(yard),
        language=person.language,
    )


def plain_owner_words(yard: Yard, now: datetime, person: Person) -> Wording:
    """The same with days and numbers as English has them: they rest on no library."""
    return replace(words_for(yard, now, person), language=person.language)
