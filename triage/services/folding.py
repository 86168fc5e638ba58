"""Names as they are searched: small letters of any alphabet, no marks, one space between words.

>>> folded("  ÅSTRÖM,  Zoë ")
'astrom, zoe'
>>> folded("Straße") == folded("STRASSE")
True
"""

import unicodedata


def folded(text: str) -> str:
    """Text in the form in which names are stored for searching and searched."""
    plain = unicodedata.normalize("NFKD", text.casefold())
    without_marks = "".join(one for one in plain if not unicodedata.combining(one))
    return " ".join(without_marks.casefold().split())
