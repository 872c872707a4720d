"""Mail, web, telephone, payment and other personal numbers by their shape."""

from __future__ import annotations

import re
from collections.abc import Iterator

from claimlens.redact.checks import iban_length, is_card, is_iban
from claimlens.redact.kinds import Span

__all__ = ["amount_spans", "number_spans", "phone_spans", "plate_spans"]

_TLD = (
    r"(?:com|net|org|info|biz|eu|io|me|app|shop|bike|online|de|at|ch|li|lu|fr|be|nl|es|cat"
    r"|uk|ie|us|it|pl|pt|dk|se|no|fi|cz|sk|hu|ro|tr|gr|example|test|mail|email|cloud|dev)"
)
_AT = (
    r"(?:[ ]{0,2}[(\[{<*]{1,2}[ ]?(?:at|ät|aet|arroba|arobase|chez|apenstaartje|@|a)[ ]?"
    r"[)\]}>*]{1,2}[ ]{0,2}|[_-](?:at|ät)[_-]|[ ](?:at|ät|arroba|arobase|apenstaartje|klammeraffe)[ ]|[ ]{0,2}@[ ]{0,2})"
)
_AT_SIGN = r"(?:[ ]{0,2}@[ ]{0,2})"
_DOT_SAID = (
    r"(?:[ ]{0,2}[(\[{<*]{1,2}[ ]?(?:dot|punkt|punto|point|punt|\.)[ ]?[)\]}>*]{1,2}[ ]{0,2}"
    r"|[_-](?:dot|punkt)[_-]"
    r"|[ ](?:dot|punkt|punto|point|punt|\.)[ ])"
)
_DOT = rf"(?:{_DOT_SAID}|[ ]?\.[ ]?)"
_MAIL = re.compile(
    rf"(?i)(?<![\w.+%'-])[\w.+%'-]{{1,64}}(?:{_AT}[\w-]{{1,63}}(?:(?:{_DOT_SAID}|\.)[\w-]{{2,40}}){{0,3}}"
    rf"(?:{_DOT_SAID}|\.){_TLD}|{_AT_SIGN}[\w-]{{1,63}}(?:{_DOT}[\w-]{{2,40}}){{0,3}}{_DOT}{_TLD})\b"
)
_PLAIN_MAIL = re.compile(r"[\w.+%'-]{1,64}@[\w.-]{1,120}[\w-]")
_DOTTED_MAIL = re.compile(
    rf"(?i)(?<![\w+%-])[\w+%-]{{1,40}}(?:(?:{_DOT_SAID}|\.)[\w+%-]{{1,40}}){{1,3}}{_AT}[\w-]{{1,63}}"
    rf"(?:{_DOT}[\w-]{{2,40}}){{0,3}}{_DOT}{_TLD}\b"
)
_WEB = [
    re.compile(r"(?i)(?:https?|ftp)[ ]?:[ ]?//[^\s<>\"']{1,300}"),
    re.compile(r"(?i)(?<!\w)www[. ][^\s<>\"']{2,300}"),
    re.compile(
        r"(?i)(?<![\w@.-])(?:[\w-]{1,40}\.){1,4}(?:com|net|org|info|eu|io|me|app|shop|bike"
        r"|online|de|at|ch|fr|be|nl|es|uk|ie|us|it|pl|pt|example)(?:/[^\s<>\"']{0,200})?(?![\w])"
    ),
    re.compile(r"(?<![\w.@])@[A-Za-z_][\w.-]{1,40}"),
    re.compile(r"(?i)(?<![\w:])(?:[0-9a-f]{1,4}:){4,7}[0-9a-f]{1,4}(?![\w:])"),
    re.compile(r"(?i)(?<![\w:])(?:[0-9a-f]{1,4}:){1,6}:(?:[0-9a-f]{1,4}:){0,5}[0-9a-f]{1,4}(?![\w:])"),
    re.compile(r"(?i)(?<![\w:-])(?:[0-9a-f]{2}[:-]){5}[0-9a-f]{2}(?![\w:-])"),
]  # fmt: skip
_IP = re.compile(
    r"(?i)(?<![\w.])(?P<label>ip(?:v4)?(?:[ -]?(?:address|adresse|adres|dirección))?[ :=]{0,3})?"
    r"(?<![\d.])(?P<ip>[0-9]{1,3}(?:\.[0-9]{1,3}){3})(?![\w.]*[0-9])"
)
_VERSION_BEFORE = re.compile(
    r"(?i)(?:\bv|fw|firmware|version|software|sw|hw|bios|release|rev|update|build|stand"
    r"|versie|versión|auf|to|from|von|de|à)[ .:]{0,2}$"
)
_IBAN = re.compile(
    r"(?i)(?<![^\W_])[A-Z]{2}[ ]?[0-9]{2}(?:[ .-]{0,2}[A-Z0-9]){11,30}(?![^\W_])"
)
_IBAN_START = re.compile(r"(?i)(?<![^\W_])[A-Z]{2}[ ]?[0-9]{2}[ .-]{0,2}(?=[A-Z0-9])")
_IBAN_LABEL = re.compile(
    r"(?i)iban[ .:#-]{0,4}(?P<value>[A-Z]{2}[ ]?[0-9]{2}(?:[ .-]?[A-Z0-9]{1,4}){2,8})"
)
_CARD = re.compile(
    r"(?<![\w-])(?:[2-6][0-9]{3}|1800)(?:[ .-]{0,2}[0-9]){8,15}(?![\w-])"
)
_CARD_LABEL = re.compile(
    r"(?i)(?:card|karte|kreditkarte|kreditkartennummer|visa|mastercard|amex|carte(?:[ ]bancaire)?"
    r"|cb|kaart|creditcard|tarjeta|girocard|ec)(?:[ -]?(?:no|nr|nummer|number|n°|nº|número))?"
    r"[ .:#-]{0,3}(?P<value>[0-9x*]{4}(?:[ -]?[0-9x*]){6,15})"
)
_GPS = [
    re.compile(
        r"[-+]?(?<![\d.,])[0-9]{1,3}[.,][0-9]{3,10}°?[ ]?[NSEWOnsewo]?[ ]{0,2}[,;/|]?[ ]{0,2}"
        r"(?:lon(?:g|gitude)?|lng|länge)?[:= ]{0,2}[-+]?[0-9]{1,3}[.,][0-9]{4,10}°?(?:[ ]?[NSEWO]\b)?"
    ),
    re.compile(
        r"(?:[NSEWO][ ]?)?(?<!\d)[0-9]{1,3}[ ]?°[ ]?[0-9]{1,2}(?:[.,][0-9]{1,6})?[ ]?['′’]"
        r"(?:[ ]?[0-9]{1,2}(?:[.,][0-9]{1,4})?[ ]?[\"″”']{1,2})?(?:[ ]?[NSEWO]\b)?"
    ),
    re.compile(r"\b[NS][ ]?[0-9]{1,2}[.,][0-9]{3,8}°?[ ,;/]{0,3}[EWO][ ]?[0-9]{1,3}[.,][0-9]{3,8}°?"),
]  # fmt: skip
_MONEY_WORD = r"(?:€|\$|£|EUR|USD|GBP|CHF|PLN|SEK|DKK|NOK|CZK|HUF|zł|Fr\.|SFr\.?|kr\.?)"
_MONEY_TAIL = (
    r"(?:€|\$|£|EUR(?:os?)?|euros?|eur|euronen|USD|GBP|CHF|PLN|SEK|DKK|NOK|CZK|HUF|zł|dollars?"
    r"|francs|franken|quid|bucks|pounds[ ]sterling|libras[ ]esterlinas|cents?|centimes"
    r"|céntimos|tacken)"
)
_FIGURE = r"[0-9]{1,9}(?:[.,' ][0-9]{3}){0,4}(?:[.,](?:[0-9]{1,4}|-{1,2}|–|—))?"
_AMOUNT = [
    re.compile(rf"(?i)(?<![^\W_]){_MONEY_WORD}[ ]?-?{_FIGURE}(?:[ ]?(?:k|mio|m)\b)?"),
    re.compile(
        rf"(?i)(?<![\w.,])-?{_FIGURE}[ ]?(?:k|mio\.?)?[ ]?{_MONEY_TAIL}(?![^\W_])"
    ),
    re.compile(
        rf"(?i)(?:cost|costs|paid|price|charged|kosten|kostet|preis|bezahlt|prix|payé|coût"
        rf"|prijs|betaald|precio|pagado|coste|pagué|payé)[^\w\n]{{1,4}}(?:was|of|is|von|de|van)?[ ]?"
        rf"(?P<value>{_FIGURE})(?:[ ]pounds)?(?![\w%])"
    ),
    re.compile(r"(?i)(?<![\w])[0-9]{1,6},-{1,2}(?![\w-])"),
]
_PHONE_LABEL = re.compile(
    r"(?i)(?<![^\W_])(?:tel|telefon|telefonnr|telefonnummer|téléphone|telephone|téléph|tél|tlf|tfno"
    r"|teléfono|telefono|telefoon|telefoonnummer|telnr|phone|mobile|mobil|mobiel|móvil|movil|mob"
    r"|handy|handynr|handynummer|rufnummer|rückruf|gsm|gsmnr|portable|port|cell|cellphone|fax|festnetz"
    r"|privat|dienstl|durchwahl|whatsapp|wa|sms|contact|kontakt|nr|nummer|number|numéro|número|num"
    r"|call|ring|text|me|us|appelez|rappelez|appeler|rappeler|joindre|joignable|bel|bellen|bereikbaar"
    r"|llamar|llame|llamen|erreichbar|erreichen|anrufen|unter|under|at|on|au|op|al|hotline|t|m|f|p)"
    r"(?:[ .:=/-]|no|nr|num|number|n°|nº|me|on|at|unter|sous|op|en|el|au|al|:){0,6}[ ]?"
    r"(?P<value>(?:\+|00)?[ ]?\(?[0-9][0-9 ()./\-]{4,22}[0-9](?:[ ]?(?:x|ext\.?|poste|dw|toestel)[ ]?[0-9]{1,6})?)(?![^\W_])"
)
_WEAK_LABEL = re.compile(
    r"(?i)^(?:t|m|f|p|at|on|au|op|al|me|us|unter|under|port|mobil|nr|nummer|number|num|numéro"
    r"|número|text|ring|contact|kontakt|privat|wa|mobile|portable|call)\b"
)
_EXTENSION = r"(?:[ ]?(?:x|ext\.?|poste|dw|durchwahl|toestel|#)[ ]?[0-9]{1,6})?"
_PHONES = [
    re.compile(rf"(?i){pattern}{_EXTENSION}(?![\w-]|[.,][0-9])")
    for pattern in (
        r"(?<![\w+])(?:\+|00)[ ]?[1-9][0-9]{0,2}(?:[ ./()\-]{0,3}[0-9]){6,13}",
        r"(?<![\w/.,-])\(?0[1-9][0-9]{0,4}\)?(?:[ ./()\-]{0,3}[0-9]){5,10}",
        r"(?<![\w/.,-])(?:1[-. ])?\([2-9][0-9]{2}\)[ ]?[0-9]{3}[ .-]?[0-9]{4}",
        r"(?<![\w/.,-])(?:1[-. ])?[2-9][0-9]{2}[-. ][0-9]{3}[-. ][0-9]{4}",
        r"(?<![\w/.,-])[2-9][0-9]{2}[2-9][0-9]{6}",
        r"(?<![\w/.,-])[6-9][0-9]{2}[ .-]?[0-9]{3}[ .-]?[0-9]{3}",
        r"(?<![\w/.,-])[6-9][0-9]{1,2}(?:[ .-][0-9]{2,3}){3}",
    )
]
_DIGIT_WORD = (
    r"(?:null|eins|zwo|zwei|drei|vier|fünf|sechs|sieben|acht|neun|zero|oh|one|two|three|four|five"
    r"|six|seven|eight|nine|double|zéro|un|deux|trois|quatre|cinq|sept|huit|neuf|nul|een|twee|drie"
    r"|vijf|zes|zeven|negen|cero|uno|dos|tres|cuatro|cinco|seis|siete|ocho|nueve)"
)
_SPOKEN = re.compile(
    rf"(?i)(?<!\w){_DIGIT_WORD}(?:[ ,-]{{1,2}}{_DIGIT_WORD}){{5,19}}(?!\w)"
)
_LOOSE_PLATE = re.compile(r"(?<![\w-])[A-Z]{1,3}-[0-9]{2,3}-[A-Z]{1,2}(?![\w-])")
_PLATES = [
    re.compile(
        r"(?<![\w-])[A-ZÄÖÜ]{1,3}[- ]{1,3}[A-Z]{1,2}[ ][0-9]{1,4}[EH]?(?![\w-])"
    ),
    re.compile(r"(?<![\w-])[A-ZÄÖÜ]{1,3}-[A-Z]{1,2}-?[0-9]{1,4}[EH]?(?![\w-])"),
    re.compile(
        r"(?<![\w-])[A-HJ-NP-TV-Z]{2}[- ][0-9]{3}[- ][A-HJ-NP-TV-Z]{2}(?![\w-])"
    ),
    re.compile(r"(?<![\w-])[A-Z]{2}[0-9]{2}[ ]?[A-Z]{3}(?![\w-])"),
    re.compile(r"(?<![\w-])[0-9]{4}[ -]?[BCDFGHJKLMNPRSTVWXYZ]{3}(?![\w-])"),
    _LOOSE_PLATE,
    re.compile(r"(?<![\w-])[0-9]{1,2}-[A-Z]{2,3}-[0-9]{1,2}(?![\w-])"),
    re.compile(r"(?<![\w-])[A-Z]{2}-[0-9]{2}-[A-Z]{2}(?![\w-])"),
    re.compile(r"(?<![\w-])[1-9]-[A-Z]{3}-[0-9]{3}(?![\w-])"),
]
_NO_PLATE = re.compile(
    r"[0-9]{3,4}[ -]?(?:RPM|KMH|MPH|MAH|PSI|PCS|STK|KWH|CPM|NCM|KHZ|MHZ)$"
)


