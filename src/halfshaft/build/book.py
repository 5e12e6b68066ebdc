"""What a builder can write of the book and of what is bought, as frozen values."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from halfshaft.build.value import Value, assumed

Words = Annotated[str, Field(max_length=300)]


class BookInput(Value):
    """What stands on the book's cover, and how its drawings are laid out."""

    title: Words | None = None  # the build's own name when None
    revision: Annotated[str, Field(max_length=60)] = ""  # 'B, ears 4 mm longer'
    by: Words = ""
    job: Words = ""  # what is done to which car, in a sentence
    projection: Literal["first", "third"] = assumed("book.projection")  # angle, as ISO 5456-2 names the two
    currency: Annotated[str, Field(max_length=12)] = ""


class BuyInput(Value):
    """A row of what is bought: a row of one's own, or what is known of a row that the book derives."""

    what: Words = ""
    covers: Words | None = None  # name of the derived row that this tells price and seller of
    count: float | None = Field(None, gt=0, le=1e6)
    unit: Annotated[str, Field(max_length=20)] = ""  # 'm', 'litre'; pieces when empty
    price: float | None = Field(None, ge=0, le=1e9)  # of one
    seller: Words = ""
    have: float = Field(0.0, ge=0, le=1e6)  # at hand already
