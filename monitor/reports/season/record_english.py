"""The words of a season record in English."""

from monitor.phrases.causes import CAUSE_TITLES
from monitor.phrases.owner_catalogue import Counted
from monitor.phrases.standings import standing_words
from monitor.reports.season.figures import NightVerdict, NotProved
from monitor.reports.season.record_catalogue import DOUBTS, JUDGED, RecordWords
from monitor.yard.reading import Channel
from monitor.yard.standing import STANDINGS

ENGLISH_RECORD = RecordWords(
    language="en",
    day="{day} {month} {year}",
    date_of_work="{day} {month}",
    work_at="{day} {hour}",
    work_on="{day}, hour not told",
    month_axis="{month} {year}",
    day_axis="{day} {month}",
    decimal=".",
    not_known="not known",
    not_read="not read",
    not_on_record="not on record",
    under_a_tenth="under 0.1 h",
    hours_of="{hours} of {whole}",
    to="{since} to {until}",
    stretches_more=" and {count} stretches more",
    left_out="{count} more stand in the JSON inside.",
    title="Season record of {name}, {season}",
    attachment_words="The figures of this record for machines: JSON, SI units, UTC",
    foot="An aid to judgement, not a life-safety device.",
    craft="Craft",
    craft_type="Type",
    hull_number="Hull number",
    owner="Owner",
    care="In the yard's care",
    made="Made",
    times="Times",
    care_still="{since} to {until}, and still here then",
    made_by="{at}, by laidup {program}",
    times_by="by the clock of {zone}; in the JSON inside, UTC",
    part_short="In short",
    part_nights="Night by night",
    part_air="Where it stood, and the air there",
    part_work="Work on record",
    part_told="Alarms, answers and messages",
    part_standing="Damp and battery",
    part_watch="The watch itself",
    part_open="What this record does not prove",
    part_check="How to check it",
    for_yard="For the yard",
    for_owner="Owner, on receiving the craft",
    for_witness="Witness",
    signing="On handing over",
    signing_words=(
        "Who signs confirms that the craft was handed over and that this record was received; "
        "not that every figure in it is right. Condition of the craft, as both saw it:"
    ),
    unreadable=(
        "Nothing of the record of work counts, and every circuit is taken for plain water: {why}."
    ),
    no_night="No night has passed yet.",
    nights=Counted(
        "1 night",
        "{count} nights",
    ),
    nights_said="{nights}: {verdicts}.",
    worst=" The worst: {day}.",
    unjudged=Counted(
        "On 1 night no round judged it against frost: no frost alarm could come then.",
        "On {count} nights no round judged it against frost: no frost alarm could come then.",
    ),
    lowest="Lowest air around it: {low} in {space}, in the hour from {at}.",
    heard_part="Heard {share} of its {hours} here; of {unheard} nothing is known.",
    heard_all="Heard all of its {hours} here but for moments.",
    own_alarms=Counted(
        "1 alarm of its own, {answers}.",
        "{count} alarms of its own, {answers}.",
    ),
    never_answered="{count} never answered",
    each_answered="each answered",
    no_own_alarm="No alarm of its own.",
    nights_drawn=(
        "Lowest air and lowest inside of each night from {first} to {last}, with what the craft "
        "held. {nights}"
    ),
    nights_caption=(
        "Each night's lowest air (square: colder than it could stand, or ice computed; ring: "
        "near; dot: all else) and lowest inside the circuit with the least to spare (dash); the "
        "heavy line is where ice begins in it. Grey: nights that are not known."
    ),
    all_held=(
        "On every night it held, as measured and computed; of each, four fifths or more was heard."
    ),
    without_reading=Counted(
        "1 night without any reading: {stretches}. Nobody knows how cold they were.",
        "{count} nights without any reading: {stretches}. Nobody knows how cold they were.",
    ),
    near_title="Nights that came near its limit, passed it, or are not known{where}",
    all_in=", all in {space}",
    night_from="Night from",
    space="Space",
    expected="Expected (four in five)",
    came="Came",
    inside="Inside, least to spare",
    ice_begins="Ice begins",
    so="So",
    not_said="not said",
    expected_between="{expected} ({cold} to {warm})",
    probe="{low} (probe)",
    inside_of="{low}: {name}",
    nothing_freezes="nothing can freeze",
    limit_by="{limit}, {state}",
    heard_share=", heard {share}",
    stood_title="Where it stood",
    since="From",
    until="To",
    space_berth="Space and berth",
    entered_by="Entered by",
    berth="{space}, berth {berth}",
    air_title="The air while it stood there, of the hours that were heard",
    heard="Heard",
    low="Low",
    high="High",
    below="Below {limit}",
    wet="Wet",
    air_drawn=(
        "Hours of {space} by the temperature of its air: half of them below {middle}, nine of "
        "ten between {cold} and {warm}; {unheard} not heard."
    ),
    air_caption="{space}: hours at each temperature, and hours that were not heard (hatched).",
    not_heard="not heard",
    no_work=(
        "No work of this season is on record. A circuit that nothing on record protects counts "
        "as plain water."
    ),
    work_title="What was done, by whom, with what was seen",
    when_whom="When, by whom",
    what="What",
    evidence="Evidence, as entered",
    declined_title="Offered by the yard, and declined by the owner",
    when_told="When, told by whom",
    note_not_said="not said",
    no_declined="No work is on record as declined by the owner.",
    done_by="{person}, {at}",
    nothing_noted="nothing noted",
    photos=Counted(
        "1 photo by hash in the JSON",
        "{count} photos by hash in the JSON",
    ),
    written_down="written down {at}",
    withdrawn="Withdrawn: {what}",
    taken_back="taken back by {person}",
    taken_back_at="taken back by {person}, {at}",
    corrected="corrected, first written and now: {changes}",
    the_same="the same",
    no_alarm="No alarm was raised over it or its space.",
    alarms_title="Alarms of the craft, and of its space while it stood there",
    raised="Raised",
    answered="Answered",
    waited="Waited",
    over="Over",
    nobody_answered="nobody answered",
    answered_by="{person}, {at}",
    the_first="{answered} (the first)",
    raised_again=Counted(
        "{at}, and 1 time more",
        "{at}, and {count} times more",
    ),
    not_over="not seen to end",
    no_message="No message to its owner is on record.",
    messages=Counted(
        (
            "1 message to its owner: {taken} taken by the receiver's server, {refused} refused, "
            "{waiting} still waiting."
        ),
        (
            "{count} messages to its owner: {taken} taken by the receiver's server, {refused} "
            "refused, {waiting} still waiting."
        ),
    ),
    page_unopened=" The owner's page was never seen to be opened.",
    page_opened=" The owner's page was last opened {at}.",
    warnings_title="Warnings to the owner",
    written="Written",
    subject="Subject",
    way="Way",
    delivered="Delivered",
    other_craft="told of other craft too",
    staff_told=Counted(
        (
            "The yard's people were told of these alarms 1 time, each alarm in each message "
            "counted: {taken} taken by the receiver's server, {refused} refused, {given_up} "
            "given up, {waiting} still waiting. Whether a message was read nobody can see."
        ),
        (
            "The yard's people were told of these alarms {count} times, each alarm in each "
            "message counted: {taken} taken by the receiver's server, {refused} refused, "
            "{given_up} given up, {waiting} still waiting. Whether a message was read nobody "
            "can see."
        ),
    ),
    untaken=Counted(
        "Of 1 alarm no message to the yard's people was taken.",
        "Of {count} alarms no message to the yard's people was taken.",
    ),
    may_lack=Counted(
        (
            "For 1 alarm messages may be missing here: an earlier version of laidup did not "
            "keep which alarms a message told of."
        ),
        (
            "For {count} alarms messages may be missing here: an earlier version of laidup did "
            "not keep which alarms a message told of."
        ),
    ),
    staff_title="Who of the yard's people was told of them, first what did not get through",
    alarm="Alarm",
    whom="To",
    taken="Taken",
    first_answer="First answer",
    later="{span} later",
    tries=Counted(
        "{fate}, 1 try",
        "{fate}, {count} tries",
    ),
    metal="Its bare metal, as judged: {said}.",
    metal_unjudged="Its bare metal was not judged against damp.",
    battery="Its battery, as judged: {said}.",
    battery_unjudged="Its battery was not judged.",
    rest_title="Battery at rest, as read",
    when="When",
    volts="Volts",
    by="By",
    gaps_title="Hours in a row of which less than half was heard, the longest first",
    hours="Hours",
    no_gap="No hour went unheard.",
    sensors_title="Sensors that this record relies on",
    sensor="Sensor",
    where="Where",
    compared="Compared with a standard",
    no_sensor="No sensor hung where it stood.",
    doubts_title="Sensors in doubt or silent",
    the_end="the end",
    how="How",
    no_doubt="No judgement of a sensor in doubt or silent is on record.",
    gaps_stay=" The hours above went unheard all the same.",
    height="{space}, {height} m up",
    never_compared="never, as far as is on record",
    check_inside=(
        "This file carries season-record.json, which holds every figure of these pages and all "
        "that they leave out: each night, gap and version of the work. A reader of PDF saves it "
        "from its list of attachments."
    ),
    sealed=(
        "The yard has sealed it. The command laidup verify, on any machine and without a "
        "network, tells whether anything in it was changed since. It trusts a key that you have "
        "from the yard by another way, or the head in a mail of the yard that you kept. The key "
        "that sealed this has the fingerprint {fingerprint}."
    ),
    not_sealed=(
        "It is not sealed: whoever has the file can change it, and nothing in it shows that."
    ),
    unsigned=(
        "The PDF itself bears no signature: these pages can be changed and nothing shows it. "
        "What counts is the file inside."
    ),
    signed=(
        "The PDF bears a signature (PAdES), so a reader of PDF tells whether these pages are as "
        "they were set."
    ),
    self_issued=(
        "It also says that the signer or the issuer is unknown: the yard has issued its "
        "certificate itself, so no authority says whose it is. season-record.json names that "
        "certificate (its SHA-256 begins {digits}), so whoever trusts the yard's key can trust "
        "the signature; laidup verify looks at both."
    ),
    issued_by=(
        "It was made with a certificate that {issuer} has issued to {subject} (its SHA-256 "
        "begins {digits}; season-record.json names it too)."
    ),
    last_hash="; the last one's hash begins {begins}",
    chain=Counted(
        (
            "The record of work has 1 link{last}. Mails of the yard carry the head of its "
            "record as it was then: whoever kept one can hold it against this record."
        ),
        (
            "The record of work has {count} links{last}. Mails of the yard carry the head of "
            "its record as it was then: whoever kept one can hold it against this record."
        ),
    ),
    months=("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"),
    verdicts={
        NightVerdict.ICE: "with ice computed in it",
        NightVerdict.PASSED: "colder than it could stand",
        NightVerdict.NOT_KNOWN: "not known",
        NightVerdict.NEAR: "near its limit",
        NightVerdict.HELD: "held",
    },
    not_proved={
        NotProved.NOT_IN_WATER: (
            "The temperature inside a circuit is computed from the air around the craft, unless "
            "a probe is named. Computed ice is no ice that somebody saw."
        ),
        NotProved.SENSOR_PLACE: (
            "Sensors are taken to have hung where the yard's file says today, in air that is "
            "like the air around this craft."
        ),
        NotProved.BETWEEN_SENSORS: (
            "Inside one space a corner without a sensor may have been colder."
        ),
        NotProved.WORK_AS_TOLD: (
            "Work is told as people entered it. The chain of entries shows later changes, and "
            "not whether an entry was true when it was written."
        ),
        NotProved.NOT_HEARD: (
            "Of hours that were not heard nothing is known. They count neither as mild nor as dry."
        ),
        NotProved.READ_OR_NOT: "That a server took a message does not show that somebody read it.",
        NotProved.STAFF_MESSAGES: (
            "Of some alarms nobody kept which messages to the yard's own people told of them. "
            "That none is here shows neither that they were told nor that they were not."
        ),
        NotProved.NO_DAMAGE_SHOWN: (
            "Nothing here shows that the craft is undamaged, or when a damage came about. Ice "
            "shows its damage at the thaw."
        ),
        NotProved.SKY: (
            "Under a clear sky surfaces outdoors go some degrees below the air. The nights' "
            "lows are of the air; rounds of judgement allow for the sky."
        ),
        NotProved.BEFORE_THE_WATCH: "The craft stood in the yard before its air was first heard.",
    },
    standings={
        (hazard, one): standing_words(one, hazard) for hazard in JUDGED for one in STANDINGS[hazard]
    },
    doubts={one: str(one) for one in DOUBTS},
    causes=CAUSE_TITLES,
    fates={
        "taken": "taken",
        "refused": "refused",
        "given up": "given up",
        "waiting": "waiting",
        "put off": "put off",
    },
    roles={
        "operator": "operator",
        "mechanic": "mechanic",
    },
    measured={one: str(one) for one in Channel},
)
