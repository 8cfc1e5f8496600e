"""What owners are told in English: a fact a sentence, and no work that is the yard's."""

from monitor.craft.acts import ACTS
from monitor.phrases.owner_catalogue import TOLD_ACTS, Counted, DayPatterns, OwnerCatalogue

ENGLISH = OwnerCatalogue(
    language="en",
    days=DayPatterns(),
    hour="{hour}",
    last_word="and",
    or_word="or",
    and_more=" and {count} more",
    and_more_apart="; and {count} more",
    at_hour="at {hour}",
    at_day="on {day} at {hour}",
    from_hour="from {hour} on",
    from_day="from {day} {hour} on",
    since_hour="since {hour}",
    since_day="since {day} {hour}",
    nights=Counted("{nights} night in {of} like this", "{nights} nights in {of} like this"),
    over_nights="more than {nights} nights in {of} like this",
    hardly_a_night="hardly a night like this",
    nothing_to_do="You have nothing to do.",
    do_not_start="Please do not start {names} before we write again.",
    leave_alone=Counted(
        "Please do one thing: leave {names} alone. Do not start it and do not charge its battery"
        " until the yard has looked inside.",
        "Please do one thing: leave {names} alone. Do not start them and do not charge their"
        " batteries until the yard has looked inside.",
    ),
    ice_may_form="Ice may form in it {since}, {often}.",
    what_can_freeze="What can freeze: {parts}.",
    ice_has_been="Ice has most likely been in it: {parts}.",
    ice_has_been_somewhere="Ice has most likely been in it.",
    harm_not_known="Nobody knows before it has thawed whether it did harm.",
    of_cause={
        "frost": "Frost may reach it.",
        "ice": "Ice has most likely been in it.",
        "third-ice": "A third of its antifreeze is most likely ice.",
        "voided": "Its lay-up no longer counts, and has to be done again before a frost.",
    },
    who_of_yard="{person} at {yard}",
    taken_on="{who} took charge of it {at}.",
    yard_just_told="{yard} has just been told as well.",
    yard_told="{yard} was told {at} and has not answered yet.",
    on_the_list="It is on the list of what {yard} does next.",
    done_since="Done since: {acts}.",
    acts={act: ACTS[act].name for act in TOLD_ACTS},
    safe_since="{name} is safe {since}, as far as laidup can judge.",
    safe_by="{name} is safe {since}, by {person}, as far as laidup can judge.",
    no_danger="{name} is in no danger any more, as far as laidup can judge.",
    left="{name} has been out of the yard {since}, which watches it no longer: whatever in it can"
    " still freeze is for its keeper to drain or treat.",
    left_iced="{name} has been out of the yard {since}. Ice had been in it, and nobody had looked"
    " inside: have that done before it is started.",
    left_first="The yard no longer watches {names}.",
    nobody_looked="The frost is over for {name}. Ice has been in it, and nobody has looked inside"
    " yet.",
    next_looked="We write again when the yard has looked inside.",
    next_safe="We write again when it is safe, or if ice forms.",
    contact="Questions: {ways}.",
    by_telephone="call {telephone}",
    by_reply="reply to this mail",
    by_yard="ask {yard}",
    and_more_craft="And {count} more of yours.",
    foot="An aid to judgement, not a life-safety device.",
    your_craft="Your craft",
    subject_ice=Counted(
        "Ice in {names}: please do not start it", "Ice in {names}: please do not start them"
    ),
    subject_frost=Counted(
        "{names} is not safe from frost; {yard}", "{names} are not safe from frost; {yard}"
    ),
    subject_cause="{names}: {what}; {yard}",
    cause_titles={
        "frost": "frost ahead",
        "ice": "ice",
        "third-ice": "a third of the mix is ice",
        "voided": "lay-up undone",
    },
    yard_is_on_it="the yard is on it",
    yard_has_been_told="the yard has been told",
    subject_over_iced="The frost is over, but please do not start {names} yet",
    subject_left_iced="Do not start {names} yet: ice has been inside",
    subject_left=Counted("{names} has left the yard", "{names} have left the yard"),
    subject_over=Counted("{names} is safe again", "{names} are safe again"),
    week_title="Week {week} at {yard}",
    week_subject="{title}: {state}",
    week_dates="{first} to {last}, for {name}",
    week_safe=Counted(
        "{names} is safe from frost tonight. You have nothing to do.",
        "{names} are safe from frost tonight. You have nothing to do.",
    ),
    week_unsafe=Counted(
        "{names} is not safe from frost tonight. You have nothing to do. Please do not start it"
        " before we write again.",
        "{names} are not safe from frost tonight. You have nothing to do. Please do not start them"
        " before we write again.",
    ),
    week_unknown=Counted(
        "Nobody knows whether {names} is safe from frost tonight. You have nothing to do.",
        "Nobody knows whether {names} are safe from frost tonight. You have nothing to do.",
    ),
    week_blind="Please ask {yard} how your craft stand: laidup has judged nothing {since}.",
    week_subject_safe=Counted("{names} is safe from frost", "{names} are safe from frost"),
    week_subject_unknown="nobody knows how {names} will stand the night",
    week_room="It is safe from frost to {room} below tonight's low.",
    week_dry="No water is left in it that could freeze.",
    week_not_read="The air of {space} is not read at present.",
    week_undone="It is not laid up in full yet; the yard does that before it freezes.",
    week_battery_first="The battery of {names} needs work tonight; the yard sees to it. You have"
    " nothing to do.",
    week_subject_battery="the battery of {names} needs work",
    week_battery_freezing="Its battery may freeze tonight; the yard looks after it.",
    week_battery_wanting="Its battery wants a look; the yard sees to it.",
    week_battery_well="Its battery is well charged.",
    week_done="Done this week: {acts}.",
    week_coldest="Coldest air around it: {low}, {at}.",
    week_threatened="Frost threatened it {since}. {answer}",
    week_again="We write at once if there is danger, else in a week.",
    week_picture="The week's air in {spaces}.",
    week_legend="Line: air at its coldest. Dashed: dew point. Tinted: below freezing.",
    week_no_picture="The picture of the week could not be drawn.",
    promises_nothing="An aid to judgement, not a life-safety device; it promises nothing.",
    key_line="Key of the yard: {key}",
    record_line="Lay-up record: {head}",
    rehearsal_subject="Rehearsal: this is how {yard} reaches you",
    rehearsal_head="REHEARSAL from {yard}, {at}.",
    rehearsal_text="{name}, this is how laidup's letters reach you. Nothing is wrong, and there is"
    " nothing to do.",
    not_life_safety="laidup is an aid to judgement, not a life-safety device; it does not replace"
    " smoke, gas or carbon-monoxide alarms, local codes or licensed people.",
    bare_subject="Please do not start {names} before you have asked the yard",
    bare_over_subject="News of {names}: please ask the yard",
    bare_text="Please do not start {names}, and ask the yard how it stands. This letter could not"
    " be written in full.",
    bare_over_text="What was told of {names} is over. Please ask the yard before you start it."
    " This letter could not be written in full.",
    parts={},
    sides={},
)
