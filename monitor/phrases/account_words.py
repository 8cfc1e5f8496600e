"""What an owner reads on the pages of the own password and account, in the language of letters."""

from collections.abc import Mapping
from dataclasses import dataclass

from monitor.phrases.owner_languages import LANGUAGES
from monitor.yard.assessment import Caution
from monitor.yard.caution import CAUTION_TEXT


@dataclass(frozen=True, slots=True, kw_only=True)
class AccountWords:
    """Every text of the two pages in one language; templates name what is put in."""

    signed_in: str  # {name}
    to_own_craft: str
    sign_out: str
    where: str
    session: str  # {since}, {address}, {seen}
    this_machine: str
    everywhere: str
    change: str
    old: str
    new: str
    rule: str  # {least}
    elsewhere: str
    change_it: str
    set_yours: str  # {name}
    advice: str
    set_it: str
    dead: str
    dead_why: str
    ask_again: str
    skip: str
    foot: str


_ENGLISH = AccountWords(
    signed_in="Signed in: {name}",
    to_own_craft="How your craft stand, and what you tell the yard",
    sign_out="Sign out",
    where="Where you are signed in",
    session="since {since}, from {address}; last seen {seen}",
    this_machine="this machine",
    everywhere="Sign out everywhere",
    change="Change your password",
    old="Password as it is",
    new="New password",
    rule="At least {least} characters of any kind.",
    elsewhere="Everywhere else you are signed out.",
    change_it="Change it",
    set_yours="{name}, set your password",
    advice="Four words that do not belong together do well. Pasting and password managers are"
    " welcome.",
    set_it="Set it and sign in",
    dead="This link opens nothing any more",
    dead_why="It was used, it has run out, or a newer one took its place. Nothing was changed.",
    ask_again="Sign in, or ask for another link",
    skip="Skip to the page",
    foot=CAUTION_TEXT[Caution.NOT_LIFE_SAFETY],
)

_GERMAN = AccountWords(
    signed_in="Angemeldet: {name}",
    to_own_craft="Wie Ihre Boote stehen, und was Sie dem Winterlager sagen",
    sign_out="Abmelden",
    where="Wo Sie angemeldet sind",
    session="seit {since}, von {address}; zuletzt gesehen {seen}",
    this_machine="diesem Rechner",
    everywhere="Überall abmelden",
    change="Passwort ändern",
    old="Bisheriges Passwort",
    new="Neues Passwort",
    rule="Mindestens {least} beliebige Zeichen.",
    elsewhere="Überall sonst werden Sie abgemeldet.",
    change_it="Ändern",
    set_yours="{name}, legen Sie Ihr Passwort fest",
    advice="Gut sind vier Wörter, die nicht zusammengehören. Einfügen und Passwortverwaltungen sind"
    " willkommen.",
    set_it="Festlegen und anmelden",
    dead="Dieser Link öffnet nichts mehr",
    dead_why="Er wurde benutzt, ist abgelaufen, oder ein neuerer gilt. Nichts wurde geändert.",
    ask_again="Anmelden oder einen neuen Link anfordern",
    skip="Zum Inhalt",
    foot="laidup ist eine Hilfe zur Beurteilung, kein Sicherheitsgerät; es ersetzt weder Rauch-,"
    " Gas- und Kohlenmonoxidmelder noch örtliche Vorschriften und Fachleute.",
)

_WORDS_OF: Mapping[str, AccountWords] = {"en": _ENGLISH, "de": _GERMAN}
for _language in set(LANGUAGES) ^ set(_WORDS_OF):
    raise ValueError(f"{_language}: owners are written to in it, and the account lacks its words")


def account_words_of(language: str) -> AccountWords:
    """The words in a language; English for one that is not there."""
    return _WORDS_OF.get(language, _ENGLISH)
