"""What a whole column of an export says about how its cells are written."""

from dataclasses import dataclass


@dataclass(frozen=True)
class ColumnChoice:
    """A choice made from a whole column, or the statement that the column leaves it open.

    `value` is None where the cells allow more than one reading. `confidence` lies between 0 and 1:
    (agreeing cells + 1) / (deciding cells + 2), Laplace's rule of succession; 0 where nothing is decided.
    `why` is a sentence for the owner, with an example cell.
    """

    value: str | None
    confidence: float
    why: str

    @classmethod
    def undecided(cls, why: str) -> "ColumnChoice":
        """Return the decision not to decide."""
        return cls(None, 0.0, why)

    @classmethod
    def counted(cls, value: str, agreeing: int, deciding: int, why: str) -> "ColumnChoice":
        """Return a decision whose confidence follows from the count of cells behind it."""
        return cls(value, (agreeing + 1) / (deciding + 2), why)
