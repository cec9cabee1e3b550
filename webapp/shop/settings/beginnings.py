"""What a new shop finds on its shelves: woods, generic adhesives and drill sizes, all of them its own to change.

Times of adhesives are generic (common practice, no published source): the label on the bottle comes first.
What is said of woods: sensitisers and dust from the general occupational health literature (HSE, ACGIH);
restrictions change, so the flag says what to look up rather than what the law is.
"""

from sqlmodel import Session

from webapp.models import Adhesive, Drill, Species, Units
from webapp.shop.units.lengths import show_length

DUST = "Dust irritates or sensitises: extract at the source and wear a fitted mask."
CITES = "Check the current CITES listing and your country's rules before buying, selling or sending abroad."

WOODS = [
    (
        "western redcedar",
        "#b5713f",
        True,
        False,
        f"Known cause of occupational asthma (plicatic acid). {DUST}",
    ),
    ("eastern redcedar", "#a4553a", True, False, DUST),
    ("yellow cedar", "#d9b56b", True, False, DUST),
    ("Port-Orford cedar", "#dcbf87", True, False, DUST),
    ("redwood", "#8f4a32", True, False, DUST),
    ("black walnut", "#6a4630", True, False, DUST),
    ("black cherry", "#a8643c", False, False, ""),
    ("sugar maple", "#dcc195", False, False, ""),
    ("white ash", "#d3bd93", False, False, ""),
    ("quaking aspen", "#e3d7b8", False, False, ""),
    ("American basswood", "#e0cda3", False, False, ""),
    ("Sitka spruce", "#dfc48c", False, False, ""),
    ("rosewood (Dalbergia)", "#5a2f2a", True, True, f"{CITES} {DUST}"),
    ("African blackwood", "#35261f", True, True, f"{CITES} {DUST}"),
]

# name, open minutes, clamp minutes, cure minutes, lowest temperature in degrees C, times as long 10 degrees colder and
# with 2 percent more moisture in the wood, g/m2, g/ml: all from memory, to be set by the label
ADHESIVES = [
    ("white wood glue (PVA)", 8, 45, 24 * 60, 13.0, 1.6, 1.15, 180.0, 1.1),
    ("yellow wood glue (PVA)", 6, 40, 24 * 60, 10.0, 1.6, 1.15, 180.0, 1.1),
    ("water-resistant wood glue (cross-linking PVA)", 5, 60, 24 * 60, 10.0, 1.6, 1.15, 180.0, 1.1),
    ("liquid hide glue", 10, 8 * 60, 24 * 60, 18.0, 1.5, 1.2, 220.0, 1.2),
    ("slow two-part epoxy", 30, 8 * 60, 3 * 24 * 60, 15.0, 2.0, 1.0, 150.0, 1.15),
    ("polyurethane", 15, 4 * 60, 24 * 60, 10.0, 1.8, 0.85, 130.0, 1.1),
]


def lay_out(session: Session, units: Units) -> None:
    """Add the starting woods, adhesives and drills to the session."""
    for name, colour, sensitising, restricted, check in WOODS:
        session.add(
            Species(name=name, colour=colour, sensitising=sensitising, restricted=restricted, what_to_check=check)
        )
    for name, open_minutes, clamp, cure, lowest, cold, damp, rate, density in ADHESIVES:
        session.add(
            Adhesive(
                name=name,
                open_minutes=open_minutes,
                clamp_minutes=clamp,
                cure_minutes=cure,
                lowest_temperature=lowest,
                slower_when_cold=cold,
                slower_when_damp=damp,
                spread_rate=rate,
                density=density,
                note="Generic figures from memory: follow the label.",
            )
        )
    session.add_all(drills(units))


def drills(units: Units) -> list[Drill]:
    """A common set: every 1/64 in from 3/16 to 7/16, or every 0.5 mm from 4.5 to 11."""
    if units is Units.MM:
        return [Drill(diameter=n / 2, label=f"{n / 2:g} mm") for n in range(9, 23)]
    return [Drill(diameter=n * 25.4 / 64, label=show_length(n * 25.4 / 64, Units.INCH)) for n in range(12, 29)]
