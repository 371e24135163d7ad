"""What every table of bench.toml keeps to, and the names that people give."""

from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict


def _printable(name: str) -> str:
    if not name.strip() or not name.isprintable() or len(name) > 40:
        raise ValueError("a name needs 1 to 40 printable characters")
    return name


Name = Annotated[str, AfterValidator(_printable)]


class Table(BaseModel):
    """Strict: no key is passed over, and no text is taken for a number."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True, allow_inf_nan=False)
