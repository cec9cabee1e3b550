"""How far a blank has come."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Progress:
    """What has been done to a blank; all False is two halves marked out and not yet bored."""

    bored: bool = False
    glued: bool = False
    in_clamps: bool = False
    flue_cut: bool = False
    window_open: bool = False
    block_on: bool = False
    turned: bool = False
    holes_drilled: bool = False
    finished: bool = False

    @property
    def closed(self) -> bool:
        """Whether the halves are joined: in clamps, or glued."""
        return self.glued or self.in_clamps or self.flue_cut or self.window_open or self.turned or self.finished

    def in_words(self) -> str:
        """The drawing in words, for screen readers."""
        if not self.closed:
            return "two open halves, bored" if self.bored else "two halves, marked out, not bored yet"
        said = ["in clamps" if self.in_clamps else "turned round" if self.turned else "glued, still square"]
        done = (
            ("flue cut", self.flue_cut),
            ("window open", self.window_open),
            ("holes drilled", self.holes_drilled),
            ("block tied on", self.block_on),
            ("finished", self.finished),
        )
        said += [words for words, true in done if true]
        return ", ".join(said)
