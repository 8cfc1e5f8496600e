"""The craft in care: added up anew when the record, or the time, is another."""

from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from monitor.judgement.inputs import CraftInCare
from monitor.settings.load import load_settings
from monitor.store.store import Store
from tests.commands.yard_files import copied_yard, fill


@dataclass
class PutClock:
    """A clock that somebody puts."""

    at: datetime

    def now(self) -> datetime:
        return self.at


def test_a_clock_that_is_put_back_takes_back_the_moves_of_its_wrong_hour(tmp_path):
    file = copied_yard(tmp_path)
    fill(file)
    settings = load_settings(file)
    now = datetime.now(UTC)
    with closing(Store(settings.store_url, settings.yard.id)) as store:

        def care_at(at):
            clock = PutClock(at)
            return clock, CraftInCare(store, settings.profiles, settings.yard, clock)

        clock, care = care_at(now)
        ahead = care.read_now()
        clock.at = now - timedelta(days=3650)  # before any of them came
        back = care.read_now()
        assert back == care_at(clock.at)[1].read_now()
        assert back != ahead
