"""One alarm as a CAP 1.2 message (OASIS, 1 July 2010), for whoever takes alerts in that form."""

import re
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta, tzinfo
from xml.etree import ElementTree as ET

from monitor.alarms.definitions import DEFINITIONS, title_of
from monitor.phrases.alarm_lines import headline_text, reason_text
from monitor.phrases.judgements import act_text, basis_text
from monitor.phrases.names import Names, plain, plain_line, space_name
from monitor.store.transaction import Transaction
from monitor.wording import Units, in_reader_units
from monitor.yard.alarm import Alarm, AlarmEvent, AlarmState, Topic
from monitor.yard.assessment import Assessment, Caution, Subject, Urgency
from monitor.yard.caution import CAUTION_TEXT
from monitor.yard.readers import units_of, words_for
from monitor.yard.space import STAFF, Yard

NAMESPACE = "urn:oasis:names:tc:emergency:cap:1.2"
_OVER = frozenset({AlarmState.NORMAL, AlarmState.RETURNED})
_CATEGORY = {
    Topic.FROST: "Met",
    Topic.DAMP: "Met",
    Topic.HEAT: "Infra",
    Topic.BATTERY: "Safety",
    Topic.SILENCE: "Infra",
    Topic.PATH: "Infra",
}
_GOOD_FOR = timedelta(hours=24)


def cap_alert(
    alarm: Alarm,
    history: Sequence[AlarmEvent],
    yard: Yard,
    *,
    sender: str,
    addresses: Sequence[str],
    assessment: Assessment | None = None,
    names: Names | None = None,
    test: bool = False,
) -> bytes:
    """Write an alarm as it stands after its last change.

    Parameters
    ----------
    alarm : Alarm
    history : sequence of AlarmEvent
        All its changes, at least one; each was a message of its own, which this one refers to.
    yard : Yard
    sender : str
        Who sends it; unique in the world, such as a mail address.
    addresses : sequence of str
        Who it is meant for: laidup's alerts are always private. At least one.
    assessment : Assessment, optional
        The judgement behind it.
    names : Names, optional
        Of the craft that it is about; without them its ids are told.
    test : bool
        Mark it as a test.

    Returns
    -------
    bytes
        A CAP 1.2 document in UTF-8.

    Raises
    ------
    ValueError
        If there is no change or no address, or the sender holds what CAP forbids.
    """
    if not history or not addresses:
        raise ValueError(f"alarm {alarm.id}: a CAP alert needs a change and an address")
    if re.search(r"[\s,<&]", sender) or not sender:
        raise ValueError(f"{sender!r}: a CAP sender holds no space, comma, < or &")
    number = len(history)
    words = words_for(yard, history[-1].at)
    over = alarm.state in _OVER
    root = ET.Element("alert", {"xmlns": NAMESPACE})
    put = _Children(root)
    put("identifier", _identifier(alarm, number))
    put("sender", sender)
    put("sent", cap_time(history[-1].at, yard.zone))
    put("status", "Test" if test else "Actual")
    put("msgType", "Cancel" if over else "Alert" if number == 1 else "Update")
    put("scope", "Private")
    put("addresses", " ".join(_quoted(each) for each in addresses))
    put("note", f"{alarm.state}: {plain_line(reason_text(history[-1], alarm, words), limit=300)}")
    if number > 1:
        put(
            "references",
            " ".join(
                f"{sender},{_identifier(alarm, n)},{cap_time(event.at, yard.zone)}"
                for n, event in enumerate(history[:-1], start=1)
            ),
        )
    known = names or Names(yard)
    _info(ET.SubElement(root, "info"), alarm, history, known, assessment, over=over)
    ET.indent(root)
    body: str = ET.tostring(root, encoding="unicode")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{body}\n'.encode()


