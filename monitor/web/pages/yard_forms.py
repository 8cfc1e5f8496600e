"""What a form about the yard says, as the yard's file would say it."""

from collections.abc import Callable, Mapping
from datetime import datetime
from zoneinfo import ZoneInfo

from monitor.errors import ActError
from monitor.wording import Wording
from monitor.yard.space import Role
from monitor.yard.yard_change import ALWAYS, Item, ItemEdit, YardPart

Form = Mapping[str, str]
_WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
_SHIFTS = 8  # rows of the calendar of duty that a form has


def edits_of(
    part: YardPart,
    form: Form,
    items: Mapping[tuple[YardPart, str], Item],
    words: Wording,
    new_id: Callable[[str], str],
) -> list[ItemEdit]:
    """The changes that a form asks for.

    Parameters
    ----------
    part : YardPart
    form : mapping
        Its fields; ``key`` names the item, ``gone`` takes it out.
    items : mapping
        All items as they are: what the form has no field for stays.
    words : Wording
        Of the reader, in whose units bare numbers are.
    new_id : callable
        Makes an id of a name.

    Raises
    ------
    ActError
        If a field that is needed is empty, or a number is none.
    """
    if part is YardPart.YARD:
        return _edits_of_yard(form, words)
    if part is YardPart.DUTY:
        return [ItemEdit(part=part, key="duty", after=_duty_of(form))]
    key = form.get("key", "").strip()
    if form.get("gone"):
        return [ItemEdit(part=part, key=key, after=None)]
    before = items.get((part, key), {})
    name = form.get("label" if part is YardPart.SHELF else "name", "").strip()
    if not key:
        if not name:
            raise ActError("say its name")
        key = _free(new_id(name), {of for own, of in items if own is part})
    after = _AFTER[part](form, before, words)
    since = _since(form, words) if part is YardPart.SENSORS else None
    return [ItemEdit(part=part, key=key, after=after, since=since)]


def _free(key: str, taken: set[str]) -> str:
    return next(
        one for one in (key, *(f"{key[:58]}-{n}" for n in range(2, 10_000))) if one not in taken
    )


def _edits_of_yard(form: Form, words: Wording) -> list[ItemEdit]:
    edits = []
    for name in ("name", "timezone", "telephone", "reply_to", "temperature_unit", "volume_unit"):
        if name in form:
            said = form[name].strip()
            after = {"value": said} if said else None
            edits.append(ItemEdit(part=YardPart.YARD, key=name, after=after))
    edits.extend(
        ItemEdit(part=YardPart.YARD, key=name, after={"value": _number(form[name], name)})
        for name in ("latitude", "longitude")
        if name in form
    )
    if form.get("design_low", "").strip():
        coldest = {"value": _temperature(form["design_low"], words)}
        edits.append(ItemEdit(part=YardPart.YARD, key="design_low", after=coldest))
    return edits


def _space(form: Form, before: Item, words: Wording) -> Item:
    after = _texts(form, before, "name", "kind")
    _keep_or_drop(after, "berths", _list_of(form, "berths"), "berths" in form)
    said = form.get("thermostat", "").strip()
    _keep_or_drop(after, "thermostat", _temperature(said, words) if said else "", "kind" in form)
    if after.get("kind") != "heated":
        after.pop("thermostat", None)
    return after


def _sensor(form: Form, before: Item, words: Wording) -> Item:  # noqa: ARG001 - one form for all
    after = _texts(form, before, "space", "mount", "craft", "circuit", "note")
    if after.get("mount") == "air":
        for name in ("mount", "craft", "circuit"):
            after.pop(name, None)
    said = form.get("height_m", "").strip()
    _keep_or_drop(after, "height_m", _number(said, "height") if said else "", "height_m" in form)
    labels = {key.removeprefix("label-"): one for key, one in form.items()
              if key.startswith("label-")}  # fmt: skip
    if form.get("topic") and not before:  # on which it was heard when it was taken in
        after["topic"] = form["topic"]
    return {**after, **({"labels": labels} if labels else {})}


