"""What every kind of entry is made of: bodies, exact numbers and canonical bytes."""

import json
import re
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Annotated, Any, ClassVar, Literal, Self

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    GetCoreSchemaHandler,
    GetJsonSchemaHandler,
    PlainSerializer,
    StringConstraints,
    ValidationError,
    WithJsonSchema,
)
from pydantic_core import CoreSchema
from pydantic_core.core_schema import no_info_after_validator_function

from logbook import vocabulary
from logbook.entries.explaining import (
    CYLINDER,
    DEVICE,
    HASH,
    INITIALS,
    TAG,
    bounds_text,
    explain,
    field_misfit,
)
from logbook.errors import InputError
from logbook.times import FIRST_YEAR, LAST_YEAR, utc_text
from logbook.vocabulary import Bounds

_ISO_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", re.ASCII)
_PLAIN_NUMBER = re.compile(r"-?[0-9]{1,12}(\.[0-9]{1,6})?", re.ASCII)


def _exact(value: object) -> Decimal:
    """A number without the rounding of binary fractions; refuses what a hand would not write."""
    if isinstance(value, bool) or not isinstance(value, str | int | Decimal):
        raise field_misfit("must be a plain number written as text")
    text = format(value, "f") if isinstance(value, Decimal) else str(value)
    if not _PLAIN_NUMBER.fullmatch(text):
        raise field_misfit("must be a plain number such as 2.5")
    return Decimal(text)


@dataclass(frozen=True, slots=True)
class Within:
    """What holds a number between its bounds; it stands in the field's own annotation."""

    bounds: Bounds

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        """How pydantic calls it: after the number was read."""
        return no_info_after_validator_function(self._checked, handler(source))

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        """The bounds in words, because JSON Schema bounds no number that is written as text."""
        least, most, unit, _ = self.bounds
        return handler(schema) | {"description": f"from {least:f} to {most:f} {unit}".rstrip()}

    def _checked(self, value: Decimal) -> Decimal:
        least, most, unit, _ = self.bounds
        if not least <= value <= most:
            raise field_misfit(f"must lie between {bounds_text(least, most, unit)}")
        return value


def _instant(value: object) -> datetime:
    if isinstance(value, str) and value.endswith("Z"):
        with suppress(ValueError):
            value = datetime.fromisoformat(value)
    if not isinstance(value, datetime) or value.tzinfo is None or value.microsecond:
        raise field_misfit("must be an instant in whole seconds such as 2026-03-02T14:30:00Z")
    if not FIRST_YEAR <= value.year <= LAST_YEAR:
        raise field_misfit(f"must lie in the years {FIRST_YEAR} to {LAST_YEAR}")
    return value.astimezone(UTC)


def _day(value: object) -> object:
    if isinstance(value, str) and not _ISO_DAY.fullmatch(value):
        raise field_misfit("must be a day such as 2026-03-02")
    if isinstance(value, int | float):
        raise field_misfit("must be a day such as 2026-03-02")
    return value


def _water(size: str) -> str:
    least, most, unit, _ = vocabulary.WATER_L
    if size.endswith(unit) and not least <= Decimal(size.removesuffix(unit)) <= most:
        raise field_misfit(f"must hold {least:f} to {most:f} {unit} of water")
    return size


