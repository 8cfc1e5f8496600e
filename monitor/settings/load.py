"""Reads the yard's file and makes the objects that the wirings run on."""

import os
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from email.utils import formataddr
from importlib.metadata import version
from pathlib import Path
from zoneinfo import ZoneInfo

from monitor.alarms.definitions import DEFINITIONS, Definition, adjusted
from monitor.craft.digest import digest_of
from monitor.craft.profile import Profile
from monitor.craft.record import CraftRecord
from monitor.delivery.annunciator import AnnunciatorSettings
from monitor.delivery.channels.folder import FolderSettings
from monitor.delivery.channels.mail import MailSettings
from monitor.delivery.channels.webhook import WebhookSettings, signing_key
from monitor.delivery.pulse import PulseSettings
from monitor.errors import (
    BadValueError,
    ConfigurationError,
    DeliveryError,
    Fault,
    as_sentence,
    fault_from,
)
from monitor.intake.broker import BrokerSettings
from monitor.intake.forecast.settings import ForecastSettings
from monitor.intake.mapping import Mapping as PayloadMapping
from monitor.intake.mapping_file import read_mappings
from monitor.settings.craft_file import load_craft
from monitor.settings.faults import check_content, key_path, one_of, read_toml
from monitor.settings.places import shipped_folder
from monitor.settings.profiles import load_profiles
from monitor.settings.yard_file import BrokerBlock, MailBlock, SensorBlock, WebBlock, YardFile
from monitor.store.copy_age import CopySettings
from monitor.store.engine import with_password
from monitor.web.loopback import BEYOND, is_loopback
from monitor.yard.assessment import Origin
from monitor.yard.space import Limits, Mount, Role, Sensor, Yard

_TOKEN_LENGTH = 20  # signs; a shorter one is a password, and passwords get guessed


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """Everything that ``yard.toml`` says, checked."""

    file: Path
    digest: str  # of the file, as far as it says anything
    yard: Yard
    store_url: str = field(repr=False)
    secret_files: tuple[Path, ...]
    backup: CopySettings | None  # None: nobody promises copies of the store
    broker: BrokerSettings
    mail: MailSettings | None
    folder: FolderSettings | None
    webhook: WebhookSettings | None
    annunciator: AnnunciatorSettings | None
    ping: PulseSettings | None
    definitions: Mapping[str, Definition]  # the alarm set with the yard's own limits
    web: WebBlock
    web_token: str | None = field(
        repr=False
    )  # lets its bearer use the JSON API of the lay-up record; None: nobody
    report_weekday: str
    report_at: str
    forecast: ForecastSettings | None  # None: the yard's own forecast alone
    profiles: Mapping[str, Profile]
    mappings: tuple[PayloadMapping, ...]  # the yard's own first, then those that come along
    craft: tuple[CraftRecord, ...]  # of the craft files; the store may know more


def origin_of(settings: Settings) -> Origin:
    """What is kept with each judgement made by this program and these settings."""
    return Origin(program=version("laidup"), settings=settings.digest)


def load_settings(path: Path, environment: Mapping[str, str] = os.environ) -> Settings:
    """Read and check the yard's file.

    Parameters
    ----------
    path : Path
        ``yard.toml``. Paths inside it are read from its own folder.
    environment : mapping
        Where ``password_env`` looks.

    Raises
    ------
    ConfigurationError
        With one fault for each thing that is wrong.
    """
    said = read_toml(path)
    content = check_content(YardFile, said, path)
    faults = [
        Fault(file=str(path), key=key, problem=problem, remedy=remedy)
        for key, problem, remedy in _find_inconsistencies(content)
    ]
    folder = path.resolve().parent
    passwords: dict[str, str | None] = {}
    for key, where, noun in _secret_blocks(content):
        try:
            passwords[key] = _read_password(where, folder, environment, noun)
        except _NoPasswordError as error:
            faults.append(
                Fault(
                    file=str(path),
                    key=f"{key}.{error.key}",
                    problem=error.problem,
                    remedy=error.remedy,
                )
            )
    faults += _unfit_secret(passwords.get("webhook"), path)
    faults += _unfit_token(passwords.get("web"), content.web, path)
    store_url = _store_url(content.store.url, folder)
    if passwords.get("store"):
        try:
            store_url = with_password(store_url, passwords["store"] or "")
        except BadValueError as error:
            faults.append(fault_from(error, str(path), "store"))
    if faults:
        raise ConfigurationError(faults)
    yard = _yard_from(content)
    profiles = load_profiles(_profile_folders(folder))
    craft = _read_craft_files(content, folder, yard, profiles)
    faults.extend(_lost_probes(content, path, craft))
    if faults:
        raise ConfigurationError(faults)
    return Settings(
        file=path,
        digest=digest_of(said),
        yard=yard,
        store_url=store_url,
        secret_files=_secret_files(content, folder),
        backup=_backup_settings(content, folder),
        broker=_broker_settings(content.broker, content.yard.id, folder, passwords["broker"]),
        mail=_mail_settings(content.mail, content.yard.name, passwords["mail"]),
        folder=FolderSettings(path=folder / content.folder.path) if content.folder else None,
        webhook=_webhook_settings(content, passwords["webhook"]),
        annunciator=_annunciator_settings(content, folder, passwords["broker"]),
        ping=(
            PulseSettings(url=content.ping.url, every_s=content.ping.every_s)
            if content.ping
            else None
        ),
        definitions=adjusted({cause: one.to_adjustment() for cause, one in content.alarms.items()}),
        web=content.web,
        web_token=passwords["web"],
        report_weekday=content.reports.weekday,
        report_at=content.reports.at,
        forecast=_forecast_settings(content),
        profiles=profiles,
        mappings=_read_mappings(folder),
        craft=craft,
    )


