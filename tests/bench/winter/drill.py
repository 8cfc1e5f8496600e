"""One winter lived through twice, and what is to be held of it."""

import shutil
import threading
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path

from monitor.store.copies import take_copy
from tests.bench.winter.faults import FAULTS, Fault, Schedule, Struck
from tests.bench.winter.people import People
from tests.bench.winter.places import StorePlace
from tests.bench.winter.stage import Stage, Step, play
from tests.bench.winter.verdict import (
    Kept,
    Missed,
    collect,
    compare,
    not_arrived,
    told_after_h,
)
from tests.bench.winter.yard import START, YARD, Winter

_SETTLING = timedelta(days=7)  # judgement reads four days, and some tables a week


@dataclass(frozen=True, slots=True)
class Drilled:
    """Both winters, side by side."""

    kind: str
    days: int
    calm: Kept
    disturbed: Kept
    calm_steps: list[Step]
    steps: list[Step]
    struck: list[Struck]
    due: int
    missed: list[Missed]
    starts: int

    def failures(self) -> list[str]:
        """What did not hold; empty: all did."""
        found = [f"lost: {one}" for one in self.disturbed.lost[:20]]
        for name, kept in (("undisturbed", self.calm), ("disturbed", self.disturbed)):
            if kept.doubled or kept.changed:
                found.append(f"{name}: {kept.doubled} readings doubled, {kept.changed} changed")
            found += [
                f"{name}: never arrived: {one.created} to {one.person}: {one.subject}"
                for one in not_arrived(kept)
            ]
        found += [
            f"not told: {one.person} of {' '.join(one.alarm.subject)} of {one.alarm.raised}, told"
            f" at {one.told_at} in the undisturbed winter; raised in the other: {one.raised}"
            for one in self.missed
        ]
        for one in self.struck:
            at = START + timedelta(hours=one.begin)
            if not one.shown:
                found.append(f"{one.fault.name} of {at}: not in /health while it was there")
            if not one.gone:
                found.append(f"{one.fault.name} of {at}: still in /health after its end")
            if one.fault.words and told_after_h(self.disturbed, one, START) is None:
                found.append(f"{one.fault.name} of {at}: no mail tells of it")
        return found


def settled(steps: list[Step]) -> list[Step]:
    """Steps that were judged, without the first ones."""
    begin = steps[0].at + min(_SETTLING, (steps[-1].at - steps[0].at) / 3)
    return [one for one in steps if one.at >= begin and one.judged]


def drill(
    folder: Path,
    calm_place: StorePlace,
    place: StorePlace,
    *,
    days: int,
    seed: int,
    faults: tuple[Fault, ...] = FAULTS,
    rest_h: int = 6,
    first_h: int = 30,
    step_h: int = 2,
    keep: Path | None = None,
) -> Drilled:
    """Live through one winter twice at the same time, once with faults.

    Parameters
    ----------
    folder : Path
        An empty one.
    calm_place, place : StorePlace
        Of the undisturbed winter's store, and of the other's.
    days, seed : int
        Of the winter.
    faults : tuple of Fault
        In turn, and again from the first one on.
    rest_h, first_h : int
        Between two faults, and before the first [h].
    step_h : int
        How far the story leaps at a time [h]; each sensor sends as often.
    keep : Path, optional
        A folder for both stores and what the daemons said, to look into afterwards.
    """
    stages = []
    for name, where in (("calm", calm_place), ("disturbed", place)):
        (folder / name).mkdir()
        stages.append(Stage(Winter(days, seed, step_h), folder / name, where))
    calm, disturbed = stages
    schedule = Schedule(disturbed, faults, rest_h, first_h)
    kept: dict[str, Kept] = {}
    failed: list[BaseException] = []

    def live(stage: Stage, name: str) -> None:
        try:
            with stage.running():
                people = People(stage)

                def by_hour(number: int) -> None:
                    if failed:
                        raise RuntimeError("the other winter failed")
                    if stage is disturbed:
                        schedule.by_hour(number)
                    people.do_what_is_due(stage.story.now)

                play(stage, by_hour)
                stage.wait_for(lambda: stage.waiting_mails() == 0, "the last mails to leave")
                kept[name] = collect(stage)
                if keep is not None:
                    take_copy(stage.place.url, YARD, keep / f"{name}.db")
                    shutil.copy(stage.log, keep / f"{name}.log")
        except BaseException as error:  # told by whoever waits for both
            failed.append(error)
            raise

    other = threading.Thread(target=live, args=(calm, "calm"))
    other.start()
    try:
        live(disturbed, "disturbed")
    finally:
        other.join()
    if failed:
        raise failed[0]
    due, missed = compare(kept["calm"], kept["disturbed"])
    return Drilled(
        place.kind, days, kept["calm"], kept["disturbed"], calm.steps, disturbed.steps,
        schedule.struck, due, missed, disturbed.starts,
    )  # fmt: skip
