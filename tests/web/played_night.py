"""The demo's yard as its first hard night comes: real readings, judged, told, in a real store."""

import shutil
from contextlib import redirect_stdout
from dataclasses import dataclass
from datetime import timedelta
from io import StringIO
from pathlib import Path

from monitor.alarms.round import AlarmRound
from monitor.clock import ReadingsClock
from monitor.judgement.inputs import CraftInCare
from monitor.judgement.round import Round
from monitor.settings.load import Settings, load_settings, origin_of
from monitor.store.migrate import migrate
from monitor.store.store import Store
from monitor.store.taking_in import take_in
from simulator import kettlemoss
from simulator.publish import write_csv
from tests.commands.yard_files import copied_yard, laidup

BEGIN, EVENING = kettlemoss.local(13, 17, 15), kettlemoss.local(14, 18, 30)
_STEP = timedelta(hours=3)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlayedNight:
    """A yard that was watched from one evening until the next."""

    settings: Settings
    store: Store
    clock: ReadingsClock
    craft: CraftInCare

    def judge_now(self) -> None:
        """Have one more round, as after somebody entered work."""
        here = self.craft.read_now()
        Round(
            self.store, self.settings.yard, self.clock, origin=origin_of(self.settings)
        ).run(here)  # fmt: skip
        AlarmRound(self.store, self.settings.yard, self.clock).run({one.id: one for one in here})


def play_night(folder: Path, changed: dict[str, str] | None = None) -> PlayedNight:
    """Play the story until the evening; ``changed`` replaces texts in the yard's files."""
    config = copied_yard(folder)
    for was, now in (changed or {}).items():
        for file in sorted(folder.glob("*.toml")):
            text = file.read_text(encoding="utf-8")
            file.write_text(text.replace(was, now), encoding="utf-8")
    settings = load_settings(config)
    migrate(settings.store_url)
    readings = folder / "readings.csv"
    write_csv((told for told in kettlemoss.scenario() if told[0] <= EVENING), readings)
    store = Store(settings.store_url, settings.yard.id)
    with redirect_stdout(StringIO()):
        laidup("import", "readings", str(readings), "--config", str(config))
    with store.transaction() as tx:
        take_in(tx.layup, settings.craft, settings.profiles, BEGIN)
    clock = ReadingsClock(BEGIN)
    craft = CraftInCare(store, settings.profiles, settings.yard, clock)
    judging = Round(store, settings.yard, clock, origin=origin_of(settings))
    alarms = AlarmRound(store, settings.yard, clock)
    while True:
        here = craft.read_now()
        judging.run(here)
        alarms.run({one.id: one for one in here})
        if clock.now() >= EVENING:
            break
        clock.advance_to(min(clock.now() + _STEP, EVENING))
    return PlayedNight(settings=settings, store=store, clock=clock, craft=craft)


def copy_night(played: PlayedNight, folder: Path) -> PlayedNight:
    """The same yard in a store of its own; on a server it is played again."""
    file = played.store.path
    if file is None:
        return play_night(folder)
    for part in file.parent.glob(f"{file.name}*"):
        shutil.copyfile(part, folder / part.name)
    yard = played.settings.yard
    store = Store(f"sqlite:///{folder / file.name}", yard.id)
    clock = ReadingsClock(played.clock.now())
    craft = CraftInCare(store, played.settings.profiles, yard, clock)
    return PlayedNight(settings=played.settings, store=store, clock=clock, craft=craft)
