"""Which readings are taken as of one sitting: their common error is one unknown, not many."""

from datetime import UTC, datetime, timedelta

from webapp.models import Reading, Stage
from webapp.shop.advice.next_cut import sittings

NINE = datetime(2026, 3, 2, 9, tzinfo=UTC)


def reading(minutes: float, by: int = 1, warm: bool = True) -> Reading:
    return Reading(
        blank_id=1,
        stage=Stage.TUNING,
        fingering="xxxxxx",
        note_name="A4",
        frequency=438.0,
        target=440.0,
        temperature=21.0,
        humidity=0.5,
        warmed_up=warm,
        cents=-8.0,
        at=NINE + timedelta(minutes=minutes),
        by=by,
    )


def test_a_sitting_ends_with_another_player_a_pause_or_a_flute_grown_cold() -> None:
    first = [reading(0), reading(3), reading(5, by=2), reading(6, by=2)]
    some = [*first, reading(90, by=2), reading(92, by=2, warm=False)]
    assert sittings(some) == ["0", "0", "1", "1", "2", "3"]
    assert sittings([]) == []
