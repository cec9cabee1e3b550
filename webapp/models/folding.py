"""How texts are compared: without case, accents and the letters that a keyboard lacks. One table for all searching."""

import unicodedata

# Letters that no decomposition takes apart, and the apostrophes and hyphens that typesetters use.
FOLDS = str.maketrans(
    {
        "\N{LATIN SMALL LETTER O WITH STROKE}": "o",
        "\N{LATIN SMALL LETTER D WITH STROKE}": "d",
        "\N{LATIN SMALL LETTER ETH}": "d",
        "\N{LATIN SMALL LETTER L WITH STROKE}": "l",
        "\N{LATIN SMALL LETTER H WITH STROKE}": "h",
        "\N{LATIN SMALL LETTER T WITH STROKE}": "t",
        "\N{LATIN SMALL LETTER DOTLESS I}": "i",
        "\N{LATIN SMALL LETTER ENG}": "n",
        "\N{LATIN SMALL LETTER KRA}": "k",
        "\N{LATIN SMALL LETTER AE}": "ae",
        "\N{LATIN SMALL LIGATURE OE}": "oe",
        "\N{LATIN SMALL LETTER THORN}": "th",
        "\N{RIGHT SINGLE QUOTATION MARK}": "'",
        "\N{LEFT SINGLE QUOTATION MARK}": "'",
        "\N{MODIFIER LETTER APOSTROPHE}": "'",
        "\N{ACUTE ACCENT}": "'",
        "\N{GRAVE ACCENT}": "'",
        "\N{HYPHEN}": "-",
        "\N{NON-BREAKING HYPHEN}": "-",
    }
)


def folded(text: str) -> str:
    """A text as it is compared, so that it is found however it is typed: Zoë Müller, zoe muller; Øyvind, oyvind."""
    parts = unicodedata.normalize("NFKD", text.casefold().translate(FOLDS)).translate(FOLDS)
    return " ".join("".join(c for c in parts if not unicodedata.combining(c)).split())
