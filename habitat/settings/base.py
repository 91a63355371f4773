"""Base of all settings values: no unknown keys, nothing changes after reading."""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

Month = Annotated[int, Field(ge=1, le=12)]


Share = Annotated[float, Field(ge=0, le=1)]


Positive = Annotated[float, Field(gt=0)]


class Section(BaseModel):
    """Base of all sections: no unknown keys, nothing changes after reading."""

    model_config = ConfigDict(extra="forbid", frozen=True, validate_default=True)
