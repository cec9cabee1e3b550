"""The scientific names of the woods that shops begin with, for papers that must name a species.

The names are those that the Wood Handbook (FPL-GTR-190, 2010, chapter 2) gives for its woods, from memory; African
blackwood's is that of the CITES lists (Dalbergia melanoxylon), from memory. Whoever signs a form checks them.
"""

from typing import Final

_NAMES: Final = {
    "western redcedar": "Thuja plicata",
    "eastern redcedar": "Juniperus virginiana",
    "yellow cedar": "Callitropsis nootkatensis",
    "port-orford cedar": "Chamaecyparis lawsoniana",
    "incense cedar": "Calocedrus decurrens",
    "redwood": "Sequoia sempervirens",
    "black walnut": "Juglans nigra",
    "black cherry": "Prunus serotina",
    "sugar maple": "Acer saccharum",
    "white ash": "Fraxinus americana",
    "quaking aspen": "Populus tremuloides",
    "american basswood": "Tilia americana",
    "sitka spruce": "Picea sitchensis",
    "butternut": "Juglans cinerea",
    "sassafras": "Sassafras albidum",
    "american sycamore": "Platanus occidentalis",
    "common persimmon": "Diospyros virginiana",
    "african blackwood": "Dalbergia melanoxylon",
}


def scientific_name(wood: str) -> str:
    """The scientific name of a wood by the shop's name for it; empty where it is not known here."""
    return _NAMES.get(wood.strip().lower(), "")