def _find_inconsistencies(content: YardFile) -> Iterable[tuple[str, str, str]]:
    """What each block alone cannot know: doubles, and names that lead nowhere."""
    yield from _doubled_names(content)
    spaces = [space.id for space in content.spaces]
    yield from _sensor_faults(content, spaces)
    if not any(Role.OPERATOR in person.roles for person in content.people):
        yield (
            "people",
            "nobody has the role operator, so nobody would be told of a cold night",
            'Give someone roles = ["operator"].',
        )
    yield from _telling_faults(content, spaces)
    if content.web.enabled and not is_loopback(content.web.host):
        yield (
            "web.host",
            f"the page would listen on {content.web.host!r}",
            as_sentence(BEYOND),
        )
    if content.mail is not None and content.folder is not None:
        yield "folder", "mails are both sent and written to a folder", "Keep [mail] or [folder]."


def _doubled_names(content: YardFile) -> Iterable[tuple[str, str, str]]:
    for key, ids in (
        ("spaces", [space.id for space in content.spaces]),
        ("sensors", [sensor.name for sensor in content.sensors]),
        ("people", [*(person.id for person in content.people), *content.helpers]),
        ("shelf", [product.id for product in content.shelf]),
    ):
        for double, times in Counter(ids).items():
            if times > 1:
                yield key, f"{double!r} stands there {times} times", "Keep one of them."


def _sensor_faults(content: YardFile, spaces: list[str]) -> Iterable[tuple[str, str, str]]:
    for n, sensor in enumerate(content.sensors):
        here = key_path(("sensors", n))
        if sensor.space not in spaces:
            yield (
                f"{here}.space",
                f"sensor {sensor.name} stands in {sensor.space!r}, which is no space of this yard",
                one_of(sensor.space, spaces),
            )
        if sensor.mount is Mount.BATTERY and sensor.craft is None:
            yield f"{here}.craft", "a maintainer must say whose battery it feeds", "Add craft."
        if sensor.circuit is not None and sensor.craft is None:
            yield f"{here}.craft", "a circuit's probe must say which craft it is in", "Add craft."


def _telling_faults(content: YardFile, spaces: list[str]) -> Iterable[tuple[str, str, str]]:
    """What is wrong between people, duty, channels and alarms."""
    people = [person.id for person in content.people]
    for n, person in enumerate(content.people):
        here = key_path(("people", n))
        for space in sorted(person.spaces - set(spaces)):
            yield f"{here}.spaces", f"{space!r} is no space of this yard", one_of(space, spaces)
        if "webhook" in person.channels and content.webhook is None:
            yield (
                f"{here}.channels",
                f"{person.id} is to be told by webhook, and there is none",
                "Add [webhook], or take it out of channels.",
            )
    for n, shift in enumerate(content.duty.shifts):
        if shift.person not in people:
            yield (
                f"{key_path(('duty', 'shifts', n))}.person",
                f"{shift.person!r} is nobody in the list of people",
                one_of(shift.person, people),
            )
    for called in content.duty.next_called:
        if called not in people:
            yield (
                "duty.next_called",
                f"{called!r} is nobody in the list of people",
                one_of(called, people),
            )
    if content.webhook and not (content.webhook.secret_file or content.webhook.secret_env):
        yield (
            "webhook",
            "it has no secret, so its receiver could not tell whose posts they are",
            "Add secret_file or secret_env.",
        )
    for cause, block in content.alarms.items():
        key = f"alarms.{cause}"
        if cause not in DEFINITIONS:
            yield key, "laidup knows no such cause of alarm", one_of(cause, list(DEFINITIONS))
            continue
        try:
            adjusted({cause: block.to_adjustment()})
        except ValueError as error:
            yield key, str(error), "Correct it, or leave it out for the usual."