def number_spans(text: str) -> Iterator[Span]:
    """Find mail, web, IP and payment numbers and places by satellite."""
    for pattern in (_PLAIN_MAIL, _DOTTED_MAIL, _MAIL):
        yield from (Span(*m.span(), "mail") for m in pattern.finditer(text))
    yield from _accounts(text)
    for pattern in _WEB:
        yield from (Span(*m.span(), "web") for m in pattern.finditer(text))
    for match in _IP.finditer(text):
        octets = [int(part) for part in match["ip"].split(".")]
        before = text[max(0, match.start() - 14) : match.start()]
        versioned = _VERSION_BEFORE.search(before) is not None
        private = match["label"] or (octets[0] >= 10 and not versioned)
        if private and max(octets) < 256:
            yield Span(*match.span("ip"), "web")
    for pattern in _GPS:
        yield from (Span(*m.span(), "address") for m in pattern.finditer(text))


def _accounts(text: str) -> Iterator[Span]:
    """Find bank accounts and cards."""
    for match in _IBAN_LABEL.finditer(text):
        yield Span(*match.span("value"), "payment")
    for match in _IBAN_START.finditer(text):
        end = _iban_end(text, match.start())
        if end is not None:
            yield Span(match.start(), end, "payment")
    for match in _CARD_LABEL.finditer(text):
        yield Span(*match.span("value"), "payment")
    for match in _CARD.finditer(text):
        if is_card(match.group()):
            yield Span(*match.span(), "payment")


