"""Invented names of the shop's customers of the year before: put together at random."""

FIRST = (
    "Alwen", "Bettan", "Corvin", "Dilys", "Emeric", "Fenna", "Gerrit", "Hesper", "Ivo", "Jorun", "Kestrel", "Liv",
    "Marit", "Nanne", "Ottoline", "Pim", "Quenby", "Rosalba", "Sjoerd", "Thea", "Ulla", "Veit", "Wenna", "Yorick",
    "Zita",
)  # fmt: skip
FAMILY = (
    "Abelmoor", "Brackwater", "Coppervale", "Dunmarsh", "Elderby", "Fairholt", "Greywether", "Harrowgate-Lunn",
    "Inkpen",
    "Jessamy", "Kettlewick", "Larkhall", "Merriweld", "Nettlecombe", "Oakhanger", "Pennywhin", "Quillfeather",
    "Rushmere",
    "Sorrelbank", "Thornaby", "Underhay", "Vanterpool", "Wychwood", "Yarrowdale",
)  # fmt: skip
