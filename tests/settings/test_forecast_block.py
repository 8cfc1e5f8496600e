"""The block that names a public weather service."""

import pytest

from monitor.errors import ConfigurationError
from monitor.intake.forecast.settings import Agency
from monitor.settings.load import load_settings
from tests.settings.test_load import YARD

BLOCK = """
[forecast]
source = "met-norway"
contact = "ines@mill.example"
"""


def written(tmp_path, block):
    file = tmp_path / "yard.toml"
    file.write_text(YARD + block, encoding="utf-8")
    return load_settings(file)


def test_a_yard_without_the_block_asks_nobody(tmp_path):
    assert written(tmp_path, "").forecast is None


def test_the_yard_s_place_is_what_is_asked_for(tmp_path):
    asked = written(tmp_path, BLOCK).forecast
    assert asked.agency is Agency.MET_NORWAY
    assert (asked.latitude, asked.longitude) == (52.0, 13.0)
    assert asked.address.startswith("https://")
    assert asked.user_agent.endswith("(ines@mill.example)")


def test_another_address_goes_before_the_agency_s_own(tmp_path):
    asked = written(tmp_path, BLOCK + 'url = "http://127.0.0.1:8080/api/"\n').forecast
    assert asked.address == "http://127.0.0.1:8080/api"


@pytest.mark.parametrize(
    ("old", "new", "key"),
    [
        ("met-norway", "the-moon", "forecast.source"),
        ('contact = "ines@mill.example"', "", "forecast.contact"),
        ("ines@mill.example", "Ines", "forecast.contact"),
        ("ines@mill.example", "inès@mill.example", "forecast.contact"),
        ('"ines@mill.example"', '"ines@mill.example"\nurl = "ftp://x"', "forecast.url"),
    ],
)
def test_a_slip_is_told_with_its_key(tmp_path, old, new, key):
    with pytest.raises(ConfigurationError) as raised:
        written(tmp_path, BLOCK.replace(old, new))
    assert [fault.key for fault in raised.value.faults] == [key]
