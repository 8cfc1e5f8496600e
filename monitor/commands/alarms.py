"""``laidup alarms``: see the alarms, and acknowledge, shelve or take them out of service."""

import argparse
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta

from monitor.alarms.acts.alarm_acts import AlarmActs
from monitor.commands.opening import (
    Opened,
    at_time,
    daemon_clock,
    open_read_only,
    open_to_act,
    read_craft_in_care,
)
from monitor.commands.printing import print_json
from monitor.errors import ActError
from monitor.phrases.alarm_lines import headline_text, reason_text
from monitor.phrases.names import ALARM_STATE, Names
from monitor.reports.alarm_groups import pressing_first, tally
from monitor.store.transaction import Transaction
from monitor.wording import SI, Wording
from monitor.yard.alarm import Alarm, AlarmState
from monitor.yard.readers import words_for

_SHORTEST = 4  # letters of an id that a person may type
_SHOWN = 8

_Act = Callable[[AlarmActs, str, argparse.Namespace, Opened], Alarm]


def act_on_each(arguments: argparse.Namespace) -> int:
    """Do one act to each alarm; the record keeps who, when and why."""
    with open_to_act(arguments) as here:
        people = sorted(person.id for person in here.yard.people)
        if arguments.by not in people:
            known = ", ".join(people)
            raise ActError(f"--by {arguments.by}: nobody of this yard; it has {known}")
        acts = AlarmActs(here.store, daemon_clock(here.store))
        with here.store.snapshot() as tx:
            chosen = [_find_alarm(tx, text) for text in arguments.alarm]
        changed = [arguments.act(acts, alarm.id, arguments, here) for alarm in chosen]
        if arguments.json:
            print_json([_as_json(one, _si_words(here, one.changed_at)) for one in changed])
            return 0
        for one in changed:
            headline = headline_text(one, words_for(here.yard, one.changed_at))
            print(f"{one.id[:_SHOWN]}  {headline}: {one.state}.")
    return 0


def acknowledge_alarm(
    acts: AlarmActs, alarm: str, arguments: argparse.Namespace, _: Opened
) -> Alarm:
    """A person has taken it on."""
    return acts.acknowledge(alarm, arguments.by, arguments.why)


def shelve_alarm(acts: AlarmActs, alarm: str, arguments: argparse.Namespace, here: Opened) -> Alarm:
    """Nobody is told of it until a time."""
    return acts.shelve(alarm, arguments.by, arguments.why, _parse_until(arguments.until, here))


def unshelve_alarm(acts: AlarmActs, alarm: str, arguments: argparse.Namespace, _: Opened) -> Alarm:
    """Take it off the shelf before its time."""
    return acts.unshelve(alarm, arguments.by, arguments.why)


def take_out_of_service(
    acts: AlarmActs, alarm: str, arguments: argparse.Namespace, _: Opened
) -> Alarm:
    """Take it out of service for maintenance."""
    return acts.take_out_of_service(alarm, arguments.by, arguments.why)


def return_to_service(
    acts: AlarmActs, alarm: str, arguments: argparse.Namespace, _: Opened
) -> Alarm:
    """Bring it back after maintenance."""
    return acts.return_to_service(alarm, arguments.by, arguments.why)


def _parse_until(text: str, here: Opened) -> datetime:
    hours = text.removesuffix("h")
    if text.endswith("h") and hours.replace(".", "", 1).isdigit():
        return daemon_clock(here.store).now() + timedelta(hours=float(hours))
    return at_time(text, here.yard, "--until")


