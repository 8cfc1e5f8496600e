"""A small yard of the tests' own, its judgements, and a real store in a file."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from monitor.alarms.acts.alarm_acts import acknowledge_thread_within
from monitor.alarms.round import AlarmRound, AlarmSummary
from monitor.clock import ReadingsClock
from monitor.craft.circuit import Circuit, Drainage
from monitor.craft.protection import LayupState, plain_water
from monitor.craft.stored import DepartedCraft, StoredCraft
from monitor.store.store import Store
from monitor.yard.alarm import Alarm
from monitor.yard.assessment import (
    Assessment,
    Caution,
    Certainty,
    Hazard,
    Severity,
    Standing,
    Subject,
    Urgency,
)
from monitor.yard.duty import OwnerTelling
from monitor.yard.message import Message
from monitor.yard.space import Person, Role, Sensor, Space, SpaceKind, Yard
from tests.real.stores import scene_url
from tests.written import written

ZONE = ZoneInfo("America/Chicago")
FOUR = datetime(2026, 11, 14, 16, 0, tzinfo=ZONE).astimezone(UTC)

OPERATOR = Person(
    id="maren", name="Maren Ulv", mail="maren@yard.example", roles=frozenset({Role.OPERATOR})
)
MECHANIC = Person(
    id="joss", name="Joss Keld", mail="joss@yard.example", roles=frozenset({Role.MECHANIC})
)
OWNERS = tuple(
    Person(
        id=f"owner-{n}",
        name=f"Owner {n}",
        mail=f"owner{n}@post.example",
        roles=frozenset({Role.OWNER}),
        temperature_unit="F" if n == 2 else None,
    )
    for n in range(1, 4)
)


def yard(people: Iterable[Person] = (OPERATOR, MECHANIC, *OWNERS)) -> Yard:
    """Kettlemoss Yard, fictional."""
    return Yard(
        id="kettlemoss",
        name="Kettlemoss Yard",
        zone=ZONE,
        latitude=46.1,
        longitude=-92.4,
        temperature_unit="C",
        volume_unit="L",
        spaces=(
            Space(id="barn", name="Stove Barn", kind=SpaceKind.HEATED),
            Space(id="shed", name="Long Shed", kind=SpaceKind.COLD),
            Space(id="row", name="North Row", kind=SpaceKind.WRAPPED),
            Space(id="rack", name="Lee Rack", kind=SpaceKind.OPEN),
        ),
        sensors=(
            Sensor(name="shed-corner", space="shed"),
            Sensor(name="barn-corner", space="barn"),
        ),
        people=tuple(people),
        # Owners wait for nobody's answer here; tests/alarms/telling/test_owners.py has them wait.
        owners=OwnerTelling(without_answer=timedelta(0)),
    )


def craft(craft_id: str, name: str, space: str, owner: str = "", parts: int = 1) -> StoredCraft:
    """A craft whose circuits all hold plain water."""
    names = ["head passages", "water box", "cooling hoses", "bailer", "shower pump", "intercooler"]
    circuits = tuple(
        Circuit(
            id=names[n % len(names)].replace(" ", "-") + ("" if n < len(names) else str(n)),
            name=names[n % len(names)],
            volume_l=0.3,
            lag_low_h=1.5,
            lag_high_h=4.0,
            heat_capacity_kj_k=20.0,
            material="aluminium",
            drainage=Drainage.PARTLY,
        )
        for n in range(parts)
    )
    return StoredCraft(
        id=craft_id,
        name=name,
        profile="pwc-two-stroke",
        owner=owner,
        space=space,
        berth=f"{space}-{craft_id}",
        circuits=circuits,
        protection={
            each.id: plain_water(each.id, LayupState.UNKNOWN, "nothing on record")
            for each in circuits
        },
    )


def frost(
    which: StoredCraft,
    standing: Standing,
    at: datetime,
    *,
    part: str = "",
    deadline: datetime | None = None,
    low_c: float = -12.0,
    limit_c: float = 0.0,
    hazard: Hazard = Hazard.FROST,
) -> Assessment:
    """What judgement says of one circuit, or of another part against another hazard."""
    quiet = standing in {Standing.HOLDING, Standing.NOT_KNOWN}
    return Assessment(
        subject=Subject(which.space, which.id, part or which.circuits[0].id),
        hazard=hazard,
        standing=standing,
        at=at,
        **written(
            "No evidence on record, so it is judged as plain water, which freezes at 0 °C;"
            " the coming low is the lowest of the last three nights.",
            ""
            if quiet
            else "Drain the passages bow up, or pour 50 % antifreeze until it runs out.",
        ),
        now_c=1.0,
        low_c=low_c,
        low_at=at + timedelta(hours=15),
        limit_c=limit_c,
        margin_k=low_c - limit_c,
        deadline=deadline,
        ends=None if deadline is None else deadline + timedelta(hours=3),
        urgency=Urgency.UNKNOWN if quiet else Urgency.EXPECTED,
        severity=Severity.UNKNOWN if quiet else Severity.SEVERE,
        certainty=Certainty.LIKELY,
        cautions=() if quiet else (Caution.GLYCOL, Caution.CARBON_MONOXIDE),
    )


def heat(standing: Standing, at: datetime, deadline: datetime | None = None) -> Assessment:
    """What judgement says of a heated space."""
    return Assessment(
        subject=Subject("barn"),
        hazard=Hazard.AIR,
        standing=standing,
        at=at,
        **written("Stove Barn follows the outdoor air: its heat is lost."),
        now_c=4.0,
        low_c=-4.5,
        limit_c=0.0,
        margin_k=-4.5,
        deadline=deadline,
        urgency=Urgency.EXPECTED,
        severity=Severity.SEVERE,
        certainty=Certainty.LIKELY,
    )


def later(assessment: Assessment, at: datetime, standing: Standing | None = None) -> Assessment:
    """The same judgement at another time, with another standing where one is given."""
    return replace(assessment, at=at, standing=standing or assessment.standing)


class Scene:
    """A yard with a real store and a clock that the test moves."""

    def __init__(self, folder: Path, the_yard: Yard | None = None) -> None:
        folder.mkdir(exist_ok=True)
        self.url = scene_url(folder)
        self.yard = the_yard or yard()
        self.clock = ReadingsClock(FOUR)
        self.store = Store(self.url, self.yard.id)
        self._stood: dict[str, StoredCraft] = {}
        self._left_at: dict[str, datetime] = {}
        self.craft: Mapping[str, StoredCraft] = {}
        self.round = self._new_round()

    def _new_round(self) -> AlarmRound:
        return AlarmRound(
            self.store, self.yard, self.clock, read_departed=lambda _, ids: self._departed(ids)
        )

    def _departed(self, ids: Collection[str]) -> Mapping[str, DepartedCraft]:
        """Craft that a test has taken out of `craft` since an earlier round."""
        return {
            key: DepartedCraft(
                craft=self._stood[key], left_at=self._left_at.setdefault(key, self.clock.now())
            )
            for key in ids
            if key in self._stood
        }

    def reopen(self) -> None:
        """What a restart leaves: the store's file, nothing in memory."""
        self.store.close()
        self.store = Store(self.url, self.yard.id)
        self.round = self._new_round()

    def judge(self, *assessments: Assessment) -> AlarmSummary:
        """One round on these judgements, at the clock's time."""
        with self.store.transaction() as tx:
            tx.assessments.replace_judgements(later(each, self.clock.now()) for each in assessments)
        self._stood |= self.craft
        self._left_at = {k: at for k, at in self._left_at.items() if k not in self.craft}
        return self.round.run(self.craft)

    def after(self, **time: float) -> None:
        """Move the clock on."""
        self.clock.advance_to(self.clock.now() + timedelta(**time))

    def acknowledge_thread(self, thread: str, by: str) -> list[Alarm]:
        """Acknowledge what a thread has told of, as the link in a letter does."""
        with self.store.transaction() as tx:
            return acknowledge_thread_within(tx, thread, by, "", self.clock.now())

    def messages(self, person: str = "") -> list[Message]:
        """What was written so far, the oldest first; of one person only, if named."""
        with self.store.snapshot() as tx:
            written = [message for message, _ in tx.outbox.newest_messages(limit=10_000)]
        return [m for m in reversed(written) if not person or m.person == person]