def cap_of(tx: Transaction, names: Names, alarm_id: str, sender: str) -> bytes | None:
    """One alarm of the store as it stands now, for the yard's own people; None if there is none.

    Parameters
    ----------
    tx : Transaction
    names : Names
        Of the yard and of the craft in its care.
    alarm_id : str
    sender : str
        As :func:`cap_alert` wants it.
    """
    alarm = tx.alarms.get(alarm_id)
    history = tx.alarms.history_of(alarm_id)
    if alarm is None or not history:
        return None
    definition = DEFINITIONS.get(alarm.cause)
    behind = [
        each
        for each in tx.assessments.latest_judgements()
        if definition is not None
        and each.hazard is definition.hazard
        and each.subject == Subject(alarm.space, alarm.craft, alarm.part)
    ]
    yard = names.yard
    staff = [person.name for person in yard.people if person.roles & STAFF]
    return cap_alert(
        alarm,
        history,
        yard,
        sender=sender,
        addresses=staff,
        assessment=behind[0] if behind else None,
        names=names,
    )


def cap_sender(yard: Yard, mail: str = "") -> str:
    """Who sends this yard's alerts: its mail address, or a name that no other yard should have."""
    return mail or f"{yard.id}.laidup"


def cap_time(at: datetime, zone: tzinfo) -> str:
    """Write a time as CAP wants it: with an offset, without a fraction, UTC as ``-00:00``."""
    local = at.astimezone(zone).replace(microsecond=0)
    if local.utcoffset() == timedelta(0):
        return f"{local.astimezone(UTC):%Y-%m-%dT%H:%M:%S}-00:00"
    return local.isoformat()


def _info(
    info: ET.Element,
    alarm: Alarm,
    history: Sequence[AlarmEvent],
    names: Names,
    assessment: Assessment | None,
    *,
    over: bool,
) -> None:
    definition = DEFINITIONS.get(alarm.cause)
    yard = names.yard
    words = words_for(yard, history[-1].at)
    units = units_of(yard)
    put = _Children(info)
    put("language", "en-US")
    put("category", _CATEGORY[definition.topic] if definition else "Other")
    put("event", title_of(definition, assessment) if definition else alarm.cause)
    put("responseType", "AllClear" if over else "Execute")
    put("urgency", str(Urgency.PAST if over else alarm.urgency))
    put("severity", str(alarm.severity))
    put("certainty", str(alarm.certainty))
    put("audience", "the yard's own people")
    put("effective", cap_time(alarm.raised_at, yard.zone))
    if alarm.deadline is not None:
        put("onset", cap_time(alarm.deadline, yard.zone))
    put("expires", cap_time(history[-1].at + _GOOD_FOR, yard.zone))
    put("senderName", plain(yard.name))
    put("headline", plain_line(headline_text(alarm, words), limit=160))
    if assessment is not None:
        put("description", plain_line(basis_text(assessment, names, words), limit=1000))
    act = "" if assessment is None else act_text(assessment, names, words)
    act = act or (in_reader_units(definition.act, units) if definition else "")
    put("instruction", _instruction(act, assessment, units))
    area = _Children(ET.SubElement(info, "area"))
    area("areaDesc", f"{space_name(yard, alarm.space)}, {plain(yard.name)}")
    area("circle", f"{yard.latitude:.4f},{yard.longitude:.4f} 0.5")


class _Children:
    """Appends children in the order of the calls, which is the order of the schema."""

    def __init__(self, parent: ET.Element) -> None:
        self._parent = parent

    def __call__(self, name: str, text: str) -> None:
        ET.SubElement(self._parent, name).text = text


def _instruction(act: str, assessment: Assessment | None, units: Units) -> str:
    cautions = assessment.cautions if assessment is not None else ()
    asked = dict.fromkeys((*cautions, Caution.NOT_LIFE_SAFETY))
    cautioned = (in_reader_units(CAUTION_TEXT[each], units) for each in asked)
    return " ".join((plain_line(in_reader_units(act, units), limit=400), *cautioned)).strip()


def _identifier(alarm: Alarm, number: int) -> str:
    return f"{alarm.id}.{number}"


def _quoted(address: str) -> str:
    line = plain(address).replace('"', "'")
    return f'"{line}"' if " " in line else line
