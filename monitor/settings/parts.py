"""From checked blocks of the yard's file to the objects that each room starts from."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from email.utils import formataddr
from pathlib import Path
from zoneinfo import ZoneInfo

from monitor.delivery.annunciator import AnnunciatorSettings
from monitor.delivery.channels.folder import FolderSettings
from monitor.delivery.channels.mail_settings import MailSettings
from monitor.intake.broker import BrokerSettings
from monitor.intake.forecast.settings import ForecastSettings
from monitor.settings.yard_file import BrokerBlock, MailBlock, SensorBlock, YardBlock, YardContent
from monitor.settings.yard_overlay import sensors_by_place
from monitor.store.copy_age import CopySettings
from monitor.yard.space import Limits, Sensor, Yard
from monitor.yard.yard_change import YardChange


@dataclass(frozen=True, slots=True, kw_only=True)
class BoughtCertificate:
    """A certificate of an authority that readers of PDF know, with its key (PKCS 12)."""

    file: Path
    password: str | None = field(default=None, repr=False)


def broker_settings(
    block: BrokerBlock, yard: str, folder: Path, password: str | None
) -> BrokerSettings:
    """The broker, with the session's name where the file gives none."""
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
        ca_file=_path_in(folder, block.ca_file),
        certificate_file=_path_in(folder, block.certificate_file),
        key_file=_path_in(folder, block.key_file),
    )


def _path_in(folder: Path, name: str | None) -> Path | None:
    """A file that the yard's file names, from its own folder; None where it names none."""
    return None if name is None else folder / name


def folder_settings(content: YardContent, folder: Path) -> FolderSettings | None:
    """The folder that mails are written into; None where there is none."""
    if content.folder is None:
        return None
    return FolderSettings(path=folder / content.folder.path, reply_to=content.yard.reply_to or "")


def mail_settings(
    block: MailBlock | None, yard: YardBlock, password: str | None
) -> MailSettings | None:
    """The mail server; None where mails are not sent."""
    if block is None:
        return None
    return MailSettings(
        host=block.host,
        port=block.port,
        security=block.security,
        sender=formataddr((yard.name, block.sender)),
        reply_to=yard.reply_to or "",
        username=block.username,
        password=password,
        ca_file=block.ca_file,
    )


def annunciator_settings(
    content: YardContent, folder: Path, password: str | None
) -> AnnunciatorSettings | None:
    """The lamp hangs on the yard's own broker, which needs no internet."""
    if content.annunciator is None:
        return None
    broker = content.broker
    return AnnunciatorSettings(
        host=broker.host,
        port=broker.port,
        topic=content.annunciator.topic,
        username=content.annunciator.username or broker.username,
        password=password,
        tls=broker.tls,
        ca_file=_path_in(folder, broker.ca_file),
        certificate_file=_path_in(folder, broker.certificate_file),
        key_file=_path_in(folder, broker.key_file),
    )


def backup_settings(content: YardContent, folder: Path) -> CopySettings | None:
    """Where copies of the store are kept; None where nobody promises any."""
    block = content.backup
    if block is None:
        return None
    return CopySettings(folder=folder / block.folder, days=block.days, weeks=block.weeks)


def forecast_settings(content: YardContent) -> ForecastSettings | None:
    """Which agency is asked for which place; None where none is."""
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
        **block.model_dump(exclude={"calibrations", "limits", "topic", "user"}),
        # As deploy/mosquitto/laidup.acl has it: a user writes below its own name alone.
        topic=block.topic or (f"+/{block.user}/#" if block.user else ""),
        calibrations=tuple(one.to_calibration() for one in block.calibrations),
        limits={channel: Limits(**one.model_dump()) for channel, one in block.limits.items()},
    )


def yard_from(content: YardContent, changes: Sequence[YardChange] = ()) -> Yard:
    """The yard as every room uses it; ``changes`` tell since when its sensors hang where."""
    block = content.yard
    sensors, earlier = sensors_by_place([_sensor_from(one) for one in content.sensors], changes)
    return Yard(
        id=block.id,
        name=block.name,
        zone=ZoneInfo(block.timezone),
        latitude=block.latitude,
        longitude=block.longitude,
        temperature_unit=block.temperature_unit,
        volume_unit=block.volume_unit,
        spaces=tuple(space.to_space() for space in content.spaces),
        sensors=sensors,
        earlier_sensors=earlier,
        people=tuple(person.to_person() for person in content.people),
        duty=content.duty.to_duty(),
        losses=content.losses.to_losses(),
        helpers=content.helpers,
        design_low_c=block.design_low,
        shelf=tuple(one.to_product() for one in content.shelf),
        telephone=block.telephone or "",
        reply_to=block.reply_to or "",
        owners=content.owners.to_telling(),
        calibration_days=block.calibration_days,
    )
