"""The door by which a yard that a test made up is changed, as if a file had said it."""

from dataclasses import replace

from monitor.settings.load import load_settings, shipped_folder
from monitor.settings.yard_acts import YardBook, in_use


def book_of(store, yard, clock, read_craft):
    """A book over a yard made in a test: its file would say the least that the yard needs."""
    said = {
        "yard": {
            "id": yard.id,
            "name": yard.name,
            "timezone": yard.zone.key,
            "latitude": yard.latitude,
            "longitude": yard.longitude,
            "temperature_unit": yard.temperature_unit,
            "volume_unit": yard.volume_unit,
        },
        "spaces": [{"id": o.id, "name": o.name, "kind": o.kind.value} for o in yard.spaces],
        "sensors": [{"name": o.name, "space": o.space} for o in yard.sensors],
        "people": [
            {
                "id": o.id,
                "name": o.name,
                "mail": o.mail or "nobody@yard.example",
                "roles": sorted(one.value for one in o.roles),
            }
            for o in yard.people
        ],
    }
    settings = replace(load_settings(shipped_folder() / "yard.toml"), yard=yard, said=said)
    return YardBook(lambda: settings, store, clock, lambda: in_use(read_craft()))