def list_alarms(arguments: argparse.Namespace) -> int:
    """Show the open alarms, or those raised in the last days."""
    with open_read_only(arguments) as here:
        now = daemon_clock(here.store).now()
        with here.store.snapshot() as tx:
            if arguments.days is None:
                alarms = tx.alarms.open_alarms()
            else:
                alarms = tx.alarms.raised_between(now - timedelta(days=arguments.days), now)
        wording = words_for(here.yard, now)
        alarms = pressing_first(alarms, now)
        if arguments.json:
            print_json([_as_json(alarm, replace(wording, units=SI)) for alarm in alarms])
            return 0
        counted = f": {tally(alarms)}" if alarms else ""
        print(f"{len(alarms) or 'No'} alarm{'s' * (len(alarms) != 1)}{counted}.")
        shown = [a for a in alarms if arguments.all or a.state is not AlarmState.SUPPRESSED]
        for alarm in shown:
            ahead = alarm.deadline is not None and alarm.deadline > now
            before = f", act before {wording.clock(alarm.deadline)}" if ahead else ""
            print(f"{alarm.id[:_SHOWN]}  {headline_text(alarm, wording)}{before}")
            print(
                f"{'':{_SHOWN}}  {alarm.cause}, {alarm.priority};"
                f" {ALARM_STATE[alarm.state]}; since {wording.clock(alarm.raised_at)}"
            )
        if len(shown) < len(alarms):
            print("Those not told on purpose are not listed; --all lists them too.")
    return 0


def show_alarm_history(arguments: argparse.Namespace) -> int:
    """Show every change of one alarm."""
    with open_read_only(arguments) as here:
        with here.store.snapshot() as tx:
            alarm = _find_alarm(tx, arguments.alarm)
            history = tx.alarms.history_of(alarm.id)
        if arguments.json:
            print_json(
                {
                    **_as_json(alarm, _si_words(here, alarm.changed_at)),
                    "course": [
                        {
                            "at": event.at.isoformat(),
                            "state": event.after,
                            "by": event.by,
                            "why": reason_text(event, alarm, _si_words(here, event.at)),
                        }
                        for event in history
                    ],
                }
            )
            return 0
        names = {person.id: person.name for person in here.yard.people}
        words = words_for(here.yard, daemon_clock(here.store).now())
        print(f"{headline_text(alarm, words)} ({alarm.id})")
        for event in history:
            local = event.at.astimezone(here.yard.zone)
            who = names.get(event.by, event.by)
            why = reason_text(event, alarm, words_for(here.yard, event.at))
            print(f"  {local:%Y-%m-%d %H:%M %Z}  {event.after}, by {who}: {why}")
    return 0


def print_cap(arguments: argparse.Namespace) -> int:
    """Write one alarm as a CAP 1.2 alert."""
    from monitor.alarms.letters.cap import cap_of, cap_sender

    with open_read_only(arguments) as here, here.store.snapshot() as tx:
        alarm = _find_alarm(tx, arguments.alarm)
        names = Names.of(here.yard, read_craft_in_care(here, datetime.now(UTC)))
        document = cap_of(tx, names, alarm.id, cap_sender(here.yard))
    if document is None:
        raise ActError(f"alarm {alarm.id} has no change on record")
    if arguments.out is not None:
        arguments.out.write_bytes(document)
        print(arguments.out)
    else:
        print(document.decode(), end="")
    return 0


def _find_alarm(tx: Transaction, text: str) -> Alarm:
    """One alarm by its id, or among the open ones by the first letters of it."""
    if (alarm := tx.alarms.get(text)) is not None:
        return alarm
    if len(text) < _SHORTEST:
        raise ActError(f"{text!r}: give at least {_SHORTEST} letters of the alarm's id")
    found = [alarm for alarm in tx.alarms.open_alarms() if alarm.id.startswith(text)]
    if len(found) != 1:
        many = f"{len(found)} open alarms begin so" if found else "no open alarm begins so"
        raise ActError(f"{text!r}: {many}; `laidup alarms list` shows them")
    return found[0]


def _si_words(here: Opened, at: datetime) -> Wording:
    return replace(words_for(here.yard, at), units=SI)


def _as_json(alarm: Alarm, words: Wording) -> dict[str, object]:
    return {
        "id": alarm.id,
        "cause": alarm.cause,
        "space": alarm.space,
        "craft": alarm.craft,
        "part": alarm.part,
        "state": alarm.state,
        "priority": alarm.priority,
        "urgency": alarm.urgency,
        "severity": alarm.severity,
        "certainty": alarm.certainty,
        "headline": headline_text(alarm, words),
        "raised_at": alarm.raised_at.isoformat(),
        "deadline": alarm.deadline.isoformat() if alarm.deadline else None,
    }
