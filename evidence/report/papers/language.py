"""The language of a paper: messages by gettext, days, numbers and money by the locale (CLDR, through babel)."""

from __future__ import annotations

import datetime as dt
import gettext
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Final

from evidence.claim.loss.money import digits_of
from evidence.errors import NotFound
from evidence.model.base import nearest

LOCALES: Final = Path(__file__).parent / "locales"
DOMAINS: Final = ("letters", "forms")  # one catalogue each
LANGUAGES: Final = {"en": "en_GB", "es": "es"}
_QUOTES: Final = {"en": ("“", "”"), "es": ("«", "»")}  # as the languages have them (CLDR, delimiters)


def message(text: str) -> str:
    """Marks a message that is put into a language later, so that the catalogues know it."""
    return text


class Words:
    """Messages and values in one language. Call it with a message and what stands in it: ``t("by %(day)s", day=…)``."""

    def __init__(self, language: str) -> None:
        if language not in LANGUAGES:
            raise NotFound(
                f"no such language{nearest(language, LANGUAGES)}",
                item=language,
                advice=f"There is: {', '.join(LANGUAGES)}.",
            )
        self.language = language
        self._locale = LANGUAGES[language]
        self._messages = _messages(language)

    def __call__(self, message: str, **values: object) -> str:
        """The message in this language."""
        text = self._messages.gettext(message)
        return text % values if values else text

    def day(self, day: dt.date) -> str:
        """A day in full: ``18 May 2026``."""
        from babel.dates import format_date

        return str(format_date(day, "long", locale=self._locale))

    def money(self, amount: Decimal, currency: str) -> str:
        """A sum with its currency's code and digits (ISO 4217), as the locale groups it."""
        from babel.numbers import format_currency

        digits = digits_of(currency)
        pattern = "#,##0" + ("." + "0" * digits if digits else "") + " ¤¤"
        return str(format_currency(amount, currency, pattern, locale=self._locale, currency_digits=False))

    def number(self, number: Decimal | int) -> str:
        """A number with the locale's marks, digits as they are."""
        from babel.numbers import format_decimal

        return str(format_decimal(number, locale=self._locale, decimal_quantization=False))

    def reading(self, value: str) -> str:
        """A number as it was read, with every digit of it: ``0.210`` stays of three places."""
        from babel.numbers import format_decimal

        number = Decimal(value)
        exponent = number.as_tuple().exponent
        places = -exponent if isinstance(exponent, int) and exponent < 0 else 0
        return str(format_decimal(number, "#,##0" + ("." + "0" * places if places else ""), locale=self._locale))

    def term(self, name: str) -> str:
        """A term of the trade; one that the catalogue lacks stays as it was recorded, in quotation marks."""
        text = self._messages.gettext(name)
        return text if text != name or self.language == "en" else self.quoted(name)

    def quoted(self, text: str) -> str:
        """Words of the record, in quotation marks."""
        before, after = _QUOTES[self.language]
        return f"{before}{text}{after}"

    def sentence(self, parts: list[str]) -> str:
        """Parts in a row: ``a, b and c``."""
        from babel.lists import format_list

        return str(format_list(parts, locale=self._locale))


@cache
def _messages(language: str) -> gettext.NullTranslations:
    first: gettext.NullTranslations = gettext.NullTranslations()
    for domain in DOMAINS:
        first.add_fallback(gettext.translation(domain, LOCALES, [language], fallback=True))
    return first
