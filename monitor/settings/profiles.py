"""The library of craft profiles: one TOML file a type, a yard's own files before the shipped."""

from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from monitor.craft.canonical import digest_of
from monitor.craft.circuit import Circuit, Way
from monitor.craft.layup import FOGGING
from monitor.craft.profile import (
    BatteryProfile,
    CircuitKind,
    CircuitProfile,
    Figure,
    FuelSystem,
    Profile,
    Proof,
    Shape,
    Surface,
    Treatment,
    Want,
    careful_shape,
)
from monitor.errors import ConfigurationError, Fault
from monitor.settings.faults import check_content, error_at, one_of, read_toml
from monitor.settings.profile_form import (
    TOP_LEVEL,
    CircuitBlock,
    LinksBlock,
    PartBlock,
    ProfileFile,
)


class _File:
    """One profile file and how it is tied to others."""

    def __init__(self, path: Path, level: int) -> None:
        content = read_toml(path)
        keys = ("extends", "drop", "parts")
        self.path, self.level = path, level
        self.links = check_content(
            LinksBlock, {key: content.pop(key) for key in keys if key in content}, path
        )
        self.content = content


def load_profiles(folders: Sequence[Path]) -> dict[str, Profile]:
    """Read every profile of the given folders.

    Parameters
    ----------
    folders : sequence of Path
        The shipped folder first, then the yard's own. A later file takes the place of an
        earlier one of the same name; if it ``extends`` its own name it only changes what it
        says. A folder that does not exist holds none.

    Returns
    -------
    dict of str to Profile
        By id, which is the file's name without ``.toml``.

    Raises
    ------
    ConfigurationError
        With every fault of every file.
    """
    files: dict[str, list[_File]] = {}
    faults: list[Fault] = []
    for level, folder in enumerate(folders):
        for path in sorted(folder.glob("*.toml")):
            try:
                file = _File(path, level)
            except ConfigurationError as error:
                faults.extend(error.faults)
            else:
                files.setdefault(path.stem, []).append(file)
    profiles: dict[str, Profile] = {}
    for name, versions in files.items():
        try:
            content = _resolve_profile(name, TOP_LEVEL, files, ())
            profiles[name] = _profile_from(
                name,
                check_content(ProfileFile, content, versions[-1].path),
                digest_of(content),
            )
        except ConfigurationError as error:
            faults.extend(fault for fault in error.faults if fault not in faults)
    if faults:
        raise ConfigurationError(faults)
    return profiles


def _resolve_profile(
    name: str, level: int, files: Mapping[str, list[_File]], trail: tuple[tuple[str, int], ...]
) -> dict[str, Any]:
    """Content of a profile with everything that it extends and carries put in."""
    file = next(one for one in reversed(files[name]) if one.level <= level)
    here = (name, file.level)
    if here in trail:
        ring = " -> ".join([*(step for step, _ in trail), name])
        raise error_at(file.path, "extends", f"it leads back to itself: {ring}", "Cut the ring.")
    trail = (*trail, here)
    content: dict[str, Any] = {}
    links = file.links
    if links.extends is not None:
        below = file.level - 1 if links.extends == name else TOP_LEVEL
        content = _resolve_link(links.extends, below, file, "extends", files, trail)
    for key, part in links.parts.items():
        carried = _resolve_link(part.profile, TOP_LEVEL, file, f"parts.{key}.profile", files, trail)
        content = _fill_from_part(content, _prefix_part(carried, part))
    content = _merge_tables(content, file.content)
    for circuit in links.drop:
        if circuit not in content.get("circuits", {}):
            if _replaced_since(file, files):
                continue  # the yard's own version of what it carries has none to drop any more
            known = list(content.get("circuits", {}))
            raise error_at(
                file.path, "drop", f"there is no circuit {circuit!r}", one_of(circuit, known)
            )
        del content["circuits"][circuit]
    return content


def _replaced_since(file: _File, files: Mapping[str, list[_File]]) -> bool:
    """Whether a later folder replaced any profile that a file extends or carries."""
    names = {part.profile for part in file.links.parts.values()}
    if file.links.extends is not None:
        names.add(file.links.extends)
    last = [files[name][-1] for name in names]
    return any(
        one.level > file.level or _replaced_since(one, files) for one in last if one is not file
    )


