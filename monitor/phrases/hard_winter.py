"""A hard-winter test in words: what it comes to, what saves the craft, and on what it rests."""

from collections.abc import Iterator, Sequence
from datetime import date, datetime, time, timedelta
from math import ceil

import numpy as np

from monitor.craft.plan.step import JobPlan
from monitor.craft.plan.yard import DAY_MINUTES, Supply, sum_supplies
from monitor.phrases.names import SPACE_KIND, place_name, plain, space_name
from monitor.phrases.numbers import nights_in_short
from monitor.phrases.short_job import short_job
from monitor.phrases.step_in_words import CircuitNames
from monitor.phrases.supplies import minutes_words, product_words, work_days_words
from monitor.wording import Wording, listed, listed_first
from monitor.yard.hard_winter import (
    IN_DANGER,
    UNREAD_COLDER_K,
    CraftWinter,
    Following,
    HardWinter,
    SpaceWinter,
    WinterOutcome,
    night_of_time,
)

OUTCOME_WORDS = {
    WinterOutcome.SUSPECT: "has been through ice",
    WinterOutcome.LOST: "would be damaged",
    WinterOutcome.AT_RISK: "may be damaged",
    WinterOutcome.NOT_KNOWN: "not known",
    WinterOutcome.BY_HEAT: "stands while the heat stays on",
    WinterOutcome.HOLDS: "stands",
}
_COUNTED = {  # one craft, and several
    WinterOutcome.SUSPECT: ("has been through ice already", "have been through ice already"),
    WinterOutcome.LOST: ("would be damaged", "would be damaged"),
    WinterOutcome.AT_RISK: ("may be damaged", "may be damaged"),
    WinterOutcome.NOT_KNOWN: ("is not known", "are not known"),
    WinterOutcome.BY_HEAT: (
        "stands only while the heat stays on", "stand only while the heat stays on",
    ),
    WinterOutcome.HOLDS: ("stands", "stand"),
}  # fmt: skip
_JOB_WORDS = 16
_LATE_NAMED = 5
_NAMED = 12  # craft that stand, before the rest are counted


def winter_title(winter: HardWinter) -> str:
    """``Hard-winter test of Kettlemoss Yard``."""
    return f"Hard-winter test of {plain(winter.yard.name)}"


def weather_words(winter: HardWinter, words: Wording) -> str:
    """Which winter it is, and its coldest night outdoors."""
    weather = winter.weather
    colder = (
        f", {words.difference(weather.colder_by_k)} colder throughout"
        if weather.colder_by_k
        else ""
    )
    lowest = int(np.nanargmin(weather.air_c))
    low = words.temperature(float(weather.air_c[lowest]), 0)
    at = weather.time_of(lowest * weather.step_h)
    return (
        f"{plain(weather.source, 120)}{colder}, from {words.day(weather.begin)} to"
        f" {words.day(weather.end)}. Coldest outdoors: {low} on {night_words(at, winter)}."
    )


def night_words(at: datetime, winter: HardWinter) -> str:
    """``the night of 3 Jan``: of the evening before it."""
    return f"the night of {short_night(at, winter)}"


def short_night(at: datetime, winter: HardWinter) -> str:
    """``3 Jan``: the evening that a time's night is named by."""
    evening = night_of_time(at, winter.yard)
    return f"{evening.day} {evening:%b}"


def count_words(winter: HardWinter) -> str:
    """What becomes of all craft, the worst first; of each how many."""
    counts = winter.count_outcomes()
    said = [
        f"{count} {_COUNTED[outcome][count != 1]}" for outcome, count in counts.items() if count
    ]
    of = len(winter.craft)
    if not said:
        return "No craft is in the yard's care."
    return f"Of {of} craft {listed(said)}." if of > 1 else f"The one craft: {said[0]}."


def answer_sentences(winter: HardWinter, words: Wording) -> Iterator[str]:
    """The answer: what becomes of the craft, what saves them, by when, and what that takes."""
    yield count_words(winter)
    danger = [one for one in winter.craft if one.outcome in IN_DANGER]
    if danger:
        yield from _work_sentences(danger, winter, words)
    yield from _doubt_sentences(winter)


