"""An alarm and each change of it in one line, in a reader's units and by the yard's clock."""

from monitor.phrases.causes import cause_title
from monitor.wording import Wording
from monitor.yard.alarm import Alarm, AlarmEvent
from monitor.yard.alarm_facts import Blindness, Change, ChangeFacts, FinishedLine, HeadlineFacts

_BLIND = {
    Blindness.NO_READING: "no fresh reading",
    Blindness.CHARGE_NOT_TOLD: "its voltage does not tell its charge",
}
_PLAIN_CHANGES = {
    Change.BLIND: "its input has gone bad: it cannot clear",
    Change.BACK: "it is back",
    Change.MADE_SAFE: "somebody has made it safe",
    Change.SUBJECT_LEFT: "its subject is no longer in the yard's care",
    Change.NOTHING_LEFT: "nothing is left to watch",
    Change.UNSUPPRESSED: "told again, for it still holds",
    Change.UNSUPPRESSED_GONE: "nothing tells it any more, and it is over",
    Change.SHELF_ENDED: "its time on the shelf is up, and it still holds",
    Change.SHELF_ENDED_GONE: "its time on the shelf is up, and it is over",
}


def headline_text(alarm: Alarm, words: Wording) -> str:
    """One line that a person can act on."""
    return _headline_of(alarm.headline, alarm.cause, words)


def _headline_of(headline: HeadlineFacts | FinishedLine, cause: str, words: Wording) -> str:
    if isinstance(headline, FinishedLine):
        return words.in_reader_units(headline.text)
    title = cause_title(cause, ahead=headline.ahead, past=headline.past).lower()
    if headline.blind is not None:
        return f"{headline.subject}: {title}; {_BLIND[headline.blind]}, so it cannot clear"
    said = [title]
    if headline.deadline is not None:
        said.append(f"{'since' if headline.begun else 'by'} {words.clock(headline.deadline)}")
    if headline.low_c is not None:
        said.append(f"low {words.temperature(headline.low_c)}")
    if headline.ice_point_c is not None:
        said.append(f"ice point {words.ice_point(headline.ice_point_c)}")
    return f"{headline.subject}: {', '.join(said)}"


def reason_text(event: AlarmEvent, alarm: Alarm, words: Wording) -> str:
    """Why an alarm changed."""
    why = event.why
    if isinstance(why, FinishedLine):
        return words.in_reader_units(why.text)
    return _reason_of(why, alarm, words)


def _reason_of(why: ChangeFacts, alarm: Alarm, words: Wording) -> str:
    match why.change:
        case Change.RAISED:
            return _headline_of(why.headline or alarm.headline, alarm.cause, words)
        case Change.GONE:
            return f"over since {words.clock(why.since)}"
        case Change.STILL_THERE:
            return f"still there since {words.clock(why.since)}"
        case Change.WORSE:
            return f"it got worse: {why.before} before, {why.now} now"
        case Change.SHELVED:
            return f"until {words.clock(why.until)}: {why.said}"
        case Change.SUPPRESSED:
            return why.said
        case plain:
            return _PLAIN_CHANGES[plain]
