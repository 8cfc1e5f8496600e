"""Reads the yard's file and makes the objects that the wirings run on."""

import os
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING, Any

from monitor.craft.canonical import digest_of
from monitor.craft.profile import Profile
from monitor.craft.record import CraftRecord
from monitor.delivery.annunciator import AnnunciatorSettings
from monitor.delivery.channels.folder import FolderSettings
from monitor.delivery.channels.mail_settings import MailSettings
from monitor.delivery.pulse import PulseSettings
from monitor.errors import (
    BadValueError,
    ConfigurationError,
    Fault,
    StoreError,
    fault_from,
)
from monitor.intake.broker import BrokerSettings
from monitor.intake.forecast.settings import ForecastSettings
from monitor.settings.channel_blocks import channel_settings
from monitor.settings.consistency import find_inconsistencies, lost_probes
from monitor.settings.craft_files import CraftFiles, read_new_craft
from monitor.settings.faults import check_content, error_at, read_toml
from monitor.settings.parts import (
    BoughtCertificate,
    annunciator_settings,
    backup_settings,
    broker_settings,
    folder_settings,
    forecast_settings,
    mail_settings,
    yard_from,
)
from monitor.settings.place import CONFIG_VARIABLE
from monitor.settings.profiles import load_profiles
from monitor.settings.secrets import read_secrets, secret_files
from monitor.settings.telling import AlarmBlock
from monitor.settings.yard_file import WebBlock, YardContent, YardFile
from monitor.settings.yard_items import with_items
from monitor.settings.yard_overlay import find_differences, present_items
from monitor.store.copy_age import CopySettings
from monitor.store.engine import with_password
from monitor.yard.space import Yard
from monitor.yard.yard_change import YardChange, YardPart

if TYPE_CHECKING:
    from monitor.alarms.definitions import Definition
    from monitor.intake.mapping import Mapping as PayloadMapping
    from monitor.yard.assessment import Origin


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """Everything that ``yard.toml`` says, checked."""

    file: Path
    digest: str  # of the file, as far as it says anything
    yard: Yard
    store_url: str = field(repr=False)
    secret_files: tuple[Path, ...]
    backup: CopySettings | None  # None: nobody promises copies of the store
    archive: Path | None  # the folder of archive files; None: readings are in the store alone
    broker: BrokerSettings
    mail: MailSettings | None
    folder: FolderSettings | None
    channels: Mapping[str, object] = field(repr=False)  # settings of those beside mail, by name
    annunciator: AnnunciatorSettings | None
    ping: PulseSettings | None
    alarm_blocks: Mapping[str, AlarmBlock]  # the yard's own limits, by cause
    web: WebBlock
    open_page_acts: bool = False  # the demo's: an open page else only shows
    report_weekday: str
    report_at: str
    mails_season_records: bool
    bought_certificate: BoughtCertificate | None  # None: PDFs are signed with the yard's own
    forecast: ForecastSettings | None  # None: the yard's own forecast alone
    profiles: Mapping[str, Profile]
    craft: tuple[CraftRecord, ...]  # of the craft files; the store may know more
    # What is wrong in the craft files. The craft that it is of are not in `craft`: they stay as the
    # store has them, and nothing that can do without stops for it.
    craft_faults: tuple[Fault, ...] = ()
    # Of the craft files, as far as they were read whole and nothing is wrong with them; else empty.
    files_digest: str = ""
    said: Mapping[str, Any] = field(default_factory=dict, repr=False)  # by the file, before checks
    changes: tuple[YardChange, ...] = field(default=(), repr=False)  # of the store, put in

    def with_changes(self, changes: Sequence[YardChange]) -> "Settings":
        """The same with the yard as people have changed it; what is the file's alone stays.

        Raises
        ------
        ConfigurationError
            If what the store says cannot stand beside the file, as it was read.
        """
        content = overlay_changes(self.said, changes, self.file)
        return replace(
            self,
            yard=yard_from(content, changes),
            digest=_digest(self.said, changes),
            changes=tuple(changes),
        )

    @property
    def definitions(self) -> "Mapping[str, Definition]":
        """The alarm set with the yard's own limits."""
        from monitor.alarms.definitions import adjusted

        return adjusted({cause: one.to_adjustment() for cause, one in self.alarm_blocks.items()})

    def read_mappings(self) -> "tuple[PayloadMapping, ...]":
        """Mappings of payloads, the yard's own first, then those that come along.

        Raises
        ------
        ConfigurationError
            With one fault for each thing that is wrong with one of them.
        """
        from monitor.intake.mapping_file import read_mappings

        own, along = self.file.resolve().parent / "payloads", shipped_folder() / "payloads"
        folders = [own] if own == along else [own, along]
        return tuple(mapping for one in folders for mapping in read_mappings(one))


def origin_of(settings: Settings) -> "Origin":
    """What is kept with each judgement made by this program and these settings."""
    from monitor.yard.assessment import Origin

    return Origin(program=version("laidup"), settings=settings.digest)


def program_around(place: Path) -> Path | None:
    """The checkout of laidup that a file or folder lies in, and goes with; None outside of any."""
    here = place.resolve()
    return next(
        (
            one
            for one in (here, *here.parents)
            if (one / "monitor" / "cli.py").exists() and (one / "pyproject.toml").exists()
        ),
        None,
    )


