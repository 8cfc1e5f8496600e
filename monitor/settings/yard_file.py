"""The yard's own file, key by key: what may stand in ``yard.toml``."""

from datetime import date, time
from ipaddress import ip_network
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, Field, StringConstraints, create_model, model_validator

from monitor.craft.fields import StrengthBy
from monitor.craft.layup import ONE_LINE, Liquid
from monitor.craft.mixture import mass_fraction_of_volume
from monitor.craft.plan.shelf import ShelfProduct
from monitor.errors import BadValueError
from monitor.intake.forecast.settings import Agency
from monitor.settings.channel_blocks import CHANNEL_BLOCKS
from monitor.settings.faults import Block
from monitor.settings.telling import (
    AlarmBlock,
    AnnunciatorBlock,
    DutyBlock,
    OwnersBlock,
    PingBlock,
    SpanBlock,
)
from monitor.settings.words import (
    BrokerUser,
    Id,
    MailAddress,
    PhoneNumber,
    PlainName,
    Port,
    SensorName,
    Text,
    TimeOfDay,
    TopicFilter,
    WebAddress,
    Weekday,
    Zone,
    above_zero,
    quantity_validator,
)
from monitor.units import STRENGTH, TEMPERATURE, VOLUME, TemperatureUnit, VolumeUnit
from monitor.yard.calibration import Calibration, Point
from monitor.yard.calibration_due import USUAL_CALIBRATION_DAYS
from monitor.yard.losses import Losses
from monitor.yard.reading import Channel
from monitor.yard.space import USUAL_DESIGN_LOW_C, Mount, Person, Role, Space, SpaceKind


def _check_contact(text: str) -> str:
    if not (text.isascii() and text.isprintable()) or not ("@" in text or "://" in text):
        raise BadValueError(
            "no mail or web address",
            "the agency wants to reach whoever runs this program",
        )
    return text


class YardBlock(Block):
    """``[yard]``: who and where."""

    id: Id
    name: PlainName
    timezone: Zone
    latitude: Annotated[float, Field(ge=-90, le=90)]
    longitude: Annotated[float, Field(ge=-180, le=180)]
    temperature_unit: TemperatureUnit = "C"
    volume_unit: VolumeUnit = "L"
    design_low: Annotated[float, quantity_validator(TEMPERATURE)] = USUAL_DESIGN_LOW_C
    craft_files: tuple[str, ...] = ()
    telephone: PhoneNumber | None = None
    reply_to: MailAddress | None = None
    calibration_days: Annotated[int, Field(ge=30, le=3660)] = USUAL_CALIBRATION_DAYS


class LossesBlock(Block):
    """``[losses]``: what frost would cost, in evenings of work for nothing."""

    metal: Annotated[float, Field(ge=1)] = 20.0
    fittings: Annotated[float, Field(ge=1)] = 10.0
    batteries: Annotated[float, Field(ge=1)] = 10.0

    def to_losses(self) -> Losses:
        """The same as the judgement takes it."""
        return Losses(metal=self.metal, fittings=self.fittings, batteries=self.batteries)


class StoreBlock(Block):
    """``[store]``: where readings and everything else is kept."""

    url: Text = "sqlite:///laidup.db"
    password_file: Text | None = None  # of a PostgreSQL user
    password_env: Text | None = None


class BackupBlock(Block):
    """``[backup]``: where copies of the store are kept, and of how many days and weeks."""

    folder: Text
    days: Annotated[int, Field(ge=1)] = 7
    weeks: Annotated[int, Field(ge=0)] = 8


class ArchiveBlock(Block):
    """``[archive]``: where raw readings of past months are kept as files."""

    folder: Text


class BrokerBlock(Block):
    """``[broker]``: the MQTT broker that the sensors publish to."""

    host: Text = "127.0.0.1"
    port: Port = 1883
    topics: Annotated[tuple[TopicFilter, ...], Field(min_length=1)] = ("#",)
    client_id: Text | None = None  # made of the yard's id
    version: Literal["5", "3.1.1"] = "5"
    username: Text | None = None
    password_file: Text | None = None
    password_env: Text | None = None
    tls: bool = False
    ca_file: Text | None = None
    certificate_file: Text | None = None
    key_file: Text | None = None


class MailBlock(Block):
    """``[mail]``: the mail server that messages leave through."""

    host: Text
    port: Port = 587
    security: Literal["none", "starttls", "tls"] = "starttls"
    sender: MailAddress
    username: Text | None = None
    password_file: Text | None = None
    password_env: Text | None = None
    ca_file: Text | None = None


class FolderBlock(Block):
    """``[folder]``: mails are written into a folder instead of sent; for trials."""

    path: Text


