"""Postal addresses of the five languages' countries."""

from __future__ import annotations

import re
from collections.abc import Iterator

from claimlens.redact.kinds import Span
from claimlens.redact.plain import folded
from claimlens.redact.technical import UNITS
from claimlens.redact.words import Words

__all__ = ["address_spans"]

_NO_UNIT = rf"(?![0-9]|[.,][0-9]|[ ]?(?:{UNITS}|Uhr|x)(?![^\W_]))"
_HOUSE = (
    r"[0-9]{1,4}(?:[ ]?[a-zA-Z](?![^\W_]))?(?:[ ]?[-/–][ ]?[0-9]{1,4}[a-z]?)?"
    r"(?:[ ](?:bis|ter|hs|rood))?"
)
_FLAT = (
    r"(?:[ ]?,?[ ](?:apt|apartment|apartado|flat|unit|suite|ste|wohnung|whg|app|appt|appartement|apto"
    r"|piso|puerta|bus|bte|boîte|esc|escalera|top|stiege|tür|floor|etage|og|dg|eg|bâtiment|bât|bat"
    r"|portal|bajo|room|edif|edificio|depto|departamento|interior|int|#)\.?[ ]?(?:[0-9]{1,4}[ ]?[ºª°]?[a-zA-Z]?|[A-Z])(?![^\W_])){0,3}"
)
_STRONG = r"(?:stra(?:ß|ss)en?|str\.?|gasse|allee|chaussee|stieg|straat|laan|gracht|steenweg|plantsoen|singel|kade|dreef|boulevard|baan)"
_WEAK = (
    r"(?:weg|platz|ring|hof|berg|damm|ufer|graben|markt|zeile|pfad|steig|feld|park|garten|gärten"
    r"|wall|brücke|tor|winkel|grund|plein|dijk|pad|steeg|wal|haven|lei|hoek|veld|burg|dorf)"
)
_NAME = r"[^\W\d_][^\W\d_'’.-]{0,30}(?:[-'’.][^\W\d_]{1,20}){0,3}"
_CAP = r"(?:(?-i:[A-ZÀ-Þ])[^\W\d_]{0,30}(?:[-'’][^\W\d_]{1,20}){0,4}\.?)"
_OF = r"(?:de la |de l['’]|des |du |de los |de las |del |de |d['’]|la |le |les |l['’]|à |aux |van de |van der |van den |van |der |den |the |y |e |St\.? |Ste |San |Santa )"
_FRENCH = (
    r"(?:rue|r\.|avenue|av\.?|bd\.?|bld\.?|boulevard|place|pl\.|chemin|ch\.|impasse|imp\.|allées?"
    r"|all\.|quai|cours|square|passage|sentier|route|rte\.?|faubourg|fbg|résidence|rés\.|lieu-dit"
    r"|lotissement|hameau|montée|ruelle|esplanade|clos|villa|cité|domaine|voie|zone|za|zi)"
)
_SPANISH = (
    r"(?:calle|c/|cl\.|avda\.?|avenida|av\.|plaza|pza\.?|plza\.?|paseo|pº|camino|carretera|ctra\.?"
    r"|ronda|travesía|trav\.|urbanización|urb\.?|glorieta|rambla|(?-i:Vía|Via|VÍA|VIA)|callejón|polígono|pol\.|carrer|calzada|corredor|privada|cerrada|andador|circuito|prolongación|bulevar|boulevard|retorno|alameda|cuesta|pasaje|pasadizo|acceso|cañada|riera|vial|costanilla|sendero|parque)"
)
_ENGLISH = (
    r"(?:street|st|road|rd|avenue|ave|lane|ln|drive|dr|court|ct|close|way|boulevard|blvd|terrace"
    r"|crescent|cres|gardens|gdns|place|pl|square|sq|row|grove|hill|mews|walk|parkway|pkwy"
    r"|highway|hwy|circle|cir|trail|trl|green|park|parade|rise|view|quay|wharf|mount|vale|alley|bypass|causeway|common|cove|crossing|crossroad|estate|fork|forest"
    r"|gateway|glen|harbor|heights|island|junction|knoll|lake|landing|lock|loop|manor|meadow|mill|orchard"
    r"|pass|path|pike|plaza|point|ridge|river|rest|shore|spring|station|summit|tunnel|union|valley|village|ville|canyon|fields?|ford|flat|lights?|curve|track|trace|spur|stream|run|ranch|rapid|radial|port|pines?|plain|oval|neck|mountain|mission|mall|loaf|key|isle|inlet|hollow|haven|gate|garden|garage|freeway|fall|falls|extension|expressway|drives|divide|dam|creek|corner|club|cliff|center|cape|camp|burg|brook|bridge|branch|bottom|bluff|bend|beach|bayou|arcade|annex|well|walks|wall|viaduct|underpass|turnpike|trafficway|throughway|terrace|skyway)"
)
_SURE_ENGLISH = re.compile(
    r"(?i)(?:street|st|road|rd|avenue|ave|lane|ln|boulevard|blvd|terrace|crescent|mews|parkway|pkwy)\.?$"
)
_STREETS = [
    # "Lindenstraße 12", "Kerkstraat 5-2"
    rf"(?<![^\W_])(?:{_CAP}[ -]){{0,2}}[^\W\d_]{{2,30}}{_STRONG}[ ]?,?[ ]?{_HOUSE}{_NO_UNIT}{_FLAT}",
    # "Lange Straße 5", "Am Alten Markt 3", "An der Mühle 7"
    rf"(?<![^\W_])(?:{_CAP}[ -]){{1,3}}(?:{_STRONG}|{_WEAK})[ ]{_HOUSE}{_NO_UNIT}{_FLAT}",
    rf"(?<![^\W_])(?:am|an der|an den|im|in der|in den|auf dem|auf der|zum|zur|unter den|hinter der"
    rf"|vor dem|op de|aan de|bij de|het|de|'t|'s)[ ]{_CAP}(?:[ ]{_CAP})?[ ]{_HOUSE}{_NO_UNIT}{_FLAT}",
    # "12 rue des Lilas", "rue Neuve 5", "3 bis, avenue Jean Jaurès"
    rf"(?<![^\W_]){_HOUSE},?[ ]{_FRENCH}[ ]{_OF}{{0,2}}{_NAME}(?:[ ]{_OF}{{0,2}}{_CAP}){{0,4}}{_FLAT}",
    rf"(?<![^\W_]){_FRENCH}[ ]{_OF}{{0,2}}{_NAME}(?:[ ]{_OF}{{0,2}}{_NAME}){{0,4}},?[ ]{_HOUSE}{_NO_UNIT}{_FLAT}",
    rf"(?<![^\W_])(?:rue|avenue|boulevard|impasse|quai|chemin|allée)[ ]{_OF}{{0,2}}{_CAP}(?:[ ]{_OF}{{0,2}}{_CAP}){{0,4}}",
    # "Calle Mayor 12, 3º B", "c/ de la luna 4"
    rf"(?<![^\W_]){_SPANISH}[ ]?{_OF}{{0,2}}{_NAME}(?:[ ]{_OF}{{0,2}}{_NAME}){{0,4}},?[ ](?:n[º°o.]{{1,2}}[ ]?|núm\.?[ ]?)?"
    rf"{_HOUSE}{_NO_UNIT}(?:,?[ ][0-9]{{1,2}}[ ]?[ºª°o]?(?:[ -]?(?:izq|dcha|izda|puerta|[A-Z])\.?(?![^\W_]))?)?{_FLAT}",
    rf"(?<![^\W_])(?:calle|c/|avda\.?|avenida|plaza|paseo|carrer)[ ]?{_OF}{{0,2}}{_CAP}(?:[ ]{_OF}{{0,2}}{_CAP}){{0,4}}",
    # any name with a number before a postcode, or after words that tell an address
    rf"(?<![^\W_])(?-i:[A-ZÀ-Þ])[^\W\d_]{{1,30}}(?:[ -](?:(?-i:[A-ZÀ-Þ])[^\W\d_]{{1,25}}|am|an|auf|der|dem|den|de|la|le|du|des|van|het)){{0,3}}[ ]{_HOUSE},?[ \n](?=[0-9]{{4,5}}[ ](?-i:[A-ZÀ-Þ]))",
    rf"(?<![^\W_])(?:adresse|address|adres|dirección|domicile|anschrift|wohnhaft|wohne|wohnt|live at|lives at|j'habite|habite"
    rf"|vivo en|domicilio|ik woon|woont|schicken an|senden an|deliver to|send to|ship to|livraison au|envoyer au|enviar a|sturen naar"
    rf"|bezorgen op)(?:[ :]{{1,3}}(?:in|an|at|to|en|à|op|der|de|is)\b)?[ :]{{1,3}}(?P<value>(?:[^\W\d_]{{2,25}}[.]?[ -]){{1,4}}{_HOUSE}{_NO_UNIT})",
    # flats
    r"(?<![^\W_])(?:flat|studio|apt\.?|apartment|wohnung|appartement|appt\.?)[ ](?:[0-9]{1,4}[a-zA-Z]?|[A-Z])(?![^\W_])",
    # boxes
    r"(?<![^\W_])(?:p\.?[ ]?o\.?[ ]?box|post[ ]office[ ]box|postfach|postbus|boîte postale|b\.?p\.?"
    r"|apartado(?: de correos| postal)?|apdo\.?(?: de correos)?|cs|tsa|casella postale)[ :]{0,2}[0-9][0-9 ]{0,8}[0-9](?![^\W_])",
    r"(?<![^\W_])(?:p\.?[ ]?o\.?[ ]?box|postfach|postbus|apartado)[ ][0-9](?![^\W_])",
    r"(?<![^\W_])cedex(?:[ ][0-9]{1,2})?(?![^\W_])",
]  # fmt: skip
_COMPILED = [re.compile(f"(?i){pattern}") for pattern in _STREETS]
_ENGLISH_STREET = re.compile(
    rf"(?i)(?<![\w.,])(?P<no>[0-9]{{1,5}}[a-z]?),?[ ](?P<name>(?:{_NAME}[ ]){{1,4}}?)(?P<type>{_ENGLISH}s?\.?)(?![^\W_]){_FLAT}"
)
_NUMBERED = re.compile(
    rf"(?<![^\W_])(?P<name>[A-ZÄÖÜ][^\W\d_]{{1,30}}{_WEAK})[ ]{_HOUSE}{_NO_UNIT}{_FLAT}"
)
_BARE_STREET = re.compile(
    r"(?i)(?<![^\W_])(?P<name>[^\W\d_]{3,30}(?:stra(?:ß|ss)e|straat|gracht))(?![^\W_])"
)
_TWO = (
    "am|an|im|in|um|zu|ab|so|es|er|da|de|la|le|el|en|du|un|op|te|is|km|mm|nm|of|at|to|on|by|we|my"
    "|if|ok|wh|ah|mv|ma|kg|cm|ml|kw|hz|au|se|ne|et|ou|si|no|lo|al|ja|he|or|as|it|do|go|me|ui|ue"
)
_POSTCODES = [
    # United Kingdom, Netherlands, United States, Ireland
    re.compile(r"(?<![\w-])(?:[A-Z]{1,2}[0-9][A-Z0-9]?[ ]{1,2}[0-9][ABD-HJLNP-UW-Z]{2})(?![\w-])"),
    re.compile(rf"(?<![\w-])[1-9][0-9]{{3}}[ ]?(?!(?:KM|MM|NM|MA|WH|AH|KW|HZ|VA|MV|KG|CM|DC|AC|EU|KV|CC|ML|LB|MS|DB|OK|OF|EN|IN|AN)\b)[A-Z]{{2}}(?![\w-])(?:[ ]{_CAP})?"),
    re.compile(rf"(?i)(?<![\w.,/-])[1-9][0-9]{{3}}[ ]?(?!(?:{_TWO})\b)[a-z]{{2}}[ ]{{1,3}}(?={_CAP})"),
    re.compile(rf"{_CAP}(?:[ ]{_CAP})?,?[ ][A-Z]{{2}},?[ ][0-9]{{5}}(?:-[0-9]{{4}})?(?![\w-])"),
    re.compile(r"(?<![\w-])[AC-FHKNPRTV-Y][0-9]{2}[ ][0-9AC-FHKNPRTV-Y]{4}(?![\w-])"),
    # with the country before it
    re.compile(r"(?<![\w-])(?:D|A|CH|F|B|E|L|NL|PL|I|DK)-[ ]?[0-9]{4,5}(?![\w-])(?:[ ][A-ZÀ-Þ][^\W\d_]{1,25}(?:[-/][A-Z][^\W\d_]{1,20})?)?"),
]  # fmt: skip
_TOWN = re.compile(
    r"(?<![\w.,/-])(?P<code>[0-9]{4,5})[ ,]{1,2}(?P<town>[^\W\d_]{2,30}(?:[-/'’][^\W\d_]{1,20}){0,4})"
    r"(?P<more>(?:[ ](?:am|an|der|bei|im|in|ob|a\.|i\.|v\.|d\.|sur|sous|en|les|lès|la|le|de|del|aan|den|op|the|zoom|rijn"
    r"|Main|Rhein|See|Neckar|Donau|Breisgau|Br\.|Saale|Oder|M\.|Tauber)){0,3}(?:[ ][0-9]{1,2}(?!\w))?)"
)
_LABELLED = re.compile(
    r"(?i)(?<![^\W_])(?:postcode|zip(?:[ ]code)?|plz|postleitzahl|code postal|cp|c\.p\.|código postal)"
    r"[ :.]{1,3}(?P<value>[A-Z0-9]{2,5}(?:[ ]?[A-Z0-9]{2,3})?)(?![^\W_])"
)