def _resolve_link(
    name: str,
    level: int,
    file: _File,
    key: str,
    files: Mapping[str, list[_File]],
    trail: tuple[tuple[str, int], ...],
) -> dict[str, Any]:
    if not any(one.level <= level for one in files.get(name, [])):
        raise error_at(file.path, key, f"there is no profile {name!r}", one_of(name, sorted(files)))
    return _resolve_profile(name, level, files, trail)


def _prefix_part(content: dict[str, Any], part: PartBlock) -> dict[str, Any]:
    """A part's content as its carrier sees it: circuits and surfaces under the part's name."""
    kept = {key: value for key, value in content.items() if key != "name"}
    if part.prefix is None:
        return kept
    for group in ("circuits", "surfaces"):
        kept[group] = {
            f"{part.prefix}-{key}": {
                **block,
                "name": f"{part.name or part.prefix} {block.get('name', key)}",
                **({"flow": f"{part.prefix} {block['flow']}"} if block.get("flow") else {}),
            }
            for key, block in content.get(group, {}).items()
        }
    return kept


def _merge_tables(below: dict[str, Any], above: dict[str, Any]) -> dict[str, Any]:
    """Tables join, everything else is replaced. How a circuit is treated is replaced whole."""
    joined = dict(below)
    for key, value in above.items():
        old = joined.get(key)
        if isinstance(old, dict) and isinstance(value, dict) and key != "treatments":
            joined[key] = _merge_tables(old, value)
        else:
            joined[key] = value
    return joined


def _fill_from_part(content: dict[str, Any], part: dict[str, Any]) -> dict[str, Any]:
    """Take from a part what is not there yet, behind what is."""
    joined = dict(content)
    for key, value in part.items():
        old = joined.setdefault(key, value)
        if isinstance(old, dict) and isinstance(value, dict) and key != "treatments":
            joined[key] = _fill_from_part(old, value)
    return joined


def _profile_from(name: str, content: ProfileFile, digest: str) -> Profile:
    battery = content.battery
    return Profile(
        id=name,
        name=content.name,
        circuits=tuple(_circuit_from(key, block) for key, block in content.circuits.items()),
        surfaces=tuple(
            Surface(
                id=key,
                name=block.name,
                lag_low_h=block.lag.value[0],
                lag_high_h=block.lag.value[1],
                length_m=block.length,
            )
            for key, block in content.surfaces.items()
        ),
        battery=BatteryProfile(
            chemistry=battery.chemistry,
            capacity_ah=battery.capacity,
            lag_low_h=battery.lag.value[0],
            lag_high_h=battery.lag.value[1],
        )
        if battery
        else None,
        fuel=content.fuel,
        flow_order=content.flow_order,
        wants=tuple(
            Want(acts=one.acts, reason=one.reason)
            for one in content.wants.values()
            if content.fuel is not FuelSystem.DIESEL or not FOGGING.issuperset(one.acts)
        ),
        digest=digest,
    )


def _circuit_from(key: str, block: CircuitBlock) -> CircuitProfile:
    figures = (
        ("volume", Figure(mark=block.volume.mark, source=block.volume.source)),
        ("lag", Figure(mark=block.lag.mark, source=block.lag.source)),
        ("heat capacity", Figure(mark=block.heat_capacity.mark, source=block.heat_capacity.source)),
    )
    shape = block.shape or careful_shape(block.kind, block.treatments)
    return CircuitProfile(
        circuit=Circuit(
            id=key,
            name=block.name,
            volume_l=block.volume.value,
            lag_low_h=block.lag.value[0],
            lag_high_h=block.lag.value[1],
            heat_capacity_kj_k=block.heat_capacity.value,
            material=block.material,
            drainage=block.drainage,
            ways=tuple(block.treatments),
            hot_run=Proof.HOT_ENGINE in block.treatments.get(Way.RUN_THROUGH, ()),
            drinking=block.kind is CircuitKind.PLUMBING,
            where=block.where,
            figures=_estimate_marks(figures),
        ),
        kind=block.kind,
        shape=shape,
        dead_leg=shape is Shape.PASSAGE if block.dead_leg is None else block.dead_leg,
        treatments=tuple(
            Treatment(way=way, needs=frozenset(needs)) for way, needs in block.treatments.items()
        ),
        flow=block.flow,
        posture=block.posture,
        when_draining=block.when_draining,
        before_use=block.before_use,
        figures=figures,
    )


def _estimate_marks(figures: Iterable[tuple[str, Figure]]) -> str:
    measured = [f"{name} ({one.source})" for name, one in figures if one.mark == "measured"]
    return f"measured: {', '.join(measured)}" if measured else "estimate"