def load_settings(
    path: Path,
    environment: Mapping[str, str] = os.environ,
    *,
    craft_asked_about: Collection[str] = (),
    only_new_craft: bool = False,
    store_has_word: bool = False,
) -> Settings:
    """Read and check the yard's file, and the craft files that it names.

    Parameters
    ----------
    path : Path
        ``yard.toml``. Paths inside it are read from its own folder.
    environment : mapping
        Where ``password_env`` looks.
    craft_asked_about : collection of str
        Ids or names of craft: of the craft files no other is read. Empty: all.
    only_new_craft : bool
        Read the craft files only as far as the record may not hold what they say: of craft files
        whose bytes it was taken from, those craft alone that people have changed since.
    store_has_word : bool
        Do not refuse a file that differs from what the page has: to write it anew.

    Raises
    ------
    ConfigurationError
        With one fault for each thing that is wrong with the yard's file. What is wrong with a craft
        file stands in ``craft_faults``.
    """
    said = _read_yard_toml(path)
    content: YardContent = check_content(YardFile, said, path)
    folder = path.resolve().parent
    faults: list[Fault] = []
    passwords, missing = read_secrets(content, path, environment)
    faults += missing
    channels, unfit = channel_settings(content.channel_blocks(), passwords, str(path))
    faults += unfit
    store_url = _store_url(content.store.url, folder)
    if passwords.get("store"):
        try:
            store_url = with_password(store_url, passwords["store"] or "")
        except BadValueError as error:
            faults.append(fault_from(error, str(path), "store"))
    changes = [] if faults else _changes_of(store_url, content.yard.id)
    if changes:
        content = overlay_changes(said, changes, path, refuse=not store_has_word)
    faults += _inconsistencies(content, path)
    if faults:
        raise ConfigurationError(faults)
    yard = yard_from(content, changes)
    profiles = load_profiles(_profile_folders(folder))
    digest = _digest(said, changes)
    files = CraftFiles([folder / name for name in content.yard.craft_files], digest, profiles)
    taken_into = store_url if only_new_craft else None
    read = read_new_craft(files, yard, craft_asked_about, taken_into)
    if read.whole:  # else a craft that is not read may be meant
        placed = {one.key for one in changes if one.part is YardPart.SENSORS}
        faults.extend(lost_probes(content, path, read.craft, placed))
    if faults:
        raise ConfigurationError(faults)
    return Settings(
        file=path,
        digest=digest,
        yard=yard,
        store_url=store_url,
        secret_files=secret_files(content, folder),
        backup=backup_settings(content, folder),
        archive=None if content.archive is None else folder / content.archive.folder,
        broker=broker_settings(content.broker, content.yard.id, folder, passwords["broker"]),
        mail=mail_settings(content.mail, content.yard, passwords["mail"]),
        folder=folder_settings(content, folder),
        channels=channels,
        annunciator=annunciator_settings(content, folder, passwords["broker"]),
        ping=(
            PulseSettings(url=content.ping.url, every_s=content.ping.every_s)
            if content.ping
            else None
        ),
        alarm_blocks=content.alarms,
        web=content.web,
        report_weekday=content.reports.weekday,
        report_at=content.reports.at,
        mails_season_records=content.reports.season_records,
        bought_certificate=(
            BoughtCertificate(
                file=folder / content.pdf_signature.file, password=passwords["pdf_signature"]
            )
            if content.pdf_signature
            else None
        ),
        forecast=forecast_settings(content),
        profiles=profiles,
        craft=read.craft,
        craft_faults=read.faults,
        files_digest=read.digest,
        said=said,
        changes=tuple(changes),
    )


def _inconsistencies(content: YardContent, path: Path) -> list[Fault]:
    return [
        Fault(file=str(path), key=key, problem=problem, remedy=remedy)
        for key, problem, remedy in find_inconsistencies(content)
    ]


def _changes_of(store_url: str, yard: str) -> list[YardChange]:
    """What people changed of the yard at the page; nothing where the store does not answer.

    Whoever goes on to open the store meets its error then, and the daemon asks again each round.
    """
    from monitor.store.yard_changes import read_yard_changes

    try:
        return read_yard_changes(store_url, yard)
    except StoreError:
        return []


def overlay_changes(
    said: Mapping[str, Any], changes: Sequence[YardChange], path: Path, *, refuse: bool = True
) -> YardContent:
    """The file's content with the store's word on what the page has changed.

    Raises
    ------
    ConfigurationError
        If the file says otherwise of such an item than it ever was, or both cannot go together.
    """
    content = check_content(YardFile, dict(said), path)
    if refuse and (wrong := find_differences(content, changes, path)):
        raise ConfigurationError(wrong)
    if not changes:
        return content
    content = check_content(YardFile, with_items(said, present_items(changes)), path)
    if wrong := _inconsistencies(content, path):
        raise ConfigurationError(wrong)
    return content


def _digest(said: Mapping[str, Any], changes: Sequence[YardChange]) -> str:
    """Of what the file says, and what stands in place of it."""
    return digest_of(dict(said) if not changes else with_items(said, present_items(changes)))


def read_yard_file(path: Path) -> YardContent:
    """Read the yard's file alone, without the secrets and files that it names."""
    return check_content(YardFile, _read_yard_toml(path), path)


def _read_yard_toml(path: Path) -> dict[str, Any]:
    if not path.exists():
        remedy = (
            f"Name the yard's folder with --config or {CONFIG_VARIABLE}, or change into it;"
            " `laidup init FOLDER` makes one."
        )
        raise error_at(path, "", "there is no yard's file", remedy)
    return read_toml(path)


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


def shipped_folder() -> Path:
    """Folder of the configuration that comes with laidup."""
    package = Path(__file__).resolve().parents[1]
    installed = package / "config"
    return installed if installed.is_dir() else package.parent / "config"
