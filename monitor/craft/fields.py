"""The fields of a lay-up entry. Each stands once; every way in and out reads it from here."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import Enum, StrEnum, auto
from math import inf
from typing import TypeVar

from monitor.craft.layup import (
    Act,
    Cover,
    FlowOrder,
    Liquid,
    OilAppearance,
    Outflow,
    Posture,
    ReadyStep,
)
from monitor.errors import BadValueError
from monitor.physics.kinds import HIGHEST_MASS_FRACTION
from monitor.units import STRENGTH, TEMPERATURE, VOLTAGE, VOLUME, Dimension

_Day = TypeVar("_Day", bound=date)

MOST_OF_ONE_FIELD = 100  # circuits, photos, findings of one entry: more is a slip


_YEARS = range(1970, 2200)  # beyond them no zone's time can be turned into UTC for certain


class FieldKind(Enum):
    """What a field holds, and so how it is read, checked and written."""

    MOMENT = auto()  # a time with its zone
    DAY = auto()
    YES_NO = auto()
    CHOICE = auto()  # one word of an enumeration
    QUANTITY = auto()  # a number; people write it with a unit, JSON in SI
    ID = auto()  # small letters, digits and hyphens
    LINE = auto()  # one line of text
    TEXT = auto()  # several lines of text
    FINDING = auto()  # an id, a part and words


class StrengthBy(StrEnum):
    """How a maker states the glycol in a product."""

    MASS = "mass"
    VOLUME = "volume"


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One field of an entry.

    Invariants: a choice has ``choices``, a quantity its ``dimension``; limits are SI and closed,
    but for ``above_low``.
    """

    path: str  # attribute of `LayupEntry`, behind the part of it that holds it: "product.lot"
    kind: FieldKind
    label: str  # over a column, and where changes are listed
    about: str  # what it means: help of the flag, description in the API
    word: str = ""  # its key in files, column in a work list; the flag is made of it
    key: str = ""  # its key in JSON, where it is not the attribute's name
    question: str = ""  # at the bench; empty: not asked
    shown: str = "{}"  # how a list of work tells it
    shown_no: str = ""  # how it tells a no
    many: bool = False
    of_many: str = ""  # the flag's word for one of many
    any_order: bool = False  # of many: their order means nothing
    choices: type[StrEnum] | None = None
    offered: tuple[StrEnum, ...] = ()  # of the choices, where not all of them make sense
    # Other words that people say for a choice.
    also: Mapping[str, StrEnum] = field(default_factory=dict, compare=False)
    unclear: frozenset[str] = frozenset()  # words that may mean one choice or another
    unclear_remedy: str = ""
    dimension: Dimension | None = None
    low: float = -inf
    high: float = inf
    above_low: bool = False
    beyond: str = "was a sign or a unit lost?"  # remedy for a number outside them
    longest: int = 200
    person: bool = False  # somebody of the yard: kept by id
    unsaid: object = None  # the value that stands for "nobody said"

    @property
    def part(self) -> str:
        """The part of the entry that holds it: ``product``, ``evidence`` or none."""
        return self.path.rpartition(".")[0]

    @property
    def name(self) -> str:
        """The attribute of that part."""
        return self.path.rpartition(".")[2]

    @property
    def json_key(self) -> str:
        """The key in JSON, inside its part."""
        return self.key or self.name

    @property
    def file_key(self) -> str:
        """The key in a file: inside its product, or beside the rest of the entry."""
        return self.word or self.name

    @property
    def column(self) -> str:
        """The column in a work list; no two fields share one."""
        return "product" if self.path == "product.name" else self.file_key

    @property
    def words(self) -> tuple[str, ...]:
        """What a person can choose from; empty where it is no choice."""
        if self.kind is FieldKind.YES_NO:
            return ("yes", "no")
        return tuple(str(one) for one in self.offered or self.choices or ())

    def choice_meant(self, text: str) -> str:
        """The choice that a person's word stands for; a word that is none is given back.

        Raises
        ------
        BadValueError
            If it may be one choice or another; says how to tell them apart.
        """
        word = " ".join(text.lower().split())
        if word in self.unclear:
            raise BadValueError(f"{text.strip()!r} may mean two things", self.unclear_remedy)
        return str(self.also.get(word, word))

    @property
    def flag(self) -> str:
        """The flag of ``laidup layup add``."""
        return "--" + (self.of_many or self.column).replace("_", "-")

    def refusal(self, value: float) -> BadValueError | None:
        """Why a number cannot be this field's; None if it can. In SI."""
        too_low = value <= self.low if self.above_low else value < self.low
        if not too_low and value <= self.high:
            return None
        per, unit = (100.0, "%") if self.dimension is STRENGTH else (1.0, _unit(self.dimension))
        between = f"{self.low * per:g} and {self.high * per:g} {unit}"
        problem = f"{value * per:.4g} {unit} is no {self.label} between {between}"
        return BadValueError(problem, self.beyond)


