"""The usual cautions, each standing at the step where it matters. Common sense of the trade, never the last word.

They remind someone who has learned the trade; they teach nobody. Every one of them gives way to what comes first: that
is said once on each page that shows any, and at the foot of each paper.
"""

from webapp.models import Species

FIRST = "The tool's manual, local codes and qualified advice come first."

EYES = "Eye protection: dry glue comes off in splinters."
DUST = (
    "All wood dust harms lungs, maple, cherry and ash too: respirator P2 (N95) or better, extraction at the source, "
    "never blown toward a face. Spalted or old wood: P3, or none of it."
)
SAWING = (
    "Table saw: eyes, ears, guard, riving knife, push block. Band saw: guard low, hands beside the blade's line. "
    "Nothing shorter than the saw's least length, no gloves."
)
ROUTING = (
    "Router: eyes, ears, respirator. Feed against the cutter's turning, push blocks, hands never over the "
    "cutter; a half "
    "shorter than the table's least length goes in a jig. No gloves, no loose sleeves."
)
PLANING = (
    "Planer or jointer: eyes and ears, push blocks, nothing shorter or thinner than its least size, no gloves. "
    "By hand: clamp the work, keep fingers above the sole."
)
HAND_PLANE = "Plane and scraper: clamp the work, both hands behind the edge, fingers above the sole."
FILLING = (
    "Epoxy and fast glues sensitise skin and lungs: nitrile gloves while nothing spins, fresh air, eye protection."
)
THIN_GLUE = (
    "Thin cyanoacrylate heats on cotton, wool and leather and can burn; its fumes irritate: nitrile gloves, eye "
    "protection, fresh air."
)
DRILLING = (
    "Drill: clamp the work, eye protection, hair and sleeves tied back, no gloves near the drill; slow down before it "
    "breaks through."
)
GLUING = (
    "Nitrile gloves; some glues sensitise, hot hide glue scalds; fresh air, read the label. Open time and total "
    "assembly time are two: spread within one, clamp within the other. Clamp force: pressure by the joint's area (Wood "
    "Handbook, ch. 10)."
)
CUTTING = "Sharp edges: clamp the work, both hands behind the edge, cut away from the body."
BURNING = (
    "Hot rod and torch: away from dust, finish and rags, extinguisher at hand, a safe rest for the rod, leather gloves "
    "only while nothing spins. Smoke is harmful: open air or an extractor. Watch for embers afterwards."
)
HOT_ROD = (
    "If holes are opened with a hot rod: away from dust and finish, smoke drawn off, a safe rest for the rod. With "
    "a reamer or file: clamp the work."
)
SANDING_SMALL = "Small parts at a sander: hold them in a clamp or jig, not in the fingers. Respirator, extraction."
TURNING = (
    "Lathe: full face shield, respirator, no gloves, sleeves or jewellery; tool rest close and locked, turn by hand "
    "before starting, stand aside. Planer or round-over cutter: push blocks, no gloves."
)
HOLES = (
    "Clamp the flute in a cradle. Eye protection, no gloves near the drill; let the bit cool. With a hot rod: smoke "
    "drawn off, nothing that burns nearby."
)
FINISHES = (
    "Ventilate, nitrile gloves. Rags with drying oil heat up by themselves and catch fire: lay them flat "
    "outdoors or keep "
    "them under water in a closed metal can. No flame, no hot rod nearby."
)

# Steps where the wood's own dangers are said again: where it first gives dust, and where it gives most.
_WOOD_AT = {"halves", "bore-sanded", "sanded"}


def with_wood(caution: str, code: str, species: Species) -> str:
    """The caution with what is to be watched about this wood, at the steps where it gives dust; at most 600 letters."""
    if code not in _WOOD_AT or not (species.sensitising or species.restricted):
        return caution
    says = []
    if species.restricted and code == "halves":
        says.append(f"{species.name[:1].upper()}{species.name[1:]} is restricted.")
    elif species.sensitising:
        says.append(f"{species.name[:1].upper()}{species.name[1:]} sensitises.")
    own = species.what_to_check or "Ask what rules and health advice hold for it before working it."
    text = " ".join([*says, own, caution])
    return text if len(text) <= 600 else text[:599] + "\N{HORIZONTAL ELLIPSIS}"
