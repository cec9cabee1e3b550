"""How far this shop's finished flutes stood from the model, for the start sizes of the next ones.

Tuning brings every note to its target, so that the last readings alone tell nothing of the model. What tells is each
last reading against what the engine predicts for the flute with the sizes that were really cut.
"""

import math
from collections.abc import Iterator
from functools import lru_cache
from typing import Final

from sqlmodel import Session, col, select

from acoustics.designing.layout import PitchModel, layout_of
from acoustics.designing.shop_spread import ShopSpread, learned_spread
from acoustics.flute.instrument import Instrument
from acoustics.model.air import Air
from acoustics.model.implicit import CENTS
from webapp.models import Blank, Cut, PatternRevision, Reading, Stage
from webapp.shop.base.errors import Invalid
from webapp.shop.bench import cuts, finished_flutes as learning
from webapp.shop.bench.came_out import DONE
from webapp.shop.bench.readings import counted as readings_that_count
from webapp.shop.patterns import rules as patterns
from webapp.shop.patterns.revisions import cross_fingerings

LATELY: Final = 400
"""Finished flutes among which those are looked for whose cuts were written down."""
NEWEST: Final = 40
"""Flutes that are looked at, the ones finished last first: the shop's present hand, not that of years ago."""

STRANGE: Final = 80.0
"""Cents: no flute that plays stands so far from the model; the window alone is worth a quarter of that."""


def own_spread(session: Session, medium: Air) -> ShopSpread:
    """The stated spread, moved towards this shop's own as flutes come in (see `acoustics.designing.shop_spread`).

    A flute counts where the cuts of every hole were written down in tuning, and the foot as it was cut or gauged, where
    its last readings were taken at finishing, and where nobody left it out. One with a note
    farther than `STRANGE` from the model was written down wrong, and does not. A fixed number of queries.
    """
    return learned_spread(list(_deviations(session, medium)))


def _deviations(session: Session, medium: Air) -> Iterator[list[float]]:
    """How far each note of each such flute stood above the model at its last reading, in cents."""
    asked = (
        select(Blank.id)
        .where(col(Blank.finished_at).is_not(None), col(Blank.status).in_(DONE))
        .order_by(col(Blank.finished_at).desc(), col(Blank.id).desc())
        .limit(LATELY)
    )
    since = learning.last_reset(session)
    if since is not None:
        asked = asked.where(col(Blank.finished_at) >= since.at)
    lately = list(session.exec(asked))
    opened = set(session.exec(select(Cut.blank_id).where(col(Cut.blank_id).in_(lately), Cut.control > 0).distinct()))
    left_out = {blank_id for blank_id, choice in learning.choices(session).items() if not choice.counts}
    ids = [blank_id for blank_id in lately if blank_id is not None and blank_id in opened - left_out][:NEWEST]
    made: dict[int, list[Cut]] = {blank_id: [] for blank_id in ids}
    for cut in session.exec(select(Cut).where(col(Cut.blank_id).in_(ids)).order_by(col(Cut.id))):
        made[cut.blank_id].append(cut)
    read: dict[int, list[Reading]] = {blank_id: [] for blank_id in ids}
    wanted = select(Reading).where(col(Reading.blank_id).in_(ids), Reading.stage == Stage.FINISHING)
    for reading in session.exec(wanted.order_by(col(Reading.id))):
        read[reading.blank_id].append(reading)
    feet = cuts.feet_left(session, ids)
    built = select(Blank.id, PatternRevision).join(PatternRevision).where(col(Blank.id).in_(ids))
    revisions = {blank_id: revision for blank_id, revision in session.exec(built) if blank_id is not None}
    designs = {revision.id: patterns.instrument_of(revision) for revision in revisions.values()}
    for blank_id in ids:
        revision = revisions[blank_id]
        last = {r.fingering: r for r in readings_that_count(read[blank_id])}
        design = designs[revision.id]
        # A hole is started small: its gauge alone, without a cut, tells that nobody wrote the cuts down.
        first = (feet.get(blank_id), *(None for _ in design.holes))
        try:
            flute = cuts.as_cut(design, cuts.after(first, made[blank_id]))
        except Invalid:  # a size is not known, or what was written down can't be
            continue
        cross = cross_fingerings(revision)
        heard = [r for r in last.values() if r.fingering not in cross and len(r.fingering) == len(flute.holes)]
        if not heard:
            continue
        off = _above_the_model(flute, medium, tuple((r.fingering, r.target, r.cents) for r in heard))
        if max(map(abs, off)) < STRANGE:
            yield off


# A page that is opened again asks for the same flutes.
@lru_cache(maxsize=512)
def _above_the_model(flute: Instrument, medium: Air, heard: tuple[tuple[str, float, float], ...]) -> list[float]:
    """Cents above prediction of readings (fingering, target in Hz, cents above it in the same air)."""
    model = PitchModel(flute, [fingering for fingering, _, _ in heard], medium, modes=1)
    w = model.search(layout_of(flute))[:, 0].real
    found = []
    for at, (_, target, cents) in zip(w, heard, strict=True):
        predicted = float(at) / (2.0 * math.pi * target)
        found.append(cents - CENTS * math.log(predicted))
    return found