OLD_WAY_IN = (
    "The token that [web] names lets nobody in any more. `laidup access key NAME --role mechanic`"
    " makes a key for each program that used it (reader is enough to look); then take token_file or"
    " token_env out of the yard's file."
)


def _check_proxies(proxies: tuple[str, ...]) -> tuple[str, ...]:
    for one in proxies:
        try:
            ip_network(one)
        except ValueError as error:
            raise BadValueError(
                f"{one!r} is no address of a proxy",
                'write its own address, or the network it is in: ["127.0.0.1"]',
            ) from error
    return proxies


class WebBlock(Block):
    """``[web]``: the page."""

    host: Text = "127.0.0.1"
    port: Annotated[int, Field(ge=0, le=65535)] = 8017
    enabled: bool = True
    access: Literal["people", "open"] = "people"
    address: WebAddress | None = None
    proxies: Annotated[tuple[Text, ...], AfterValidator(_check_proxies)] = ()
    # Of older yards, read only to say that it lets nobody in any more.
    token_file: Text | None = None
    token_env: Text | None = None

    @property
    def names_token(self) -> bool:
        """Whether the token that older programs took is still named."""
        return self.token_file is not None or self.token_env is not None


class ReportsBlock(Block):
    """``[reports]``: when the weekly report leaves, in the yard's time; whether records do."""

    weekday: Weekday = "monday"
    at: TimeOfDay = "07:00"
    season_records: bool = True


class PdfSignatureBlock(Block):
    """``[pdf_signature]``: a bought certificate that season records are signed with (PKCS 12)."""

    file: Text
    password_file: Text | None = None
    password_env: Text | None = None


class ForecastBlock(Block):
    """``[forecast]``: a public weather service whose forecast is mixed in by past skill."""

    source: Agency
    contact: Annotated[Text, AfterValidator(_check_contact)]
    url: WebAddress | None = None


class SpaceBlock(Block):
    """``[[spaces]]``: a part of the yard with its own air."""

    id: Id
    name: PlainName
    kind: SpaceKind
    lag_h: Annotated[float, Field(gt=0, le=1000)] | None = None
    thermostat: Annotated[float, quantity_validator(TEMPERATURE)] | None = None
    storage_low: Annotated[float, quantity_validator(TEMPERATURE)] | None = None
    berths: tuple[Id, ...] = ()

    @model_validator(mode="after")
    def _only_heat_has_a_thermostat(self) -> "SpaceBlock":
        if self.thermostat is not None and self.kind is not SpaceKind.HEATED:
            raise BadValueError(
                f"thermostat: a space of kind {self.kind.value!r} has no heat to set",
                "leave it out, or make the kind 'heated'",
            )
        return self

    def to_space(self) -> Space:
        """The space that it speaks of."""
        return Space(
            id=self.id,
            name=self.name,
            kind=self.kind,
            lag_h=self.lag_h,
            thermostat_c=self.thermostat,
            storage_low_c=self.storage_low,
            berths=self.berths,
        )


class PointBlock(Block):
    """One comparison with a standard."""

    read: float
    true: float


class CalibrationBlock(Block):
    """``[[sensors.calibrations]]``: one day's comparison of one channel with a standard."""

    channel: Channel
    made_on: date
    standard: Text
    points: tuple[PointBlock, ...]
    due_on: date | None = None

    @model_validator(mode="after")
    def _check_points(self) -> "CalibrationBlock":
        self.to_calibration()  # raises what is wrong with it
        return self

    def to_calibration(self) -> Calibration:
        """The same as intake uses it."""
        return Calibration(
            channel=self.channel,
            made_on=self.made_on,
            standard=self.standard,
            points=tuple(Point(read=point.read, true=point.true) for point in self.points),
            due_on=self.due_on,
        )


class LimitsBlock(Block):
    """``[sensors.limits.CHANNEL]``: where the usual quality limits do not fit this sensor."""

    sensor_low: float | None = None
    sensor_high: float | None = None
    operator_low: float | None = None
    operator_high: float | None = None
    rise_per_min: Annotated[float, Field(gt=0)] | None = None
    fall_per_min: Annotated[float, Field(gt=0)] | None = None
    spike_suspect: Annotated[float, Field(gt=0)] | None = None
    spike_fail: Annotated[float, Field(gt=0)] | None = None
    flat_h: Annotated[float, Field(gt=0)] | None = None