class _NoPasswordError(Exception):
    def __init__(self, key: str, problem: str, remedy: str) -> None:
        super().__init__(problem)
        self.key, self.problem, self.remedy = key, problem, remedy


def _secret_blocks(
    content: YardFile,
) -> Iterable[tuple[str, tuple[str | None, str | None], str]]:
    """Blocks with a secret: their key, environment variable and file, and what the secret is."""
    broker, mail, webhook = content.broker, content.mail, content.webhook
    yield "broker", (broker.password_env, broker.password_file), "password"
    yield "store", (content.store.password_env, content.store.password_file), "password"
    yield "mail", (mail.password_env, mail.password_file) if mail else (None, None), "password"
    named = (webhook.secret_env, webhook.secret_file) if webhook else (None, None)
    yield "webhook", named, "secret"
    yield "web", (content.web.token_env, content.web.token_file), "token"


def _secret_files(content: YardFile, folder: Path) -> tuple[Path, ...]:
    """Files that hold nothing but a secret: passwords, tokens, and the key of a certificate."""
    named = [file for _, (_, file), _ in _secret_blocks(content)] + [content.broker.key_file]
    return tuple(folder / file for file in named if file is not None)


def _read_password(
    where: tuple[str | None, str | None], folder: Path, environment: Mapping[str, str], noun: str
) -> str | None:
    variable, file = where
    if variable is not None:
        if variable not in environment:
            raise _NoPasswordError(
                f"{noun}_env",
                f"the environment has no {variable}",
                f"Set it, or use {noun}_file.",
            )
        return environment[variable]
    if file is not None:
        try:
            return (folder / file).read_text(encoding="utf-8").rstrip("\r\n")
        except (OSError, UnicodeDecodeError) as error:
            raise _NoPasswordError(
                f"{noun}_file",
                f"{file} cannot be read: {error}",
                f"Put the {noun} alone into that file, readable by this user.",
            ) from error
    return None


def _unfit_token(token: str | None, web: WebBlock, path: Path) -> list[Fault]:
    if token is None or len(token) >= _TOKEN_LENGTH:
        return []
    return [
        Fault(
            file=str(path),
            key="web.token_env" if web.token_env else "web.token_file",
            problem=f"the token in {web.token_env or web.token_file} could be guessed",
            remedy=f"Take at least {_TOKEN_LENGTH} random signs.",
        )
    ]


def _unfit_secret(secret: str | None, path: Path) -> list[Fault]:
    try:
        if secret is not None:
            signing_key(secret)
    except DeliveryError as error:
        remedy = "Make one: whsec_ and the base64 of 32 random bytes."
        return [Fault(file=str(path), key="webhook", problem=error.reason, remedy=remedy)]
    return []


def _store_url(url: str, folder: Path) -> str:
    """A file of SQLite stands beside the yard's file unless its path is absolute."""
    prefix = "sqlite:///"
    if url.startswith(prefix) and not url.startswith("sqlite:////"):
        return f"{prefix}{folder / url.removeprefix(prefix)}"
    return url


def _profile_folders(folder: Path) -> list[Path]:
    """The shipped profiles first, then those beside the yard's file, which go before them."""
    ours, theirs = shipped_folder() / "profiles", folder / "profiles"
    return [ours] if theirs == ours.resolve() else [ours, theirs]


def _read_craft_files(
    content: YardFile, folder: Path, yard: Yard, profiles: Mapping[str, Profile]
) -> tuple[CraftRecord, ...]:
    """Read every craft file, and tell the faults of all together."""
    records: list[CraftRecord] = []
    faults: list[Fault] = []
    for name in content.yard.craft_files:
        try:
            records.extend(load_craft(folder / name, yard, profiles))
        except ConfigurationError as error:
            faults.extend(error.faults)
    if faults:
        raise ConfigurationError(faults)
    return tuple(records)


