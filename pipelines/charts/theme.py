"""Every colour of the figures, once. `dashboard/.streamlit/config.toml` repeats them for the screens (a test compares)."""

from __future__ import annotations

from dataclasses import dataclass

#: The one accent comes first; a figure with a single group uses nothing else.
LIGHT = (
    "#0b6b80", "#b4531f", "#64771a", "#7750a6", "#a62f68", "#866a00", "#2c7a4b", "#3f5fb5", "#6a6a6a", "#96403a",
)  # fmt: skip
DARK = (
    "#5fc4d8", "#f09a6c", "#b9cc63", "#c5a4ee", "#f08fbc", "#e2c55c", "#80d2a1", "#9fb4f6", "#b9b9b9", "#ec9c95",
)  # fmt: skip
#: Streamlit puts the theme's own colours in place of these, so that figures follow the reader's light or dark choice.
SLOTS = (*(f"#00000{number}" for number in range(1, 10)), "#000010")
#: Lines beyond the fourth are broken too, for readers who do not tell the colours apart.
DASHES = ("solid", "solid", "solid", "solid", "dash", "dash", "dot", "dot")
#: Opacity in two hexadecimal digits: a few bands, many bands over each other, a line too thin to rely on.
BAND, MANY_BANDS, FAINT = "2b", "17", "59"
FEW_BANDS = 3
#: The place of the grey among the colours.
GREY = 8


@dataclass(frozen=True)
class Palette:
    """The colours of one figure. `ink` and `paper` are None where the screen's theme sets them."""

    series: tuple[str, ...]
    ink: str | None
    paper: str | None

    def line(self, place: int) -> str:
        """Return the colour of the group at this place."""
        return self.series[place % len(self.series)]

    @property
    def grey(self) -> str:
        """Return the colour of what stands beside the matter for comparison."""
        return self.line(GREY)

    def faint(self, place: int) -> str:
        """Return the same colour for what is too thin to rely on."""
        return self.line(place) + FAINT

    def band(self, place: int, *, of: int) -> str:
        """Return the same colour for the area between two limits, fainter where there are many."""
        return self.line(place) + (BAND if of <= FEW_BANDS else MANY_BANDS)


SCREEN = Palette(SLOTS, None, None)
#: For files that leave the screen: real colours on white.
PRINT = Palette(LIGHT, "#23272b", "#ffffff")
