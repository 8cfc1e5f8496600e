"""What is read on the pages of signing in, password and account, in each language of letters."""

from collections.abc import Mapping
from dataclasses import dataclass

from monitor.phrases.owner_languages import LANGUAGES
from monitor.yard.assessment import Caution
from monitor.yard.caution import CAUTION_TEXT


@dataclass(frozen=True, slots=True, kw_only=True)
class AccountWords:
    """Every text of these pages in one language; templates name what is put in."""

    language: str  # code of BCP 47
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
    sign_in: str
    who: str
    key_label: str  # of the field that hides what is typed
    forgotten: str
    send_link: str
    by_letter: str
    sent: str
    sent_told: str
    cannot_send: str
    cannot_send_told: str
    nothing_came: str
    back: str
    not_together: str
    letter_holds: str
    too_often: str  # {wait}
    busy: str
    too_short: str  # {length}, {least}
    too_long: str  # {most}
    guessed: str
    wrong_old: str
    still_in: str
    store_held: str
    disk_full: str
    store_fails: str


_ENGLISH = AccountWords(
    language="en",
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
    sign_in="Sign in",
    who="Your name in the yard's list, or your mail address",
    key_label="Password",
    forgotten="No password yet, or forgotten",
    send_link="Send me a link to set one",
    by_letter="What a warning's letter asks is answered by the link in that letter, without signing"
    " in.",
    sent="Look into your mail",
    sent_told="If that is somebody in the yard's list with a mail address, a link is on its way. It"
    " works once, for an hour.",
    cannot_send="No link can be sent",
    cannot_send_told="laidup does not know the address of this page: [web] address is missing in"
    " the yard's file.",
    nothing_came="Nothing came? Whoever looks after laidup makes a link on its machine:",
    back="Back to signing in",
    not_together="Name and password do not go together, or no password was set yet.",
    letter_holds="A link that came by mail within the last hour still works.",
    too_often="Too many tries just now: come again in {wait} seconds. Nobody is locked out.",
    busy="Too many sign in at once; come again in a few seconds.",
    too_short="That password will not do: it has {length} characters, of at least {least}. Take"
    " four words or more that do not belong together.",
    too_long="That password will not do: it has more than {most} characters. Take a shorter one.",
    guessed="That password will not do: it is one of the first that somebody would guess. Take"
    " four words or more that do not belong together.",
    wrong_old="That is not your password as it was.",
    still_in="You are still signed in.",
    store_held="Nothing was changed: other work holds laidup's store just now. Your password is not"
    " the cause. Try again in half a minute; a warning's letter is answered by its link without"
    " signing in.",
    disk_full="Nothing was changed: the disk of laidup's machine is full. Your password is not the"
    " cause. Have whoever looks after that machine make room; a warning's letter is answered by its"
    " link without signing in.",
    store_fails="Nothing was changed: laidup's store takes nothing now. Your password is not the"
    " cause. Have whoever looks after its machine see laidup's log; try again in half a minute.",
)

_GERMAN = AccountWords(
    language="de",
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
    sign_in="Anmelden",
    who="Ihr Name in der Liste des Winterlagers oder Ihre Mailadresse",
    key_label="Passwort",
    forgotten="Noch kein Passwort, oder vergessen",
    send_link="Link zum Festlegen schicken",
    by_letter="Was eine Warnung fragt, beantwortet der Link in ihr, ohne Anmeldung.",
    sent="Sehen Sie in Ihre Mail",
    sent_told="Steht dieser Name mit einer Mailadresse in der Liste des Winterlagers, ist ein Link"
    " unterwegs. Er gilt einmal, eine Stunde lang.",
    cannot_send="Es kann kein Link geschickt werden",
    cannot_send_told="laidup kennt die Adresse dieser Seite nicht: In der Datei des Winterlagers"
    " fehlt [web] address.",
    nothing_came="Nichts gekommen? Wer laidup betreut, erstellt auf dessen Rechner einen Link:",
    back="Zurück zur Anmeldung",
    not_together="Name und Passwort passen nicht zusammen, oder es wurde noch kein Passwort"
    " festgelegt.",
    letter_holds="Ein Link, der in der letzten Stunde per Mail kam, gilt noch.",
    too_often="Zu viele Versuche: Bitte in {wait} Sekunden noch einmal. Niemand ist ausgesperrt.",
    busy="Zu viele melden sich gleichzeitig an; bitte in einigen Sekunden noch einmal.",
    too_short="Dieses Passwort reicht nicht: Es hat {length} von mindestens {least} Zeichen. Nehmen"
    " Sie vier oder mehr Wörter, die nicht zusammengehören.",
    too_long="Dieses Passwort ist zu lang: Es hat mehr als {most} Zeichen. Nehmen Sie ein"
    " kürzeres.",
    guessed="Dieses Passwort reicht nicht: Man würde es als eines der ersten raten. Nehmen Sie vier"
    " oder mehr Wörter, die nicht zusammengehören.",
    wrong_old="Das ist nicht Ihr bisheriges Passwort.",
    still_in="Sie sind weiterhin angemeldet.",
    store_held="Nichts wurde geändert: Der Speicher von laidup ist gerade belegt. An Ihrem Passwort"
    " liegt es nicht. Versuchen Sie es in einer halben Minute noch einmal; eine Warnung beantwortet"
    " ihr Link ohne Anmeldung.",
    disk_full="Nichts wurde geändert: Auf dem Rechner von laidup ist kein Platz mehr. An Ihrem"
    " Passwort liegt es nicht. Wer den Rechner betreut, muss Platz schaffen; eine Warnung"
    " beantwortet ihr Link ohne Anmeldung.",
    store_fails="Nichts wurde geändert: Der Speicher von laidup nimmt gerade nichts an. An Ihrem"
    " Passwort liegt es nicht. Wer den Rechner betreut, findet den Grund im Protokoll von laidup;"
    " versuchen Sie es in einer halben Minute noch einmal.",
)

_WORDS_OF: Mapping[str, AccountWords] = {"en": _ENGLISH, "de": _GERMAN}
for _language in set(LANGUAGES) ^ set(_WORDS_OF):
    raise ValueError(f"{_language}: owners are written to in it, and the account lacks its words")


def account_words_of(language: str) -> AccountWords:
    """The words in a language; English for one that is not there."""
    return _WORDS_OF.get(language, _ENGLISH)