# The twelve craft of the fictional yard: when each gets its first ice on the night of -12 °C.
NIGHT = (
    ("K11", "Osprey", "rack", "18:15"),
    ("K9", "Bittern", "row", "18:20"),
    ("K5", "Pintail", "rack", "18:55"),
    ("K7", "Dipper", "rack", "19:10"),
    ("K12", "Killdeer", "row", "19:20"),
    ("K3", "Grebe", "row", "23:50"),
    ("K2", "Plover", "shed", "01:40"),
    ("K8", "Heron", "shed", "06:48"),
)
QUIET = (
    ("K1", "Teal", "shed"),
    ("K4", "Sora", "row"),
    ("K6", "Coot", "rack"),
    ("K10", "Loon", "barn"),
)


def judge_lost_heat(scene: Scene, boat: StoredCraft, ice_at: datetime, rounds: int) -> None:
    """Every ten minutes, heat that falls away, and a craft that freezes there without it."""
    for _ in range(rounds):
        now = scene.clock.now()
        scene.judge(
            frost(boat, Standing.EXPOSED, now, deadline=ice_at),
            heat(Standing.FALLING, now, ice_at),
        )
        scene.after(minutes=10)


def cold_night(scene: Scene) -> list[Assessment]:
    """Twelve craft, eight of them not safe; three have owners who are told."""
    owners = {"K11": "owner-1", "K2": "owner-2", "K1": "owner-3"}
    fleet = {
        craft_id: craft(craft_id, name, space, owners.get(craft_id, ""), parts=2)
        for craft_id, name, space, *_ in (*NIGHT, *QUIET)
    }
    scene.craft = fleet
    judged = []
    for craft_id, _, _, clock in NIGHT:
        hour, minute = map(int, clock.split(":"))
        day = 14 if hour > 12 else 15
        deadline = datetime(2026, 11, day, hour, minute, tzinfo=ZONE).astimezone(UTC)
        which = fleet[craft_id]
        judged.append(frost(which, Standing.EXPOSED, FOUR, deadline=deadline))
        judged.append(
            frost(
                which,
                Standing.EXPOSED,
                FOUR,
                part=which.circuits[1].id,
                deadline=deadline + timedelta(hours=2),
            )
        )
    judged += [
        frost(fleet[craft_id], Standing.HOLDING, FOUR, low_c=-5.0, limit_c=-30.0)
        for craft_id, *_ in QUIET
    ]
    return judged