def _unit(dimension: Dimension | None) -> str:
    return "°C" if dimension is TEMPERATURE else dimension.unit if dimension else ""


# As refractometers have it on their scales.
_GLYCOLS_IN_SHORT = {"pg": Liquid.PROPYLENE, "eg": Liquid.ETHYLENE}

FIELDS = (
    Field(
        path="id",
        kind=FieldKind.ID,
        label="id",
        about="left out: made from what the entry says",
    ),
    Field(path="craft", kind=FieldKind.ID, label="craft", about="id of the craft"),
    Field(
        path="at",
        kind=FieldKind.MOMENT,
        label="when",
        about="when the work was done; without an offset it is the yard's time",
        question="When?",
    ),
    Field(
        path="by",
        kind=FieldKind.LINE,
        label="by",
        about="who did it",
        question="Who did it?",
        longest=80,
        person=True,
    ),
    Field(
        path="act",
        kind=FieldKind.CHOICE,
        choices=Act,
        label="act",
        about="what was done, or happened",
        question="What was done?",
    ),
    Field(
        path="circuits",
        kind=FieldKind.ID,
        many=True,
        of_many="circuit",
        any_order=True,
        label="circuits",
        about="a circuit that it reached",
        question="Which circuits?",
    ),
    Field(
        path="product.name",
        kind=FieldKind.LINE,
        label="product",
        about="what was used, as the jug names it",
        question="Which product (name on the jug)?",
    ),
    Field(
        path="product.liquid",
        kind=FieldKind.CHOICE,
        choices=Liquid,
        also=_GLYCOLS_IN_SHORT,
        label="liquid",
        about="what the product is made of",
        question="Made of?",
    ),
    Field(
        path="product.strength",
        key="glycol_mass_fraction",
        kind=FieldKind.QUANTITY,
        dimension=STRENGTH,
        low=0.0,
        above_low=True,
        high=HIGHEST_MASS_FRACTION,
        beyond="as poured: dilute a concentrate first",
        label="strength",
        about="glycol in it as poured, like 50%",
        question="Glycol in it as poured, like 50%?",
    ),
    Field(
        path="product.label_burst_c",
        word="label_burst",
        kind=FieldKind.QUANTITY,
        dimension=TEMPERATURE,
        low=-100.0,
        high=0.0,
        label="burst rating",
        about="pipe-burst rating on the label, like -50F; never an ice point",
        question="Burst rating on the label, like -50F?",
        shown="label burst {}",
    ),
    Field(
        path="product.lot",
        kind=FieldKind.LINE,
        longest=80,
        label="lot",
        about="its lot, as stamped on the jug",
        question="Lot number?",
        shown="lot {}",
    ),
    Field(
        path="quantity_l",
        word="quantity",
        kind=FieldKind.QUANTITY,
        dimension=VOLUME,
        low=0.0,
        above_low=True,
        high=10_000.0,
        label="quantity",
        about="how much, like 14floz or 6L",
        question="How much, like 14floz or 6L?",
    ),
    Field(
        path="residual_l",
        word="residual",
        kind=FieldKind.QUANTITY,
        dimension=VOLUME,
        low=0.0,
        high=10_000.0,
        label="water left before",
        about="water known to be left before pouring, all circuits together",
        question="Water known to be left before, like 4floz?",
        shown="onto {} of water",
    ),
    Field(
        path="flow_order",
        kind=FieldKind.CHOICE,
        choices=FlowOrder,
        label="flow order",
        about="which came first when the engine ran on a hose",
        question="On the hose: which was on first?",
    ),
    Field(
        path="posture",
        kind=FieldKind.CHOICE,
        choices=Posture,
        label="posture",
        about="how the craft or its engine stands",
        question="How does it stand?",
        shown="stands {}",
    ),
    Field(
        path="cover",
        kind=FieldKind.CHOICE,
        choices=Cover,
        label="cover",
        about="what the cover is made of",
        question="What kind of cover?",
        shown="{} cover",
    ),
    Field(
        path="space",
        kind=FieldKind.ID,
        label="space",
        about="space that the battery went to, or owner; left out: nobody knows, judged as aboard",
        question="Where did it go (a space, or owner)?",
        shown="to {}",
    ),
    Field(
        path="rested_v",
        word="rested",
        kind=FieldKind.QUANTITY,
        dimension=VOLTAGE,
        low=0.0,
        high=60.0,
        label="voltage at rest",
        about="battery at rest, like 12.6V",
        question="Battery at rest, like 12.6V?",
        shown="{} at rest",
    ),
    Field(
        path="again",
        kind=FieldKind.YES_NO,
        unsaid=False,
        label="again",
        about="a second pour of the same product; left out: the first one, told once more",
        question="A second pour of the same product, on top of one on record?",
        shown="a second pour",
    ),
    Field(
        path="evidence.outflow",
        kind=FieldKind.CHOICE,
        choices=Outflow,
        unsaid=Outflow.NOT_LOOKED,
        label="outflow",
        about="what was seen at the outlet",
        question="What was seen at the outlet?",
        also={
            "came out": Outflow.SEEN,
            "it came out": Outflow.SEEN,
            "came through": Outflow.SEEN,
            "nothing": Outflow.NONE,
            "nothing came out": Outflow.NONE,
            "no": Outflow.NONE,
            "full color": Outflow.FULL_COLOUR,
            "jug's colour": Outflow.FULL_COLOUR,
            "jug's color": Outflow.FULL_COLOUR,
            "as in the jug": Outflow.FULL_COLOUR,
            "water": Outflow.CLEAR_WATER,
            "clear": Outflow.CLEAR_WATER,
        },
        unclear=frozenset(
            {"pink", "came out pink", "red", "green", "blue", "colour", "color", "yes"}
        ),
        unclear_remedy=(
            "full colour is as strong as in the jug; seen is anything else that came out, paler or"
            " not compared"
        ),
        shown="outflow: {}",
    ),
    Field(
        path="evidence.dry",
        kind=FieldKind.YES_NO,
        label="dry",
        about="probed and seen dry?",
        question="Probed and seen dry?",
        shown="seen dry",
        shown_no="water still in it",
    ),
    Field(
        path="evidence.ice_point_c",
        word="ice_point",
        kind=FieldKind.QUANTITY,
        dimension=TEMPERATURE,
        low=-80.0,
        high=0.0,
        label="reading",
        about="refractometer reading of a sample from the outlet, like -30C",
        question="Refractometer, a sample from the outlet, like -30C?",
        shown="read {}",
    ),
    Field(
        path="evidence.scale",
        kind=FieldKind.CHOICE,
        choices=Liquid,
        offered=(Liquid.PROPYLENE, Liquid.ETHYLENE),
        also=_GLYCOLS_IN_SHORT,
        label="scale",
        about="glycol scale that it was read on",
        question="Read on which scale?",
        shown="{} scale",
    ),
    Field(
        path="evidence.zeroed_on",
        kind=FieldKind.DAY,
        label="zero checked",
        about="day on which the refractometer was last set to zero with water",
        question="Refractometer last set to zero on?",
        shown="zeroed {}",
    ),
    Field(
        path="evidence.engine_hot",
        kind=FieldKind.YES_NO,
        label="engine hot",
        about="was the engine hot, its thermostat open?",
        question="Engine hot, thermostat open?",
        shown="engine hot",
        shown_no="engine cold",
    ),
    Field(
        path="evidence.oil",
        kind=FieldKind.CHOICE,
        choices=OilAppearance,
        label="oil",
        about="how the oil looked that came out",
        question="How did the oil look?",
        shown="oil {}",
    ),
    Field(
        path="evidence.treated_fuel_seen",
        kind=FieldKind.YES_NO,
        of_many="fuel_seen",
        label="treated fuel seen",
        about="treated fuel seen at the filter or bowl?",
        question="Treated fuel seen at the filter or bowl?",
        shown="treated fuel seen",
        shown_no="no treated fuel seen",
    ),
    Field(
        path="evidence.used_away",
        kind=FieldKind.YES_NO,
        label="used away",
        about="outside the yard: was it run, or afloat?",
        question="Was it run, or afloat, while it was away?",
        shown="run or afloat while away",
        shown_no="neither run nor afloat while away",
    ),
    Field(
        path="evidence.photos",
        kind=FieldKind.LINE,
        many=True,
        of_many="photo_place",
        label="photos",
        about="where a photo is kept that laidup does not have",
        shown="photo {}",
    ),
    Field(
        path="evidence.photo_sha256",
        kind=FieldKind.LINE,
        longest=64,
        many=True,
        of_many="photo",
        label="kept photos",
        about="a photo, kept with the record: a file here, in JSON the SHA-256 of a kept one",
        shown="photo {}",
    ),
    Field(
        path="evidence.witness",
        kind=FieldKind.LINE,
        longest=80,
        label="witness",
        about="who else saw it",
        question="Who else saw it?",
        shown="seen by {}",
        person=True,
    ),
    Field(
        path="findings",
        kind=FieldKind.FINDING,
        many=True,
        of_many="finding",
        label="found",
        about="something that needs work",
        question="Anything found that needs work (in words)?",
        shown="found: {}",
    ),
    Field(
        path="settles",
        kind=FieldKind.ID,
        many=True,
        of_many="settles",
        label="settles",
        about="id of a finding that this put right",
        question="Which finding does it settle (id)?",
        shown="settles {}",
    ),
    Field(
        path="readied",
        word="step",
        kind=FieldKind.CHOICE,
        choices=ReadyStep,
        label="step of spring",
        about="the step before the first start that this ticks off",
        shown="step: {}",
    ),
    Field(
        path="note",
        kind=FieldKind.TEXT,
        longest=2000,
        label="note",
        about="anything else",
        question="A note?",
    ),
    Field(
        path="replaces",
        kind=FieldKind.LINE,
        longest=80,
        label="replaces",
        about="id of the entry that this one corrects",
        shown="replaces {}",
    ),
    Field(
        path="entered_by",
        kind=FieldKind.LINE,
        longest=80,
        label="entered by",
        about="who wrote it down, where somebody else did the work",
        shown="entered by {}",
        person=True,
    ),
    Field(
        path="day_began",
        kind=FieldKind.MOMENT,
        label="day began",
        about="start of the day of the work, where its hour is not known",
    ),
    Field(
        path="moved_from",
        kind=FieldKind.ID,
        label="moved from",
        about="id of the craft on which it was entered by mistake",
        shown="entered on {} before, by mistake",
    ),
    Field(
        path="told_at",
        kind=FieldKind.MOMENT,
        label="told at",
        about="when it was told first, on the craft that it was moved from, link by link",
    ),
)

# Not kept: what a person says of the strength is turned into a mass fraction while it is read.
STRENGTH_BY = Field(
    path="product.strength_by",
    kind=FieldKind.CHOICE,
    choices=StrengthBy,
    label="strength by",
    about="how that strength is stated (mass)",
    unsaid=StrengthBy.MASS,
)

BY_PATH: Mapping[str, Field] = {one.path: one for one in FIELDS}
# They follow from how the time is written, and from the verb that moves an entry.
_WORKED_OUT = frozenset({"day_began", "moved_from", "told_at"})
ENTERED_FIELDS = (*(one for one in FIELDS if one.path not in _WORKED_OUT), STRENGTH_BY)


def without_empty(content: object) -> object:
    """What a form or a body says, without the keys that were left empty: nobody said those."""
    if not isinstance(content, dict):
        return content
    return {key: value for key, value in content.items() if value not in ("", [], None)}


def in_our_time(value: _Day) -> _Day:
    """Refuse a day or a moment of no year that a record can be of."""
    if value.year not in _YEARS:
        raise BadValueError(
            f"{value.isoformat()} is of the year {value.year}",
            f"write a year between {_YEARS[0]} and {_YEARS[-1]}",
        )
    return value