def _lost_probes(content: YardFile, file: Path, craft: tuple[CraftRecord, ...]) -> list[Fault]:
    """Sensors on craft or circuits that no craft file holds.

    Without craft files the craft come by ``laidup import``, and only the store knows them.
    """
    circuits = {
        record.craft.id: [one.circuit.id for one in record.profile.circuits] for record in craft
    }
    faults: list[Fault] = []
    for n, sensor in enumerate(content.sensors if circuits else ()):
        known, key, value = circuits.get(sensor.craft or ""), "craft", sensor.craft
        if sensor.craft is None or (known and sensor.circuit in (None, *known)):
            continue
        if known:
            key, value = "circuit", sensor.circuit
        faults.append(
            Fault(
                file=str(file),
                key=f"{key_path(('sensors', n))}.{key}",
                problem=f"sensor {sensor.name} is on {key} {value!r}, which no craft file holds",
                remedy=one_of(str(value), known or list(circuits)),
            )
        )
    return faults


def _broker_settings(
    block: BrokerBlock, yard: str, folder: Path, password: str | None
) -> BrokerSettings:
    def path_in_folder(name: str | None) -> Path | None:
        return None if name is None else folder / name

    return BrokerSettings(
        host=block.host,
        port=block.port,
        topics=block.topics,
        client_id=f"laidup-{yard}" if block.client_id is None else block.client_id,
        is_client_id_given=block.client_id is not None,
        version=block.version,
        username=block.username,
        password=password,
        tls=block.tls,
        ca_file=path_in_folder(block.ca_file),
        certificate_file=path_in_folder(block.certificate_file),
        key_file=path_in_folder(block.key_file),
    )


def _mail_settings(block: MailBlock | None, yard: str, password: str | None) -> MailSettings | None:
    if block is None:
        return None
    return MailSettings(
        host=block.host,
        port=block.port,
        security=block.security,
        sender=formataddr((yard, block.sender)),
        username=block.username,
        password=password,
        ca_file=block.ca_file,
    )


def _webhook_settings(content: YardFile, secret: str | None) -> WebhookSettings | None:
    if content.webhook is None or secret is None:
        return None
    return WebhookSettings(url=content.webhook.url, secret=secret)


def _annunciator_settings(
    content: YardFile, folder: Path, password: str | None
) -> AnnunciatorSettings | None:
    """The lamp hangs on the yard's own broker, which needs no internet."""
    if content.annunciator is None:
        return None
    broker = content.broker

    def path_in_folder(name: str | None) -> str | None:
        return None if name is None else str(folder / name)

    return AnnunciatorSettings(
        host=broker.host,
        port=broker.port,
        topic=content.annunciator.topic,
        username=broker.username,
        password=password,
        tls=broker.tls,
        ca_file=path_in_folder(broker.ca_file),
        certificate_file=path_in_folder(broker.certificate_file),
        key_file=path_in_folder(broker.key_file),
    )


def _backup_settings(content: YardFile, folder: Path) -> CopySettings | None:
    block = content.backup
    if block is None:
        return None
    return CopySettings(folder=folder / block.folder, days=block.days, weeks=block.weeks)


def _forecast_settings(content: YardFile) -> ForecastSettings | None:
    block = content.forecast
    if block is None:
        return None
    return ForecastSettings(
        agency=block.source,
        contact=block.contact,
        latitude=content.yard.latitude,
        longitude=content.yard.longitude,
        url=block.url,
    )


def _sensor_from(block: SensorBlock) -> Sensor:
    return Sensor(
        **block.model_dump(exclude={"calibrations", "limits"}),
        calibrations=tuple(one.to_calibration() for one in block.calibrations),
        limits={channel: Limits(**one.model_dump()) for channel, one in block.limits.items()},
    )


def _read_mappings(folder: Path) -> tuple[PayloadMapping, ...]:
    own, along = folder / "payloads", shipped_folder() / "payloads"
    folders = [own] if own == along else [own, along]
    return tuple(mapping for one in folders for mapping in read_mappings(one))


def _yard_from(content: YardFile) -> Yard:
    block = content.yard
    return Yard(
        id=block.id,
        name=block.name,
        zone=ZoneInfo(block.timezone),
        latitude=block.latitude,
        longitude=block.longitude,
        temperature_unit=block.temperature_unit,
        volume_unit=block.volume_unit,
        spaces=tuple(space.to_space() for space in content.spaces),
        sensors=tuple(_sensor_from(sensor) for sensor in content.sensors),
        people=tuple(person.to_person() for person in content.people),
        duty=content.duty.to_duty(),
        losses=content.losses.to_losses(),
        helpers=content.helpers,
        design_low_c=block.design_low,
        shelf=tuple(one.to_product() for one in content.shelf),
        telephone=block.telephone or "",
    )
