"""A person with a keyboard alone: goes from stop to stop, and sees each time where they are."""

from collections.abc import Iterator
from contextlib import contextmanager, suppress

from playwright.sync_api import Locator, Page, TimeoutError

MOST_STOPS = 220
# The stop, what is drawn round it or round the label it stands in, and whether the window shows it.
WHERE = """() => {
  const at = document.activeElement;
  if (!at || at === document.body) return null;
  const around = [at, at.closest('label'), at.closest('.tile'), at.closest('.tick')].filter(Boolean);
  const ringed = around.some(one => { const s = getComputedStyle(one);
    return s.outlineStyle !== 'none' && parseFloat(s.outlineWidth) >= 2; });
  const box = (at.closest('label') ?? at).getBoundingClientRect();
  const seen = box.bottom > 0 && box.top < innerHeight && box.right > 0 && box.left < innerWidth;
  return {name: at.outerHTML.slice(0, 140), ringed, seen};
}"""


@contextmanager
def answered(page: Page) -> Iterator[None]:
    """Wait at the end for what a form or link leads to: another page, or this one put in again in its place."""
    page.evaluate("document.querySelector('main').firstElementChild.setAttribute('data-before', '')")
    yield
    page.wait_for_function("() => document.readyState === 'complete' && !document.querySelector('[data-before]')")


class Keys:
    """Only Tab, Enter, Space, arrows and typing; at every stop the focus must be in sight and drawn."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.stops = 0

    def tab(self, back: bool = False) -> None:
        self.page.keyboard.press("Shift+Tab" if back else "Tab")
        where = self.page.evaluate(WHERE)
        if where is not None and not (where["ringed"] and where["seen"]):
            # The window is still being scrolled there, or the stop drawn.
            with suppress(TimeoutError):
                self.page.wait_for_function(
                    f"() => {{ const at = ({WHERE})(); return !at || (at.ringed && at.seen); }}"
                )
            where = self.page.evaluate(WHERE)
        if where is not None:
            self.stops += 1
            assert where["ringed"], f"the focus can't be seen at {where['name']}"
            assert where["seen"], f"the focus is out of sight at {where['name']}"

    def to(self, place: Locator) -> None:
        """Tab until the focus is at this place; where it never comes, there is a trap or no way by keys."""
        for _ in range(MOST_STOPS):
            if place.count() == 1 and place.evaluate("place => place === document.activeElement"):
                return
            self.tab()
        raise AssertionError(f"the Tab key never came to {place}")

    def press(self, place: Locator) -> None:
        """Go there and press Enter, which leads to another page or brings this one in again."""
        self.to(place)
        with answered(self.page):
            self.page.keyboard.press("Enter")

    def write(self, place: Locator, words: str) -> None:
        """Type into a field, in the place of what may stand there."""
        self.to(place)
        self.page.keyboard.press("Control+A")
        self.page.keyboard.type(words)

    def tick(self, place: Locator) -> None:
        self.to(place)
        self.page.keyboard.press("Space")
        assert place.is_checked()

    def choose(self, tile: Locator) -> None:
        """One of several tiles: Tab comes to the group, arrows go round in it."""
        group = tile.evaluate("tile => tile.name")
        for _ in range(MOST_STOPS):
            if self.page.evaluate("name => document.activeElement.name === name", group):
                break
            self.tab()
        else:
            raise AssertionError(f"the Tab key never came to the tiles of {group}")
        self.page.keyboard.press("Space")
        for _ in range(40):
            if tile.is_checked():
                return
            self.page.keyboard.press("ArrowDown")
        raise AssertionError(f"the arrows never came to {tile}")