def _person(form: Form, before: Item, words: Wording) -> Item:  # noqa: ARG001
    after = _texts(form, before, "name", "mail", "phone")
    if "roles" in form:
        after["roles"] = sorted(one.value for one in Role if form.get(f"role-{one.value}"))
    texted = form.get("texts", "")
    if "reached" in form:
        channels = [*(["mail"] if form.get("by-mail") else []), *([texted] if texted else [])]
        _keep_or_drop(after, "channels", [] if channels == ["mail"] else channels, True)
    begins, ends = form.get("quiet_begins", "").strip(), form.get("quiet_ends", "").strip()
    if "quiet_begins" in form:
        quiet = {"begins": begins, "ends": ends} if begins or ends else {}
        _keep_or_drop(after, "quiet", quiet, True)
    return after


def _helper(form: Form, before: Item, words: Wording) -> Item:  # noqa: ARG001
    return _texts(form, before, "name")


def _product(form: Form, before: Item, words: Wording) -> Item:
    after = _texts(form, before, "label", "liquid", "lot")
    if said := form.get("strength", "").strip():
        after["strength"] = said if said.endswith("%") else f"{said}%"
    if said := form.get("container", "").strip():
        bare = not any(sign.isalpha() for sign in said)
        unit = "L" if words.units is None or words.units.volume == "L" else "gal"
        after["container"] = f"{said}{unit}" if bare else said
    return after


_AFTER: Mapping[YardPart, Callable[[Form, Item, Wording], Item]] = {
    YardPart.SPACES: _space,
    YardPart.SENSORS: _sensor,
    YardPart.PEOPLE: _person,
    YardPart.HELPERS: _helper,
    YardPart.SHELF: _product,
}


def _duty_of(form: Form) -> Item:
    shifts = []
    for number in range(_SHIFTS):
        person = form.get(f"person-{number}", "").strip()
        if not person:
            continue
        shift: dict[str, object] = {
            "person": person,
            "begins": form.get(f"begins-{number}", "").strip(),
            "ends": form.get(f"ends-{number}", "").strip(),
        }
        days = [day for day in _WEEKDAYS if form.get(f"{day}-{number}")]
        if days and len(days) < len(_WEEKDAYS):
            shift["weekdays"] = days
        if hands := form.get(f"hands-{number}", "").strip():
            shift["hands"] = _whole(hands, "hands of a shift")
        shifts.append(shift)
    after: dict[str, object] = {"hands": _whole(form.get("hands", ""), "hands")}
    if shifts:
        after["shifts"] = shifts
    if called := _list_of(form, "next_called"):
        after["next_called"] = called
    return after


def _since(form: Form, words: Wording) -> datetime | None:
    """From when a sensor hangs where the form says; None: from now on."""
    said = form.get("since", "now")
    if said == "always":
        return ALWAYS
    if said in {"", "now"}:
        return None
    if said == "then":
        said = form.get("since_at", "")
    try:
        at = datetime.fromisoformat(said)
    except ValueError as error:
        raise ActError(f"{said[:40]!r} is no time; write it like 2026-11-12T14:00") from error
    return at if at.tzinfo else at.replace(tzinfo=words.zone if words.zone else ZoneInfo("UTC"))


def _texts(form: Form, before: Item, *names: str) -> dict[str, object]:
    after: dict[str, object] = dict(before)
    for name in names:
        if name in form:
            _keep_or_drop(after, name, form[name].strip(), True)
    return after


def _keep_or_drop(after: dict[str, object], name: str, said: object, asked: bool) -> None:
    """Put in what was said; what was asked and left empty goes."""
    if said:
        after[name] = said
    elif asked:
        after.pop(name, None)


def _list_of(form: Form, name: str) -> list[str]:
    return [one.strip() for one in form.get(name, "").replace(";", ",").split(",") if one.strip()]


def _temperature(said: str, words: Wording) -> str:
    """With its unit, its sign as files have it; a bare number is in the reader's."""
    said = said.replace("\N{MINUS SIGN}", "-")
    return said if any(sign.isalpha() for sign in said) else f"{said}{words.temperature_unit}"


def _number(said: str, what: str) -> float:
    try:
        return float(said.strip().replace(",", ".").replace("\N{MINUS SIGN}", "-"))
    except ValueError as error:
        raise ActError(f"{what}: {said[:40]!r} is no number") from error


def _whole(said: str, what: str) -> int:
    if not (said.strip().isascii() and said.strip().isdigit()):
        raise ActError(f"{what}: {said[:40]!r} is no whole number")
    return int(said)
