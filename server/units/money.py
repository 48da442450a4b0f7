"""Prices: "129.90 EUR", "$ 45", "€45" -> hundredths of a currency, exactly."""

from __future__ import annotations

import re
from dataclasses import dataclass

from server.units.numbers import QuantityError, number, plain_text

TEXT_MAXIMUM = 60
HUNDREDTHS_MAXIMUM = 10**11
EXAMPLE = "129.90 EUR or $ 45"

# ISO 4217:2015, the codes of national currencies (from memory; metals, funds and test codes are left out).
_CODES = (
    "AED AFN ALL AMD AOA ARS AUD AWG AZN BAM BBD BDT BGN BHD BIF BMD BND BOB BRL BSD BTN BWP BYN BZD CAD "
    "CDF CHF CLP CNY COP CRC CUP CVE CZK DJF DKK DOP DZD EGP ERN ETB EUR FJD FKP GBP GEL GHS GIP GMD GNF "
    "GTQ GYD HKD HNL HTG HUF IDR ILS INR IQD IRR ISK JMD JOD JPY KES KGS KHR KMF KPW KRW KWD KYD KZT LAK "
    "LBP LKR LRD LSL LYD MAD MDL MGA MKD MMK MNT MOP MRU MUR MVR MWK MXN MYR MZN NAD NGN NIO NOK NPR NZD "
    "OMR PAB PEN PGK PHP PKR PLN PYG QAR RON RSD RUB RWF SAR SBD SCR SDG SEK SGD SHP SLE SOS SRD SSP STN "
    "SVC SYP SZL THB TJS TMT TND TOP TRY TTD TWD TZS UAH UGX USD UYU UZS VES VND VUV WST XAF XCD XOF XPF "
    "YER ZAR ZMW"
)
CURRENCIES = frozenset(_CODES.split())
_SYMBOLS = {
    "€": "EUR",
    "euro": "EUR",
    "euros": "EUR",
    "£": "GBP",
    "$": "USD",
    "us$": "USD",
    "dollar": "USD",
    "dollars": "USD",
    "ca$": "CAD",
    "c$": "CAD",
    "a$": "AUD",
    "au$": "AUD",
    "nz$": "NZD",
    "fr.": "CHF",
    "zł": "PLN",
    "kč": "CZK",
    "₹": "INR",
    "₩": "KRW",
    "₺": "TRY",
    "₴": "UAH",
}
# Signs that several currencies share: the observer's own decides, where it is one of them.
_SHARED = {
    "$": frozenset({"USD", "CAD", "AUD", "NZD", "SGD", "HKD", "TWD", "MXN", "CLP", "COP", "ARS"}),
    "¥": frozenset({"JPY", "CNY"}),
    "kr": frozenset({"SEK", "NOK", "DKK", "ISK"}),
    "£": frozenset({"GBP", "EGP", "GIP", "FKP", "SHP"}),
}
_MONEY = re.compile(r"(?P<before>[^0-9.,+-]*)(?P<number>[+-]?\s?[0-9][0-9.,]*)(?:,?-)?(?P<after>[^0-9]*)")
_THREE_DECIMALS = re.compile(r"[1-9][0-9]{0,2}[.,][0-9]{3}")


@dataclass(frozen=True)
class ReadMoney:
    """A price: whole hundredths of the currency's unit (>= 0), and its ISO 4217 code."""

    hundredths: int
    currency: str

    @property
    def understood(self) -> str:
        """The price as it was understood ("45 USD")."""
        return write_money(self.hundredths, self.currency)


def read_money(text: str, default_currency: str | None = None) -> ReadMoney:
    """Return the price that `text` writes.

    Args:
        text: an amount with a currency before or behind it, at most 60 characters.
        default_currency: ISO 4217 code for an amount without a currency, and for a shared sign such as $.

    Raises:
        QuantityError: with a sentence, where there is no amount, no currency, or either could be two.
    """
    if len(text) > TEXT_MAXIMUM:
        raise QuantityError(
            f"A price is written in at most {TEXT_MAXIMUM} characters, this text has {len(text)}. "
            f"Type it like {EXAMPLE}."
        )
    typed = plain_text(text)
    found = _MONEY.fullmatch(typed)
    if found is None:
        raise QuantityError(f"“{typed}” is not a price. Type it like {EXAMPLE}.")
    words = [word for word in (found["before"].strip(), found["after"].strip()) if word]
    if len(words) == 2 and words[0] in _SHARED and words[1].upper() in _SHARED[words[0]]:
        words = words[1:]
    if len(words) > 1:
        raise QuantityError(f"“{typed}” names a currency twice. Type it like {EXAMPLE}.")
    digits = found["number"].strip().rstrip(".,")
    if _THREE_DECIMALS.fullmatch(digits):
        whole = re.sub(r"[.,]", "", digits)
        raise QuantityError(
            f"“{typed}” can be read two ways: is it {digits[:-4]}.{digits[-3:]} or {whole}? "
            f"Type {whole}, or a price with two decimals."
        )
    amount = number(digits, typed, EXAMPLE) * 100
    if amount < 0:
        raise QuantityError(f"“{typed}”: a price is zero or more. Type it like {EXAMPLE}.")
    if amount.denominator != 1:
        raise QuantityError(f"“{typed}”: a price has at most two decimals. Type it like {EXAMPLE}.")
    if amount > HUNDREDTHS_MAXIMUM:
        raise QuantityError(f"“{typed}” is more than any gear costs (at most 1000000000): check the amount.")
    return ReadMoney(int(amount), _currency(words[0] if words else "", typed, default_currency))


def _currency(word: str, typed: str, default_currency: str | None) -> str:
    if not word:
        if default_currency is None:
            raise QuantityError(f"“{typed}” has no currency. Type it like {EXAMPLE}.")
        return default_currency
    low = word.casefold()
    shared = _SHARED.get(low)
    if shared is not None:
        if default_currency in shared:
            return str(default_currency)
        if low not in _SYMBOLS:
            choice = ", ".join(sorted(shared))
            raise QuantityError(
                f"“{typed}”: {word} may be {choice}. Type its code, such as 45 {min(shared)}."
            )
    if low in _SYMBOLS:
        return _SYMBOLS[low]
    if word.upper() in CURRENCIES:
        return word.upper()
    raise QuantityError(f"“{typed}”: “{word}” is no currency known here. Type it like {EXAMPLE}.")


def write_money(hundredths: int, currency: str) -> str:
    """Return a price for people with its code, its decimals where it has some ("129.90 EUR", "1,120 EUR")."""
    sign = "−" if hundredths < 0 else ""
    whole, rest = divmod(abs(hundredths), 100)
    return f"{sign}{whole:,}{f'.{rest:02d}' if rest else ''} {currency}"


def edit_money(hundredths: int | None, currency: str | None) -> str:
    """Return what an edit form shows for a price, which `read_money` reads; empty where unknown."""
    if hundredths is None or currency is None:
        return ""
    return f"{'-' if hundredths < 0 else ''}{abs(hundredths) // 100}.{abs(hundredths) % 100:02d} {currency}"
