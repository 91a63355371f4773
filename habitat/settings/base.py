"""Base of all settings values: no unknown keys, nothing changes after reading, every key explained."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field

Month = Annotated[int, Field(ge=1, le=12)]


Share = Annotated[float, Field(ge=0, le=1)]


Positive = Annotated[float, Field(gt=0)]


class Section(BaseModel):
    """Base of all sections: no unknown keys, nothing changes after reading."""

    model_config = ConfigDict(extra="forbid", frozen=True, validate_default=True)


def setting(default: Any, meaning: str, *, example: Any, unit: str = "") -> Any:
    """Return a key of the study file, with what the settings reference tells of it.

    Parameters
    ----------
    default
        What holds where the study says nothing; ``...`` where it must say something.
    meaning
        What the key does, what a blank one means, and where a number is from that is no measurement.
    example
        A value that may stand in a study file.
    unit
        Of a quantity: "m", "share, 0 to 1", "money"; "" for words.
    """
    return Field(default, description=meaning, examples=[example], json_schema_extra={"unit": unit})
