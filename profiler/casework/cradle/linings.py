"""What lies between wood and varnish: linings, how much they give, and the air beside them.

A contact either *bears*, so that the instrument's weight squeezes the lining, or it *guards*: then
nothing presses there while the instrument lies still.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from profiler.casework.words import both
from profiler.errors import RequestError

#: thickest lining and widest clearance that make sense, mm
THICKEST_MM, WIDEST_MM = 60.0, 40.0


@dataclass(frozen=True)
class Lining:
    """A lining as it is bought.

    Attributes:
        kind: 'felt', 'flock', 'foam', 'leather' or 'none'.
        thickness: uncompressed, mm.
        give: share of it that yields under the instrument's weight.
        most: share that yields before it is as hard as the wood behind it.
    """

    kind: str
    thickness: float
    give: float
    most: float

    @property
    def loaded(self) -> float:
        """Thickness under the instrument's weight, mm."""
        return self.thickness * (1.0 - self.give)

    @property
    def crushed(self) -> float:
        """Thickness below which it no longer gives, mm."""
        return self.thickness * (1.0 - self.most)


#: Thicknesses and how much they give: common practice, no source. Press a piece of yours with a
#: thumb between two rules and type what you find.
LININGS: dict[str, Lining] = {
    "felt": Lining("felt", 3.0, 0.15, 0.45),
    "flock": Lining("flock", 0.8, 0.30, 0.60),
    "foam": Lining("foam", 10.0, 0.25, 0.65),
    "leather": Lining("leather", 2.0, 0.08, 0.20),
    "none": Lining("none", 0.0, 0.0, 0.0),
}
#: what a lining's stated thickness and give are uncertain by, 95 %, as a share of each (common
#: practice, no source)
U95_THICKNESS, U95_GIVE = 0.1, 0.4


@dataclass(frozen=True)
class Contact:
    """Where a piece of wood meets the instrument.

    Attributes:
        lining: on the wood.
        clearance: air between the uncompressed lining and the instrument, mm; at the sides alone
            where it bears.
        bears: whether the instrument rests here.
    """

    lining: Lining
    clearance: float
    bears: bool = False

    @property
    def offset(self) -> float:
        """From the instrument to the wood: the true offset that the notch is drawn at, mm."""
        return self.lining.thickness + self.clearance

    @property
    def seat(self) -> float:
        """From the instrument's underside to the wood, the instrument at rest, mm."""
        return self.lining.loaded if self.bears else self.offset

    @property
    def raised(self) -> float:
        """How far the notch stands above its true offset so that it bears, mm."""
        return self.offset - self.seat


#: contacts in the order in which people meet them, and what is taken where nothing was typed
#: (common practice, no source). The neck lies on thinner foam of the same kind: both are
#: squeezed by the same share, and 6 mm of it outlast what the body's foam is uncertain by, which
#: 3 mm of felt did not: it was hard in 14 of 100 draws, and not reached in 29.
SCHEME: dict[str, Contact] = {
    "body": Contact(LININGS["foam"], 0.0, bears=True),
    "neck": Contact(replace(LININGS["foam"], thickness=6.0), 1.0, bears=True),
    "headstock": Contact(LININGS["felt"], 4.0),
    "tail": Contact(LININGS["felt"], 2.0),
    "button": Contact(LININGS["none"], 3.0),
    "blocks": Contact(LININGS["felt"], 1.5),
}


@dataclass(frozen=True)
class Scheme:
    """One contact for each of `SCHEME`."""

    contacts: dict[str, Contact] = field(default_factory=lambda: dict(SCHEME))

    def __getitem__(self, name: str) -> Contact:
        return self.contacts[name]

    def with_lining(
        self, where: str, kind: str, thickness: float | None, give: float | None
    ) -> Scheme:
        """Another lining at one contact.

        Raises:
            RequestError: no such contact or lining, or numbers that make no sense.
        """
        contact = self._known(where, "--lining")
        if kind not in LININGS:
            raise RequestError(
                f"--lining {where}: '{kind}' is no lining here. Known: {', '.join(LININGS)}."
            )
        lining = LININGS[kind]
        if thickness is not None:
            if not 0.0 <= thickness <= THICKEST_MM:
                raise RequestError(
                    f"--lining {where}: {both(thickness)} cannot be: up to {THICKEST_MM:g} mm. Was"
                    " the unit meant?"
                )
            lining = replace(lining, thickness=thickness)
        if give is not None:
            if not 0.0 <= give < 0.9:
                raise RequestError(
                    f"--lining {where}: a lining gives 0 to 89 % under the weight, not"
                    f" {100 * give:g} %."
                )
            lining = replace(lining, give=give, most=max(lining.most, min(0.95, 2 * give)))
        return self._with(where, replace(contact, lining=lining))

    def with_clearance(self, where: str, mm: float) -> Scheme:
        """Another clearance at one contact; errors as for `with_lining`."""
        contact = self._known(where, "--clearance")
        if where == "body":
            raise RequestError(
                "--clearance body: the body lies on its foam; air belongs to 'blocks' and 'tail'."
            )
        if not 0.0 <= mm <= WIDEST_MM:
            raise RequestError(
                f"--clearance {where}: {both(mm)} cannot be: 0 to {WIDEST_MM:g} mm. Was the unit"
                " meant?"
            )
        return self._with(where, replace(contact, clearance=mm))

    def _known(self, where: str, option: str) -> Contact:
        if where not in self.contacts:
            raise RequestError(
                f"{option}: '{where}' is no contact. Known: {', '.join(self.contacts)}."
            )
        return self.contacts[where]

    def _with(self, where: str, contact: Contact) -> Scheme:
        return Scheme({**self.contacts, where: contact})