class SensorBlock(Block):
    """``[[sensors]]``: one device that sends readings."""

    name: SensorName
    space: Id
    mount: Mount = Mount.AIR
    craft: Id | None = None
    circuit: Id | None = None
    labels: Annotated[dict[str, Channel], Field(default_factory=dict)]
    interval_s: Annotated[float, Field(gt=0, le=86400)] | None = None
    height_m: Annotated[float, Field(ge=0, le=30)] | None = None
    note: str = ""
    topic: TopicFilter | None = None
    user: BrokerUser | None = None
    calibrations: tuple[CalibrationBlock, ...] = ()
    limits: Annotated[dict[Channel, LimitsBlock], Field(default_factory=dict)]


def _check_language(code: str) -> str:
    from monitor.phrases.owner_languages import LANGUAGES

    if code not in LANGUAGES:
        raise BadValueError(
            f"no owner's letter is written in {code!r}", f"use one of {', '.join(LANGUAGES)}"
        )
    return code


class PersonBlock(Block):
    """``[[people]]``: someone who is told things."""

    id: Id
    name: PlainName
    mail: MailAddress
    roles: Annotated[frozenset[Role], Field(min_length=1)]
    temperature_unit: TemperatureUnit | None = None
    volume_unit: VolumeUnit | None = None
    channels: Annotated[tuple[Id, ...], Field(min_length=1)] = ("mail",)
    spaces: frozenset[Id] = frozenset()
    quiet: SpanBlock | None = None
    all_well_at: TimeOfDay | None = None
    phone: PhoneNumber | None = None
    language: Annotated[str, AfterValidator(_check_language)] = "en"

    def to_person(self) -> Person:
        """The same as every room uses it."""
        plain = self.model_dump(exclude={"quiet", "all_well_at", "phone"})
        return Person(
            **plain,
            quiet=self.quiet.to_span() if self.quiet else None,
            all_well_at=time.fromisoformat(self.all_well_at) if self.all_well_at else None,
            phone=self.phone or "",
        )


class ShelfBlock(Block):
    """``[[shelf]]``: an antifreeze that the yard has, as it is poured."""

    id: Id
    label: PlainName
    liquid: Literal[Liquid.PROPYLENE, Liquid.ETHYLENE] = Liquid.PROPYLENE
    strength: Annotated[float, quantity_validator(STRENGTH)]
    strength_by: StrengthBy = StrengthBy.MASS
    lot: Annotated[str, StringConstraints(max_length=80, pattern=ONE_LINE)] = ""
    container: Annotated[float, quantity_validator(VOLUME), AfterValidator(above_zero)] = 5.0

    @model_validator(mode="after")
    def _check_strength(self) -> "ShelfBlock":
        self.to_product()  # raises what is wrong with it
        return self

    def to_product(self) -> ShelfProduct:
        """The same as plans use it, its strength by mass."""
        strength = self.strength
        if self.strength_by is StrengthBy.VOLUME:
            strength = mass_fraction_of_volume(strength, self.liquid)
        return ShelfProduct(
            id=self.id,
            name=self.label,
            liquid=self.liquid,
            strength=strength,
            lot=self.lot,
            container_l=self.container,
        )


class YardContent(Block):
    """All of ``yard.toml``, but for the blocks of channels beside mail."""

    yard: YardBlock
    store: StoreBlock = StoreBlock()
    backup: BackupBlock | None = None
    archive: ArchiveBlock | None = None
    broker: BrokerBlock = BrokerBlock()
    mail: MailBlock | None = None
    folder: FolderBlock | None = None
    web: WebBlock = WebBlock()
    reports: ReportsBlock = ReportsBlock()
    pdf_signature: PdfSignatureBlock | None = None
    forecast: ForecastBlock | None = None
    spaces: tuple[SpaceBlock, ...] = ()  # a new yard's come by its page
    sensors: tuple[SensorBlock, ...] = ()
    duty: DutyBlock = DutyBlock()
    owners: OwnersBlock = OwnersBlock()
    losses: LossesBlock = LossesBlock()
    alarms: Annotated[dict[Id, AlarmBlock], Field(default_factory=dict)]
    annunciator: AnnunciatorBlock | None = None
    ping: PingBlock | None = None
    people: Annotated[tuple[PersonBlock, ...], Field(min_length=1)]
    helpers: Annotated[dict[Id, PlainName], Field(default_factory=dict)]
    shelf: tuple[ShelfBlock, ...] = ()

    def channel_blocks(self) -> dict[str, Block]:
        """The block of each channel beside mail that the file has, by its name."""
        found = {name: getattr(self, name, None) for name in CHANNEL_BLOCKS}
        return {name: block for name, block in found.items() if block is not None}


# All of ``yard.toml``: a block of each kind of channel under that channel's own name.
_OF_CHANNELS: dict[str, Any] = {name: (one | None, None) for name, one in CHANNEL_BLOCKS.items()}
YardFile: type[YardContent] = create_model("YardFile", __base__=YardContent, **_OF_CHANNELS)
