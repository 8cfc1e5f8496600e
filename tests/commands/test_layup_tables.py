from zoneinfo import ZoneInfo

from monitor.commands.layup.tables import print_protection
from monitor.wording import SI, Wording
from monitor.yard.space import Space, SpaceKind
from tests.judgement import scene

SHED = Space(id="shed", name="Shed", kind=SpaceKind.COLD)
WORDS = Wording(zone=ZoneInfo("UTC"), units=SI)


def stored(number, protection):
    return scene.stored(SHED, (scene.circuit(2.0, id="head"), protection), craft_id=f"k{number}")


def test_craft_that_can_stand_the_same_share_a_table_that_names_them_all(capsys):
    craft = [
        stored(n, scene.water("head") if n % 2 else scene.mix(-12.0, "head")) for n in range(40)
    ]
    print_protection(craft, WORDS, as_json=False)
    shown = " ".join(capsys.readouterr().out.split())
    assert shown.count("Circuit") == 2
    for n in range(40):
        assert shown.count(f"k{n} K{n}, shed/1") == 1
