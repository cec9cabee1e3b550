"""One sheet of final sizes makes a flute teach whose cuts nobody wrote down."""

from datetime import timedelta

import pytest
from sqlmodel import col, select

from acoustics.designing.design import design
from acoustics.designing.request import DesignRequest
from seed_demo.tuning import Flute
from tests import blanks as made
from tests.shops import OpenShop
from webapp.models import Blank, BlankStatus, Event, Evidence, Reading, Shop, Stage, now
from webapp.shop.base.errors import Invalid, Refused
from webapp.shop.base.finding import find
from webapp.shop.bench import cuts, final_sizes, readings
from webapp.shop.bench.cuts import RecordCut
from webapp.shop.bench.final_sizes import FinalSizes
from webapp.shop.bench.readings import RecordReading
from webapp.shop.learning import corrections
from webapp.shop.settings import air


class _Level:
    """Dice without any scatter."""

    def gauss(self, mean: float, _sd: float) -> float:
        return mean


def silent(shop: OpenShop) -> tuple[int, dict[str, float]]:
    """A flute that was read as it began, cut without a word, read again and finished; and the sizes it has."""
    with shop.database.write() as session:
        flute = design(DesignRequest.from_json({"key": "A4", "scale": "minor pentatonic", "holes": 6})).instrument
        made.pattern(session, shop.maker, "A4", flute)
        (blank,) = made.opened(session, shop.maker)
        assert blank.id is not None
        medium = air.played(find(session, Shop, 1, "shop"))
        goals = readings.goals_for(session, blank)
        true = Flute(flute, medium, {g.fingering: g.frequency for g in goals}, _Level())  # type: ignore[arg-type]
        true.corrections = [0.1, 0.0, 0.0, 0.0]
        blank.stage = Stage.TUNING
        session.add(blank)
        session.commit()
        first = cuts.after(cuts.at_first(session, blank), [])
        final = (flute.foot_x, *(hole.diameter for hole in flute.holes))
        for sizes in (first, final):
            for goal in goals:
                pitch = goal.frequency * 2 ** (true.cents(sizes, goal.fingering) / 1200)
                asked = RecordReading(
                    fingering=goal.fingering, pitch=f"{pitch:.3f}", temperature=20, humidity=50, warmed_up=True
                )
                readings.record(session, shop.maker, blank.id, asked)
        session.refresh(blank)
        blank.status, blank.stage, blank.finished_at = BlankStatus.FINISHED, Stage.FINISHING, now()
        session.add(blank)
        return blank.id, {final_sizes.field(i): size for i, size in enumerate(final)}


def test_a_flute_without_a_cut_teaches_by_its_final_sizes(open_shop: OpenShop) -> None:
    blank_id, sizes = silent(open_shop)
    corrections.bring_up(open_shop.database)
    with open_shop.database.read() as session:
        row = session.get(Evidence, blank_id)
        assert row is not None
        assert "no cut is written down" in row.fault
    with open_shop.database.write() as session:
        assert final_sizes.are_missing(session, find(session, Blank, blank_id, "blank"))
        written = final_sizes.record(session, open_shop.maker, blank_id, FinalSizes(**sizes))
        assert len(written) == 7
        assert not final_sizes.are_missing(session, find(session, Blank, blank_id, "blank"))
        said = session.exec(select(Event.what).where(Event.subject_id == blank_id).order_by(col(Event.id).desc()))
        assert str(said.first()).startswith("Final sizes: the foot")
    corrections.bring_up(open_shop.database)
    with open_shop.database.read() as session:
        row = session.get(Evidence, blank_id)
        assert row is not None
        assert not row.fault
        # The readings of the flute as it began are left out: nobody knows what was cut between them and the end.
        assert row.document is not None
        assert len(row.document["says"]["fingerings"]) == 7
        known = corrections.stored(session)
        assert known is not None
        assert known.document["flutes"] == 1
        # Of 0.1 bore radii, this one flute brings the shop's wide prior a good part of the way.
        assert known.document["levels"][""]["mean"][0] > 0.03


def test_what_was_cut_and_written_down_stays_and_readings_keep_their_sizes(open_shop: OpenShop) -> None:
    blank_id, sizes = silent(open_shop)
    with open_shop.database.write() as session:
        blank = find(session, Blank, blank_id, "blank")
        first = cuts.at_first(session, blank)
        for control in range(7):
            size = sizes[final_sizes.field(control)]
            cuts.record(session, open_shop.maker, blank_id, RecordCut(control=control, size=size))
        assert final_sizes.record(session, open_shop.maker, blank_id, FinalSizes(**sizes)) == []
        every, heard = cuts.of_blank(session, blank_id), readings.of_blank(session, blank_id)
        assert len(cuts.when_read(first, every, heard)) == len(heard)
        # Another millimetre off the foot that nobody wrote down: the last reading of each note is of that flute.
        session.flush()
        late = Reading(**heard[-1].model_dump(exclude={"id", "at"}), at=now() - timedelta(seconds=1))
        session.add(late)
        shorter = sizes | {"foot": sizes["foot"] - 1.0}
        (cut,) = final_sizes.record(session, open_shop.maker, blank_id, FinalSizes(**shorter))
        assert (cut.control, cut.found) == (0, True)
        heard = readings.of_blank(session, blank_id)
        known = cuts.when_read(first, cuts.of_blank(session, blank_id), heard)
        assert len(known) == 7
        assert {of[0] for _, of in known} == {shorter["foot"]}


def test_every_size_is_asked_and_none_grows_back(open_shop: OpenShop) -> None:
    blank_id, sizes = silent(open_shop)
    with open_shop.database.write() as session:
        with pytest.raises(Invalid) as refused:
            final_sizes.record(session, open_shop.maker, blank_id, FinalSizes(**sizes | {"hole_3": None}))
        assert set(refused.value.errors) == {"hole_3"}
        with pytest.raises(Invalid) as refused:
            final_sizes.record(session, open_shop.maker, blank_id, FinalSizes(**sizes | {"hole_3": 2.0}))
        assert "only get larger" in refused.value.errors["hole_3"]
        blank = find(session, Blank, blank_id, "blank")
        blank.status = BlankStatus.HANDED_OVER
        session.add(blank)
        session.flush()
        with pytest.raises(Refused):
            final_sizes.record(session, open_shop.maker, blank_id, FinalSizes(**sizes))
