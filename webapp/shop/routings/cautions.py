"""The usual cautions, each standing at the step where it matters. Common sense of the trade, never the last word.

They remind someone who has learned the trade; they teach nobody. Every one of them gives way to what comes first.
"""

from webapp.models import Species

FIRST = "The tool's manual, local codes and qualified advice come first."

EYES = f"Eye protection: dry glue comes off in splinters. {FIRST}"
DUST = f"Fitted dust mask, and extraction at the source; fine wood dust harms the lungs. {FIRST}"
SAWING = (
    "Eyes and ears. Guard and riving knife in place, push block for the last hand's width, nothing shorter than the "
    f"saw's least length. No gloves near the blade. {FIRST}"
)
ROUTING = (
    "Eyes, ears, dust mask. Feed against the cutter's turning, push blocks, hands never over the cutter; a half "
    f"shorter than the tool's least length goes in a jig. No gloves, no loose sleeves near spinning tools. {FIRST}"
)
PLANING = (
    "At a machine: eyes and ears, push blocks, nothing shorter or thinner than the planer's least size, no gloves. "
    f"By hand: keep fingers above the sole. {FIRST}"
)
FILLING = f"Epoxy and fast glues sensitise skin and lungs: gloves here, fresh air, nothing spinning nearby. {FIRST}"
DRILLING = (
    "Clamp the work. Eye protection, hair and sleeves tied back, no gloves near the drill; slow down before it "
    f"breaks through. {FIRST}"
)
GLUING = f"Keep glue off skin and out of eyes; some kinds sensitise. Fresh air. Read the label. {FIRST}"
CUTTING = f"Sharp edges: clamp the work, both hands behind the edge, cut away from the body. {FIRST}"
BURNING = (
    "Hot rod and torch: heat away from dust, finish and rags, water and an extinguisher at hand, a safe rest for "
    "the rod, leather gloves only while nothing spins. Smoke is harmful: open air or an extractor. Watch for embers "
    f"afterwards. {FIRST}"
)
HOT_ROD = (
    "If holes are opened with a hot rod: away from dust and finish, smoke drawn off, a safe rest for the rod. With "
    f"a reamer or file: clamp the work. {FIRST}"
)
SANDING_SMALL = f"Small parts at a sander: hold them in a clamp or jig, not in the fingers. Dust mask. {FIRST}"
TURNING = (
    "Full face shield, dust mask. No gloves, no loose sleeves, no jewellery at a lathe; tool rest close and locked, "
    f"turn the work by hand before starting, stand aside at the start. {FIRST}"
)
HOLES = (
    "Clamp the flute in a cradle. Eye protection, no gloves near the drill; let the bit cool. With a hot rod: smoke "
    f"drawn off, nothing that burns nearby. {FIRST}"
)
FINISHES = (
    "Ventilate. Rags with drying oil heat up by themselves and catch fire: lay them flat outdoors or keep them "
    f"under water in a closed metal can. No flame, no hot rod nearby. {FIRST}"
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
