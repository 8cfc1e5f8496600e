"""The words of a craft's label: what its weakest circuit holds, by whom; never more than that."""

from dataclasses import dataclass

from monitor.craft.label_figures import LabelFigures
from monitor.craft.layup import LayupEntry
from monitor.craft.protection import Basis, Confidence, LayupState, Protection
from monitor.phrases.names import place_name, plain
from monitor.phrases.step_in_words import capitalize_first
from monitor.wording import Wording, listed_first, typeset

DO_NOT_START = "DO NOT START until signed off"
_LONG = 400  # signs of a reason
_NAMED = 3  # circuits; the rest are counted
_STATES = {
    LayupState.VOID: "undone",
    LayupState.UNPROVEN: "not shown to hold",
    LayupState.UNKNOWN: "nothing on record",
    LayupState.HEAT_ONLY: "kept by heat alone",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelWords:
    """One label, what matters most first."""

    name: str
    place: str  # craft id and berth
    warning: str  # empty once it was made ready for the water
    headline: str
    details: tuple[str, ...]
    as_of: str  # what is printed grows old


def label_words(figures: LabelFigures, words: Wording) -> LabelWords:
    """A craft's label in words.

    Parameters
    ----------
    figures : LabelFigures
    words : Wording
        The reader's units and zone.
    """
    return LabelWords(
        name=plain(figures.name),
        place=f"{figures.craft} · {_place_words(figures)}",
        warning="" if figures.signed_off else DO_NOT_START,
        headline=_headline(figures, words),
        details=tuple(_details(figures, words)),
        as_of=f"As of {words.day(figures.at)}, {figures.at.astimezone(words.zone):%H:%M}",
    )


def _place_words(figures: LabelFigures) -> str:
    if not figures.space:
        return "place not on record"
    return place_name(figures.space, figures.berth)


def _headline(figures: LabelFigures, words: Wording) -> str:
    weakest = figures.weakest
    name = capitalize_first(plain(figures.weakest_name))
    if figures.unreadable:
        return "NOT PROTECTED: its record cannot be read"
    if weakest.suspect_since is not None:
        since = words.day(weakest.suspect_since)
        return f"MAY HAVE ICE IN IT since {since}: {name}"
    if weakest.state is LayupState.HEAT_ONLY:
        return f"KEEP IN HEAT: {name}"
    if weakest.state is not LayupState.PROVEN:
        return f"NOT PROTECTED: {name}, {_STATES[weakest.state]}"
    if weakest.basis is Basis.DRAINED:
        if weakest.confidence is Confidence.HIGH:
            return "No water in any circuit"
        return f"Drained, not every circuit probed: {name}"
    held = words.ice_point(weakest.ice_point_c)
    if not figures.holds_low:
        low = words.temperature(figures.low_c, 0)
        return f"NOT ENOUGH for {low}: holds {held}. Weakest: {name}"
    return f"Holds {held}. Weakest: {name}"


def _details(figures: LabelFigures, words: Wording) -> list[str]:
    weakest = figures.weakest
    if figures.unreadable:
        return [
            f"Take all {figures.circuits} circuits for water: {plain(figures.unreadable, _LONG)}"
        ]
    if weakest.state is not LayupState.PROVEN:
        why = [] if weakest.why == _STATES[weakest.state] else [_why(weakest)]
        return [*why, *_others_unproven(figures)]
    told = [*_poured(figures, words), *_read(figures, words)]
    if not told:
        told = [_why(weakest)]
    others = figures.circuits - 1
    if others and weakest.basis is not Basis.DRAINED:
        beside = "The other circuit holds" if others == 1 else f"All {others} other circuits hold"
        told.append(f"{beside} that or colder.")
    return told


def _why(weakest: Protection) -> str:
    return f"{capitalize_first(typeset(plain(weakest.why, _LONG))).rstrip('.')}."


def _others_unproven(figures: LabelFigures) -> list[str]:
    others = [one for one in figures.unproven if one.circuit != figures.weakest.circuit]
    if not others:
        return []
    if len(others) == figures.circuits - 1:
        return [f"None of its {figures.circuits} circuits is shown to hold."]
    named = [plain(figures.circuit_names[one.circuit]) for one in others]
    return [f"Not protected either: {listed_first(named, _NAMED)}."]


def _poured(figures: LabelFigures, words: Wording) -> list[str]:
    by_product: dict[str, LayupEntry] = {}
    for entry in figures.poured:
        by_product.setdefault(_product_words(entry), entry)
    return [
        f"{capitalize_first(product)}: {words.day(entry.at)}, {plain(words.person(entry.by))}"
        for product, entry in by_product.items()
    ]


def _product_words(entry: LayupEntry) -> str:
    product = entry.product
    if product is None:
        return "antifreeze that nobody named"
    lot = f"lot {plain(product.lot)}" if product.lot else "lot not noted"
    return f"{plain(product.name)}, {lot}"


def _read(figures: LabelFigures, words: Wording) -> list[str]:
    sample = figures.sample
    if sample is not None and sample.evidence.ice_point_c is not None:
        reading = words.temperature(sample.evidence.ice_point_c)
        return [f"Read {reading}: {words.day(sample.at)}, {plain(words.person(sample.by))}"]
    match figures.weakest.basis:
        case Basis.COMPUTED:
            return ["Reckoned from what went in; no sample was read."]
        case Basis.LABEL:
            return ["By the label of the product alone; no sample was read."]
        case _:
            return []