def address_spans(text: str, lists: Words) -> Iterator[Span]:
    """Find streets with house numbers, postcodes with towns, boxes and flats."""
    for pattern in (*_COMPILED, *_POSTCODES, _LABELLED):
        name = "value" if "value" in pattern.groupindex else 0
        for match in pattern.finditer(text):
            if pattern is not _LABELLED or any(c.isdigit() for c in match[name]):
                yield Span(*match.span(name), "address")
    for pattern, judged in (
        (_ENGLISH_STREET, _english),
        (_NUMBERED, _numbered),
        (_BARE_STREET, _bare),
        (_TOWN, _town),
    ):
        for match in pattern.finditer(text):
            if judged(match, lists):
                yield Span(*match.span(), "address")


def _numbered(match: re.Match[str], lists: Words) -> bool:
    """Tell a street with its number from a thing of the trade with a size."""
    return folded(match["name"]) not in lists.trade


def _bare(match: re.Match[str], lists: Words) -> bool:
    """Tell the name of a street from a kind of street."""
    return folded(match["name"]) not in lists.ordinary


def _english(match: re.Match[str], lists: Words) -> bool:
    """Tell a street with its number from "2 new drive units"."""
    names = match["name"].split()
    capital = all(n[0].isupper() or folded(n) in lists.small for n in names)
    kind = match["type"]
    if capital and names[0][0].isupper():
        return kind[0].isupper() and match.end() > 0
    sure = _SURE_ENGLISH.match(kind) is not None
    foreign = any(folded(n) not in lists.trade for n in names)
    small = any(folded(n) in lists.small for n in names)
    return sure and not small and (foreign or len(names) == 1)


def _town(match: re.Match[str], lists: Words) -> bool:
    """Tell a postcode with its town from a count of things."""
    town = match["town"]
    name = folded(town)
    if name in lists.small or (town.islower() and name not in lists.towns):
        return False
    long = len(match["code"]) == 5
    if name in lists.towns and (long or name not in lists.trade or town[0].isupper()):
        return True
    first = folded(town.split("-", maxsplit=1)[0])
    if not lists.known(first) and not lists.near_trade(first):
        return len(town) > 3 and (town[0].isupper() or long)
    return long and town[0].isupper() and first not in lists.trade