def _work_sentences(
    danger: Sequence[CraftWinter], winter: HardWinter, words: Wording
) -> Iterator[str]:
    """What saves the craft in danger, the first of it by when, and what it takes."""
    due = next((one for one in danger if one.due_at is not None), None)
    if due is not None and due.due_at is not None:
        yield (
            f"First to be done: {plain(due.craft.name)}, before {night_words(due.due_at, winter)}."
        )
    yield work_words(winter)
    yield pace_words(winter)
    supplies = supplies_of(winter)
    yield from (f"{supply_in_words(one, words)}." for one in supplies)
    if not supplies:
        yield "It takes no antifreeze."
    without = sum(not one.steps for one in danger)
    if without:
        of_them = "one of them" if without == 1 else f"{without} of them"
        yield f"Of {of_them} no job could be planned: laidup layup plan tells why."


def _doubt_sentences(winter: HardWinter) -> Iterator[str]:
    """What no work of the list mends: suspected damage, records unread, hours not known."""
    counts = winter.count_outcomes()
    if counts[WinterOutcome.SUSPECT]:
        yield (
            "Presume damage in what has been through ice, and look before it is started: no work"
            " in this list undoes that."
        )
    unreadable = [plain(one.craft.name) for one in winter.craft if one.craft.unreadable]
    if unreadable:
        yield (
            f"The record of {listed_first(unreadable, _LATE_NAMED)} cannot be believed, so all of"
            " it counts as plain water."
        )
    if counts[WinterOutcome.NOT_KNOWN]:
        yield (
            "Not known counts as unsafe: the hours that the weather lacks may damage them. Fill the"
            " gaps and run the test again, or do the work."
        )


def work_words(winter: HardWinter) -> str:
    """Hours of hands for all craft in danger, or days of them."""
    danger = [one for one in winter.craft if one.outcome in IN_DANGER]
    minutes = sum(one.minutes for one in danger)
    untimed = sum(not step.minutes for one in danger for step in one.steps)
    more = f", beside {untimed} steps of which nobody knows the time yet" if untimed > 1 else ""
    more = ", beside a step of which nobody knows the time yet" if untimed == 1 else more
    craft = "it" if len(danger) == 1 else f"all {len(danger)}"
    return f"To save {craft}: {work_days_words(minutes, DAY_MINUTES)}{more}."


def pace_words(winter: HardWinter) -> str:
    """When the yard's crew is through with it, and what it then comes too late for."""
    late, done_on = late_craft(winter)
    hands = winter.yard.duty.hands
    crew = "1 person who works" if hands == 1 else f"{hands} people who work"
    each = "" if hands == 1 else " each"
    said = (
        f"{crew[:1].upper()}{crew[1:]} in this order from {_day(winter.weather.begin.date())} on,"
        f" {minutes_words(DAY_MINUTES)} a day{each}, are through on {_day(done_on)}"
    )
    said = said.replace(", are through", ", is through") if hands == 1 else said
    if not late:
        return f"{said}, in time for all."
    names = listed_first([plain(one.craft.name) for one in late], _LATE_NAMED)
    return f"{said}: too late for {names}."


def late_craft(winter: HardWinter) -> tuple[list[CraftWinter], date]:
    """Craft that the crew, at work in this order, reaches after their night; when it is through."""
    hands = winter.yard.duty.hands
    begin, now = winter.weather.begin, winter.made_at.astimezone(winter.weather.begin.tzinfo)
    begin = max(begin, now) if begin.date() == now.date() else begin
    midnight = datetime.combine(begin.date() + timedelta(days=1), time(), begin.tzinfo)
    # Of the first day only what is left of it, whose work may end after its night's ice begins.
    first_day = min(DAY_MINUTES, (midnight - begin) / timedelta(minutes=1)) * hands
    late, done_on, minutes = [], begin.date(), 0.0
    for one in winter.craft:
        if one.outcome not in IN_DANGER:
            continue
        minutes += one.minutes
        more_days = max(0, ceil((minutes - first_day) / (hands * DAY_MINUTES) - 1e-9))
        done_on = begin.date() + timedelta(days=more_days)
        if one.due_at is None:
            continue
        done_at = begin + timedelta(minutes=minutes / hands)
        if done_on > night_of_time(one.due_at, winter.yard) or (
            not more_days and done_at > one.due_at
        ):
            late.append(one)
    return late, done_on


