"""What the people of the demo's yard do: one takes letters on by their links, one saves a craft."""

import http.client
import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from email import message_from_bytes
from email.policy import default
from pathlib import Path
from urllib.parse import urlsplit

from monitor.craft.layup import Act, Evidence, LayupEntry
from monitor.craft.spring import spring_plan
from monitor.phrases.plan import step_sentence, step_title
from monitor.settings.load import Settings
from monitor.store.store import Store
from monitor.store.taking_in import take_in
from monitor.wording import Wording
from monitor.yard.people import display_name
from monitor.yard.readers import units_of
from monitor.yard.space import shelters

OPERATOR, MECHANIC, SAVED = "operator", "mechanic", "k2"
_ANSWERS_AFTER = timedelta(minutes=40)  # of the story's beginning
_NIGHT_PASSES = timedelta(hours=15)  # a letter from then on tells what the night brought
_ANSWERS_AGAIN_AFTER = timedelta(hours=17, minutes=15)  # and is answered before owners hear of it
_SAVES_AFTER = timedelta(hours=1, minutes=55)
_SPRING = timedelta(days=157)  # from November to the middle of April
_TOLD_STEPS = 5
_LINK = re.compile(r"http://127\.0\.0\.1:\d+/answer/\S+")


class People:
    """Acts once the story has come to their hour."""

    def __init__(
        self,
        settings: Settings,
        store: Store,
        mails: Path,
        begin: datetime,
        tell: Callable[[str], None],
    ) -> None:
        """Prepare what they will do.

        Parameters
        ----------
        settings : Settings
        store : Store
        mails : Path
            Folder in which their letters arrive.
        begin : datetime
            When the story begins.
        tell : callable
            Takes a line about each thing that they did.
        """
        self._settings, self._store, self._mails, self._tell = settings, store, mails, tell
        self._begin = begin
        self._saved = next(one for one in settings.craft if one.craft.id == SAVED)
        self._to_do: list[tuple[datetime, Callable[[datetime], bool]]] = [
            (begin + _ANSWERS_AFTER, self._answer_letter),
            (begin + _SAVES_AFTER, self._save_craft),
            (begin + _ANSWERS_AGAIN_AFTER, self._answer_update),
        ]

    def do_what_is_due(self, at: datetime) -> None:
        """Do what is due at an hour of the story; what cannot be done yet is tried again."""
        self._to_do = [(due, deed) for due, deed in self._to_do if at < due or not deed(at)]

    def _answer_letter(self, _: datetime) -> bool:
        """Follow the link in the operator's first letter; False while none has come."""
        return self._follow_first_link(self._begin, "her letter")

    def _answer_update(self, _: datetime) -> bool:
        """Follow the link in what the night brought, for the craft that the first had not."""
        return self._follow_first_link(self._begin + _NIGHT_PASSES, "the morning's letter")

    def _follow_first_link(self, since: datetime, what: str) -> bool:
        person = self._settings.yard.person(OPERATOR)
        link = next(_links_to(person.mail, self._mails, since), None)
        if link is None:
            return False
        where = urlsplit(link)
        page = http.client.HTTPConnection(where.hostname or "", where.port, timeout=60)
        try:
            page.request("POST", where.path, headers={"Content-Length": "0"})
            taken = page.getresponse().status == http.client.SEE_OTHER
        finally:
            page.close()
        if taken:
            self._tell(f"{person.name} follows the link in {what}: she has it.")
        return taken

    def _save_craft(self, at: datetime) -> bool:
        """Enter that a craft's blocked passage was opened and drained."""
        entry = LayupEntry(
            id="saved-in-the-demo",
            craft=SAVED,
            at=at,
            by=MECHANIC,
            act=Act.DRAINED,
            circuits=("cylinder-passages",),
            evidence=Evidence(dry=True),
            note="swarf in the sensor port; picked out, drained, probed",
        )
        record = replace(self._saved, entries=(*self._saved.entries, entry))
        with self._store.transaction() as tx:
            take_in(tx.layup, [record], self._settings.profiles, at)
        self._saved = record
        name = display_name(self._settings.yard, MECHANIC)
        self._tell(f"{name} clears {record.craft.name}'s head, drains it, and enters what he saw.")
        return True

    def spring_lines(self) -> Iterator[str]:
        """The first steps of the way back into the water of the craft that was saved."""
        record, yard = self._saved, self._settings.yard
        words = Wording(zone=yard.zone, units=units_of(yard))
        plan = spring_plan(record, shelters(yard), self._begin + _SPRING)
        for step in plan.steps[:_TOLD_STEPS]:
            title = step_title(step, record.profile, words)
            sentence = step_sentence(step, record.profile, words)
            yield f"{title}: {sentence}" if title else sentence


def _links_to(address: str, mails: Path, since: datetime) -> Iterator[str]:
    """Links by which a reader answers letters written since a time, from the oldest on."""
    for path in sorted(mails.glob("*.eml")):
        mail = message_from_bytes(path.read_bytes(), policy=default)
        body = mail.get_body(("plain",))
        found = _LINK.search("" if body is None else body.get_content())
        if found and mail["To"] == address and mail["Date"].datetime >= since:
            yield found[0]