def _iban_end(text: str, start: int) -> int | None:
    """Return where an account number ends that begins here, None for none."""
    length = iban_length(text[start : start + 2])
    kept = 0
    gaps = 0
    for place in range(start, min(len(text), start + 80)):
        character = text[place]
        if character.isascii() and character.isalnum():
            kept += 1
            gaps = 0
        elif character in " .-\n" and gaps < 2:
            gaps += 1
            continue
        else:
            return None
        ends = place + 1 == len(text) or not text[place + 1].isalnum()
        if ends and kept >= 15:
            digits = sum(c.isdigit() for c in text[start : place + 1])
            sure = text[start : start + 2].isupper() and text[start + 2].isdigit()
            near = sure and kept == length and digits >= 10
            if near or is_iban(text[start : place + 1]):
                return place + 1
    return None


def amount_spans(text: str) -> Iterator[Span]:
    """Find amounts of money."""
    for pattern in _AMOUNT:
        for match in pattern.finditer(text):
            name = "value" if "value" in pattern.groupindex else 0
            yield Span(*match.span(name), "amount")


def plate_spans(text: str) -> Iterator[tuple[Span, bool]]:
    """Find number plates, each with whether nothing else looks so."""
    for pattern in _PLATES:
        for match in pattern.finditer(text):
            if not _NO_PLATE.match(match.group()):
                yield Span(*match.span(), "plate"), pattern is not _LOOSE_PLATE


def phone_spans(text: str) -> Iterator[tuple[Span, bool]]:
    """Find telephone numbers, each with whether a word before it says so."""
    for match in _PHONE_LABEL.finditer(text):
        digits = sum(c.isdigit() for c in match["value"])
        weak = _WEAK_LABEL.match(match.group()) is not None
        first = match["value"].lstrip("(+ ")[:1]
        if digits >= (9 if weak and first != "0" else 6):
            yield Span(*match.span("value"), "telephone"), not weak
    for pattern in _PHONES:
        for match in pattern.finditer(text):
            if 8 <= sum(c.isdigit() for c in match.group()) <= 22:
                yield Span(*match.span(), "telephone"), False
    for match in _SPOKEN.finditer(text):
        yield Span(*match.span(), "telephone"), True