def _day(day: date) -> str:
    return f"{day.day} {day:%b}"


def supplies_of(winter: HardWinter) -> tuple[Supply, ...]:
    """What the jobs of all craft in danger pour."""
    plans = (JobPlan(craft=one.craft.id, low_c=0.0, steps=one.steps) for one in winter.craft)
    return sum_supplies(plans)


def supply_in_words(supply: Supply, words: Wording) -> str:
    """So much of a product, in whole containers, for so many craft."""
    many = "container" if supply.containers == 1 else "containers"
    return (
        f"{words.about(supply.litres)} of {product_words(supply.product)}: {supply.containers}"
        f" {many} of {words.about(supply.product.container_l)}, for {len(supply.craft)} craft"
    )


def craft_place(told: CraftWinter, winter: HardWinter) -> str:
    """Where it stands: ``Long Shed 2``."""
    return place_name(space_name(winter.yard, told.craft.space), told.craft.berth)


def chance_words(told: CraftWinter) -> str:
    """How often it is damaged in this winter; of what only the gaps may damage, that."""
    if told.outcome is WinterOutcome.NOT_KNOWN:
        return "if the gaps are cold"
    return nights_in_short(told.chance)


def outcome_words(told: CraftWinter, winter: HardWinter) -> str:
    """What becomes of it; of one that is lost, the night on which that has become likely."""
    said = OUTCOME_WORDS[told.outcome]
    if told.outcome is not WinterOutcome.LOST or told.likely_at is None:
        return said
    return f"{said}, likely {night_words(told.likely_at, winter)}"


def due_words(told: CraftWinter, winter: HardWinter) -> str:
    """Before which night its work is to be done; any, where no night of this winter presses."""
    return "any" if told.due_at is None else short_night(told.due_at, winter)


def parts_in_danger(told: CraftWinter) -> str:
    """Its circuits that this winter damages, by name."""
    return listed([plain(one.name) for one in told.in_danger])


def saving_job(told: CraftWinter, words: Wording) -> str:
    """What saves it, in a few words."""
    if not told.steps:
        return "look at its record: no job could be planned"
    return short_job(told.steps, CircuitNames.of_craft(told.craft), words, _JOB_WORDS)


def standing_sentences(winter: HardWinter, words: Wording) -> Iterator[str]:
    """The craft that stand, with the least room that any of their circuits has."""
    for outcome in (WinterOutcome.HOLDS, WinterOutcome.BY_HEAT):
        those = [one for one in winter.craft if one.outcome is outcome]
        if not those:
            continue
        names = listed_first([plain(one.craft.name) for one in those], _NAMED)
        head = OUTCOME_WORDS[outcome].replace("stands", "stand" if len(those) > 1 else "stands")
        yield f"{names} {head}.{_least_room(those, words)}"


def _least_room(those: Sequence[CraftWinter], words: Wording) -> str:
    rooms = [
        (circuit.room_k, plain(one.craft.name), plain(circuit.name))
        for one in those
        for circuit in one.circuits
        if np.isfinite(circuit.room_k)
    ]
    if not rooms:
        return " Nothing that can freeze is in what they hold."
    room_k, craft, circuit = min(rooms)
    if room_k <= 0.0:
        return f" Slush may form in {craft}, {circuit}: less than counts as lost."
    return f" Least to spare: {craft}, {circuit}, {words.difference(room_k)}."


def spaces_in_use(winter: HardWinter) -> tuple[SpaceWinter, ...]:
    """The spaces in which craft stand: no others change the answer."""
    used = {one.craft.space for one in winter.craft}
    return tuple(one for one in winter.spaces if one.space.id in used)


def space_sentence(told: SpaceWinter, winter: HardWinter, words: Wording) -> str:
    """How a space is taken to follow the weather, on what that rests, and how cold it gets."""
    space = told.space
    low = words.temperature(told.low_c, 0)
    coldest = f" Coldest there: {low}, {night_words(told.low_at, winter)}."
    return f"{plain(space.name)} ({SPACE_KIND[space.kind]}): {_followed(told, words)}.{coldest}"


