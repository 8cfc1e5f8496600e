"""The languages in which an owner may be written to, each with its whole catalogue."""

from collections.abc import Mapping

from monitor.phrases.owner_catalogue import OwnerCatalogue
from monitor.phrases.owner_english import ENGLISH
from monitor.phrases.owner_german import GERMAN

LANGUAGES: Mapping[str, OwnerCatalogue] = {each.language: each for each in (ENGLISH, GERMAN)}


def catalogue_of(language: str) -> OwnerCatalogue:
    """The catalogue of a language; English for one that is not there."""
    return LANGUAGES.get(language, ENGLISH)
