"""Flutes to draw: ordinary ones and the ends of the range."""

from acoustics.flute.instrument import Block, Body, Chamber, Flue, Hole, Instrument, Window


def flute(
    foot: float = 292.0,
    bore: float = 15.9,
    holes: tuple[tuple[float, float], ...] = ((132, 7), (156, 7.5), (181, 7.9), (212, 7), (237, 8), (258, 6.5)),
    outside: str = "round",
    chamber: float | None = 150.0,
    flue: bool = True,
    foot_holes: tuple[float, ...] = (280.0,),
    wall: float = 4.8,
    edge: float = 30.0,
) -> Instrument:
    return Instrument(
        bore=((-9.0, bore), (foot, bore)),
        body=Body("flat" if outside == "flat" else "round", wall),
        window=Window(5.5, 9.5, 3.6, edge),
        holes=tuple(Hole(x, d) for x, d in holes),
        foot_holes=tuple(Hole(x, 5.0) for x in foot_holes),
        flue=Flue(0.8, 9.0, 22.0) if flue else None,
        chamber=Chamber(chamber, bore) if chamber else None,
    )


TAPERED = Instrument(
    bore=((-9.0, 19.0), (150.0, 17.2), (330.0, 15.1)),
    body=Body("round", 4.8),
    window=Window(5.5, 9.5, 3.6, 30.0),
    # Three fingers close together, with walls and undercuts of their own.
    holes=(Hole(140, 7, 4.0, 0.5), Hole(152, 7, 4.0, 0.5), Hole(164, 7), Hole(220, 7), Hole(232, 8), Hole(244, 7.2)),
    foot_holes=(Hole(310, 5), Hole(318, 5)),
    flue=Flue(0.8, 9.0, 22.0),
    chamber=Chamber(150.0, 22.0),
)

# With its head as it is made: a flat planed 2.1 mm deep, the edge level with the flue's floor, a block set back.
REAL_HEAD = Instrument(
    bore=((-9.1, 19.05), (328.35, 19.05)),
    body=Body("round", 5.3),
    window=Window(6.1, 10.5, 3.2, 30.0, 2.3),
    holes=tuple(Hole(x, d) for x, d in ((110.7, 7), (132.4, 8), (153.9, 8.5), (182.1, 9), (211.6, 9), (242.8, 9.5))),
    flue=Flue(0.88, 9.1, 24.0),
    chamber=Chamber(164.0, 19.05),
    block=Block(14.0, 15.0, 48.0, 0.5),
)

FLUTES = {
    "A4 with its head": REAL_HEAD,
    "E5 six holes": flute(),
    "A4 tapered": TAPERED,
    "C4 six holes": flute(
        foot=604.0,
        bore=25.4,
        holes=((262, 9.5), (300, 10), (338, 9), (392, 10), (430, 10.4), (468, 8.5)),
        chamber=170.0,
        wall=6.0,
        foot_holes=(570.0, 585.0),
    ),
    "C6 six holes": flute(
        foot=118.3,
        bore=12.7,
        holes=tuple((38 + 12.1 * i, 4.5 + 0.1 * i) for i in range(6)),
        chamber=90.0,
        foot_holes=(),
    ),
    "C6 five holes": flute(
        foot=118.3, bore=12.7, holes=tuple((44 + 12.0 * i, 5.0) for i in range(5)), chamber=90.0, wall=4.0
    ),
    "G4 five holes, flat": flute(
        foot=366.0, bore=19.05, holes=tuple((170 + 31.0 * i, 8.0) for i in range(5)), outside="flat"
    ),
    "no holes": flute(holes=(), foot_holes=()),
    "no flue": flute(flue=False),
    "no chamber": flute(chamber=None),
    "neither, square edge": flute(chamber=None, flue=False, edge=90.0),
}