def _whole_hours(lag_h: float) -> str:
    """A lag no finer than anybody knows it."""
    return f"about {lag_h:.0f} h" if lag_h >= 1.5 else f"about {lag_h:.1f} h"


def _tenths(share: float) -> str:
    return f"about {max(round(10.0 * share), 1)} tenths"


def _followed(told: SpaceWinter, words: Wording) -> str:
    lag = "" if told.lag_h is None else f"{_whole_hours(told.lag_h)} behind the outdoor air"
    share = told.floor_share
    floor = f" over a floor that counts for {_tenths(share)}" if share > 0.0 else ""
    how = {
        Following.WEATHER: "its air is the weather's own",
        Following.WEATHER_COLDER: (
            f"{words.difference(told.offset_k)} colder than the weather, as its nights were beside"
            " the other row's"
        ),
        Following.HEAT_LEARNT: (
            f"its heat holds {words.temperature(told.level_c or 0.0, 0)} in the coldest hour, by"
            " what it held in past weeks"
        ),
        Following.HEAT_SET: (
            f"its heat is taken to hold {words.temperature(told.level_c or 0.0, 0)}, a little below"
            " its thermostat's setting; no reading shows it yet"
        ),
        Following.LAG_LEARNT: f"{lag}{floor}, as its readings show",
        Following.LAG_CONFIGURED: f"{lag}, as the yard's file says",
        Following.LAG_USUAL: (
            f"{lag}, the quick end of what such buildings do: no reading here tells better"
        ),
    }[told.follows]
    if told.heat_unknown:
        return (
            "nobody knows what its heat holds (no reading shows it, no thermostat is on file), so"
            f" it counts as without: {how}"
        )
    if told.heat_is_lost:
        return f"its heat is lost now, and taken to stay so: {how}"
    if told.heat_off_from is not None:
        return f"without heat from {words.day(told.heat_off_from)} on, as asked: {how}"
    return how


def assumption_sentences(winter: HardWinter, words: Wording) -> Iterator[str]:
    """All that the answer rests on, and what it does not tell."""
    weather = winter.weather
    yield "It is one winter and no forecast: the coming one may be milder, or harder."
    yield from weather.remarks
    if weather.unread_h:
        cold_c = float(np.nanmin(weather.air_c)) - UNREAD_COLDER_K
        yield (
            f"{weather.unread_h:.0f} of its {weather.air_c.size * weather.step_h:.0f} hours are"
            " missing. A craft that they would damage at"
            f" {words.temperature(cold_c, 0)}, which is {words.difference(UNREAD_COLDER_K)} below"
            " the coldest hour there is, is not known, and never told as standing."
        )
    yield (
        "Work counts as the record had it when this was made; what is not proven counts as plain"
        " water. Craft stay where they stand, and those that come later are not in it."
    )
    yield (
        f"Each circuit is followed through {winter.members} equally likely courses of that winter:"
        " quick or slow within its type's range, clear and overcast nights, a computed mix up to a"
        " fifth short, a sample read up to 1 °C wrong either way. Chances are shares of these."
        if words.temperature_unit == "C"
        else f"Each circuit is followed through {winter.members} equally likely courses of that"
        " winter: quick or slow within its type's range, clear and overcast nights, a computed mix"
        " up to a fifth short, a sample read up to 2 °F wrong either way. Chances are shares of"
        " these."
    )
    yield (
        "Lost is what is a third ice; less ice in water counts a tenth as much. Yards differ in how"
        " much of that breaks: these are the rules of the watch's own alarms."
    )
    yield (
        "How the yard's air lies to the weather's station is not known; a hollow is colder. Warmth"
        " of sun, lamps and people is not counted on."
    )
    if any(
        one.follows in {Following.HEAT_LEARNT, Following.HEAT_SET} for one in spaces_in_use(winter)
    ):
        yield (
            "Heat that holds is taken to stay on all winter and to be strong enough for its cold."
            " laidup prove --heater-off SPACE tells it without."
        )
    if winter.learnt_at is None:
        yield "The yard has no readings to learn from: all spaces go by the usual figures."
    else:
        yield f"Learnt of the spaces from readings up to {words.day(winter.learnt_at)}."
    yield "Batteries, damp and snow are not in this test."
