"""A pair to be valued: what is known of it, in the words of a sale record."""

from dataclasses import dataclass, fields

from pipeline.schema import CLOSED_FIELDS


@dataclass(frozen=True)
class Unread:
    """An attribute of which a file says something that could not be read, and the sentence that says so."""

    attribute: str
    words: str


@dataclass(frozen=True)
class Pair:
    """A given pair.

    None means "not known" and is priced as such, never guessed. `defects`, `treatments` and `parts`
    are None when nobody looked, and empty when somebody looked and found none. `foot_mm` is foot
    length in mm; `size_label` and `size_system` are kept as printed.
    """

    silhouette: str
    colourway: str | None = None
    era: str | None = None
    size_label: str | None = None
    size_system: str | None = None
    foot_mm: int | None = None
    grade: float | None = None
    box: str | None = None
    tags: str | None = None
    overlay: str | None = None
    parts: tuple[str, ...] | None = None
    defects: tuple[str, ...] | None = None
    treatments: tuple[str, ...] | None = None
    venue: str | None = None
    label: str = ""
    """What the owner calls it (a stock number, a title); untrusted text."""
    pictures: tuple[str, ...] = ()
    """The names of its photographs in the owner's folder, where its list names them; untrusted text."""
    read_as: tuple[str, ...] = ()
    """Sentences on how its words were read where that is not as they stand; they stand beside every answer."""
    unread: tuple[Unread, ...] = ()
    """What its file says of it that could not be read; it stands beside every answer too."""

    @property
    def size_text(self) -> str:
        """Return the size as printed with the system that it is in, once; "" where it is not known."""
        system, label = self.size_system or "", self.size_label or ""
        return label if label.casefold().startswith(system.casefold()) else f"{system} {label}".strip()


CLOSED: tuple[str, ...] = tuple(
    name for name in CLOSED_FIELDS if name in {field.name for field in fields(Pair)}
)
"""The attributes of a pair with a short list of allowed values, in the order of a sale record."""