_TEXT = PlainSerializer(lambda value: format(value, "f"), return_type=str)
_AS_TEXT = WithJsonSchema({"type": "string", "pattern": f"^{_PLAIN_NUMBER.pattern}$"})
Amount = Annotated[Decimal, BeforeValidator(_exact), _TEXT, _AS_TEXT]
"""A number stored as the text ``"3.5"``: JSON's own numbers would come back rounded."""
Positive = Annotated[Amount, Within(vocabulary.POSITIVE)]
NotNegative = Annotated[Amount, Within(vocabulary.NOT_NEGATIVE)]
WeightG = Annotated[Amount, Within(vocabulary.WEIGHT_G)]
"""A patient's weight."""
ChargeG = Annotated[Amount, Within(vocabulary.CHARGE_G)]
"""Absorbent in a canister."""
CapacityMl = Annotated[Amount, Within(vocabulary.CAPACITY_ML)]
"""What a vaporizer holds when it is full."""
LiquidMl = Annotated[Amount, Within(vocabulary.LIQUID_ML)]
"""Agent in a vaporizer."""
GaugePsi = Annotated[Amount, Within(vocabulary.GAUGE_PSI)]
"""A gauge of oxygen."""
WaterL = Annotated[Amount, Within(vocabulary.WATER_L)]
"""The water volume of a cylinder."""
FlowMlMin = Annotated[Amount, Within(vocabulary.FLOW_ML_MIN)]
"""A flow of fresh gas."""
PressureCmh2o = Annotated[Amount, Within(vocabulary.PRESSURE_CMH2O)]
"""A pressure in the breathing system."""
ComplianceMlCmh2o = Annotated[Amount, Within(vocabulary.COMPLIANCE_ML_CMH2O)]
"""How much gas raises the pressure of a breathing system by 1 cmH2O."""
DialPercent = Annotated[Amount, Within(vocabulary.DIAL_PERCENT)]
"""A vaporizer's dial."""
OutputPercent = Annotated[Amount, Within(vocabulary.OUTPUT_PERCENT)]
"""A vaporizer's output as measured."""
AltitudeM = Annotated[Amount, Within(vocabulary.ALTITUDE_M)]
"""How high a clinic lies."""
AmbientKpa = Annotated[Amount, Within(vocabulary.AMBIENT_KPA)]
"""The pressure of the air around a machine."""
TemperatureC = Annotated[Amount, Within(vocabulary.TEMPERATURE_C)]
"""How warm the room was."""
Instant = Annotated[
    datetime,
    BeforeValidator(_instant),
    PlainSerializer(utc_text, return_type=str),
    WithJsonSchema({"type": "string", "format": "date-time"}),
]
IsoDay = Annotated[date, BeforeValidator(_day)]
"""A calendar day in ISO 8601, and nothing that only could be read as one."""
Tag = Annotated[str, StringConstraints(pattern=TAG)]
"""The short name of a unit, as it stands on its label: ``bay1``, ``iso1``."""
Initials = Annotated[str, StringConstraints(pattern=INITIALS)]
CylinderOf = Annotated[str, StringConstraints(pattern=CYLINDER), AfterValidator(_water)]
"""An oxygen cylinder by its letter in the United States, or by its water volume."""
Words = Annotated[
    str, StringConstraints(min_length=1, max_length=vocabulary.MOST_WORDS, strip_whitespace=True)
]
Sha256 = Annotated[str, StringConstraints(pattern=HASH)]
"""The SHA-256 of a file, as 64 hexadecimal digits."""
Device = Annotated[str, StringConstraints(pattern=DEVICE)]
"""What a clinic calls a tablet, a telephone or a screen."""
Seq = Annotated[int, Field(gt=0)]
"""The number of an entry."""

NAMES = ("machine", "vaporizer", "unit")
"""The fields that name a thing by its tag; a ``unit`` is a machine or a vaporizer."""


class Part(BaseModel):
    """A frozen piece of a body; unknown fields are refused."""

    # Building a model takes longer than writing an entry, so only those in use are built.
    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)

    @classmethod
    def of(cls, /, **fields: Any) -> Self:
        """A piece from what a person gave.

        Raises:
            InputError: a sentence on the first field that does not fit, and all of them as values.
        """
        try:
            return cls(**fields)
        except ValidationError as error:
            raise explain(error) from None


class Door(Part):
    """By which door an entry came: the shell, or a page on the device that is called so."""

    name: Literal["page", "shell"]
    device: Device | None = None


class Body(Part):
    """What one entry says, without the header that says who and when."""

    kind: ClassVar[str]
    door: Door | None = None

    def names(self) -> dict[str, str]:
        """What the entry is about: the tag of a unit, by the field that names it."""
        told = {field: getattr(self, field, None) for field in NAMES}
        return {field: tag for field, tag in told.items() if tag is not None}

    def canonical(self) -> str:
        """The text that is stored and hashed: sorted ASCII keys, no spaces, no floats."""
        return canonical_json(self.model_dump(mode="json", exclude_none=True))


def canonical_json(value: Any) -> str:
    """JSON with one spelling for one value.

    Raises:
        InputError: a float or a number of 2^53 or above, which programs read differently.
    """
    _refuse_loose_numbers(value)
    return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=True)


def _refuse_loose_numbers(value: Any) -> None:
    if isinstance(value, dict):
        for item in value.values():
            _refuse_loose_numbers(item)
    elif isinstance(value, list | tuple):
        for item in value:
            _refuse_loose_numbers(item)
    elif isinstance(value, float) or (isinstance(value, int) and abs(value) >= 2**53):
        raise InputError(f"the number {value} cannot be stored exactly; write it as text")
