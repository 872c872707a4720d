"""Strings of the trade that look personal and are not."""

from __future__ import annotations

import re

__all__ = ["UNITS", "technical_spans"]

UNITS = (
    r"(?:mAh|Ah|Wh|kWh|mV|kV|V(?:DC|AC)?|mA|µA|A|kW|W|kHz|MHz|Hz|m?[OΩ]hm|[mkM]?Ω|Nm|Ncm|cNm"
    r"|N|kN|bar|psi|mbar|kPa|MPa|mm[²2]?|cm[³3]?|km/h|kmh|mph|km|kms|miles|mi|m|µm|in|inch"
    r"|Zoll|kg|g|lbs?|ml|l|°\s?C|°\s?F|°|Grad|degrees|%|rpm|U/min|min|sec|s|h|Std|Stunden"
    r"|Zyklen|cycles|ms|dB|Kelvin|K|T|Zähne|teeth|Stück|Stk|pcs|x|ft-?lbs?|AWG|bit|kbit/s"
    r"|Kilometern?|kilomètres|kilómetros|kilometer|Meter|Monate|months|mois|Jahre|years)"
)
_CLAIM = (
    r"(?:ticket|claim|case|rma|vorgangs?|reklamations?|reklamation|schadens?fall|fall"
    r"|dossier|réclamation|reclamation|klacht|melding|caso|garantie|garantía|warranty"
    r"|gwl|sav|beanstandungs?|antrag|incident|reclamación|expediente"
    r"|serien|serial|serie|série|s/n|sn|seriennr|artikel|article|artículo|teile|part|pn"
    r"|p/n|pièce|pieza|onderdeel|ref|réf|referenz|error|fehler|erreur|fout|fallo|code|err"
    r"|fault|dtc|charge|batch|lot|los|chargen|version|firmware|fw|sw|software|hw|build"
    r"|release|rev|bios|update|can|id|modell?|model|modèle|modelo|type|typ|tipo|norm|din"
    r"|iso|en|iec|zelle|cell)"
)
_NUMBERED = r"(?:[ -]?(?:nummer|number|nr|no|num|n°|nº|código|code|id)\b)?[.:#°º]{0,2}"
_DAY = r"(?:0?[1-9]|[12][0-9]|3[01])"
_MONTH = r"(?:0?[1-9]|1[0-2])"
_PATTERNS = [
    # claim, part and serial numbers, errors and versions by their label
    rf"(?i)(?<![^\W_]){_CLAIM}{_NUMBERED}[ \t]{{0,2}}[:#]?[ \t]?v?"
    r"(?=[A-Z0-9./_-]{0,20}[0-9])[A-Z0-9][A-Z0-9./_-]{0,30}(?: 0x[0-9A-F]{1,8})?",
    # versions
    r"(?i)(?<![\w.])v\.?[ ]?[0-9]{1,4}(?:[._-][0-9A-Za-z]{1,6}){1,5}",
    # dates and times
    rf"(?<![\d.]){_DAY}[./-]{_MONTH}[./-](?:(?:19|20)[0-9]{{2}}|[0-9]{{2}})(?![\d])",
    rf"(?<![\d.])(?:19|20)[0-9]{{2}}[./-]{_MONTH}[./-]{_DAY}(?:T[0-9:]{{5,8}})?(?!\d)",
    r"(?<![\d.:])[0-2]?[0-9][:.h][0-5][0-9](?::[0-5][0-9])?(?![\d.:])",
    # ticket numbers of a country, or of a year and a running number
    r"(?<![\w-])[A-Z]{2,4}[0-9]{2}-[0-9]{4,7}(?![\w-])",
    r"(?<![\w/])(?:19|20)[0-9]{2}/[0-9]{3,6}(?![\w/])",
    # measurements, tyres, screws
    rf"(?<![\w.,])[-+±]?[0-9]{{1,6}}(?:[ .,'][0-9]{{1,4}}){{0,2}}[ ]?{UNITS}(?![^\W_])",
    r"(?<![\w.,])[0-9]{1,3}(?:[.,][0-9]{1,3})?[ ]?[xX×][ ]?[0-9]{1,4}(?:[.,][0-9]{1,3})?",
    r"(?<![\w.,-])[1-7][0-9]-[2-6][0-9]{2}(?![\w-])",
    r"(?<![\w])M[0-9]{1,2}[xX×][0-9]{1,3}(?![\w])",
    # parts: letters and digits, hyphened
    r"(?<![\w-])[A-Z]{1,5}[0-9]{0,5}-[A-Z]{0,3}[0-9]{2,6}[A-Z0-9]{0,4}"
    r"(?:[-/][A-Z0-9]{1,6}){0,4}(?![\w-])",
    r"(?<![\w-])[1-9][0-9]{2,4}-[0-9]{3,4}-[0-9]{2}(?![\w-])",
    r"(?<![\w-])[0-9]{4}-[0-9]?[A-Z]{2,3}[0-9]?(?![\w-])",
    r"(?<![\w])0x[0-9A-Fa-f]{1,8}(?![\w])",
]
_COMPILED = [re.compile(pattern) for pattern in _PATTERNS]
# dates and measurements stay whatever stands before them
_MEASURED = _COMPILED[2:5] + _COMPILED[7:11]


def technical_spans(text: str, *, measured: bool = False) -> list[tuple[int, int]]:
    """Return the places of technical strings in a text.

    Parameters
    ----------
    text : str
        In ordinary characters.
    measured : bool, default False
        Only dates, times and measurements.

    Returns
    -------
    list of (int, int)
        Begin and end of each, unsorted; they may overlap.
    """
    chosen = _MEASURED if measured else _COMPILED
    return [m.span() for pattern in chosen for m in pattern.finditer(text)]
