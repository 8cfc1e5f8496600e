"""The yard as its lay-up record sees it: what is warm."""

from monitor.craft.kept import Shelter
from monitor.yard.space import WARM, Yard


def shelters(yard: Yard) -> dict[str, Shelter]:
    """A yard's spaces as the record sees them: name, and whether they are kept warm."""
    return {one.id: Shelter(name=one.name, heated=one.kind in WARM) for one in yard.spaces}
