"""Numbers that a word before them makes personal."""

from __future__ import annotations

import re
from collections.abc import Iterator

from claimlens.redact.kinds import Span

__all__ = ["labelled_spans"]

_IS = (
    r"(?:[ \t]{0,2}(?:is|was|ist|war|lautet|est|était|es|era|were|are|sind|no|nr|nummer"
    r"|number|num|numéro|número|n°|nº|id|code|:|=|#|\.|°|º|-|–|/|\n)){0,4}[ \t]{0,2}"
)
_NUMBER_WORD = (
    r"(?:[ -]?(?:nummern?|numbers?|nr|no|num|numéro|número|n°|nº|id|#|-nr|ref|reference"
    r"|referenz|référence|referentie|referencia|code))"
)
_VALUE = (
    r"(?=[A-Z0-9./_-]{0,24}[0-9])(?:[A-Z]{0,6}[-./_ ]?)?[0-9][A-Z0-9]{0,19}"
    r"(?:[-./_][A-Z0-9]{1,12}|[ ][0-9]{1,8}(?![0-9A-Z.,/-])|[ ][0-9]{2,8}){0,6}"
)
_MORE = rf"(?:[ ]?(?:,|/|;|&|and|und|et|en|y|or|oder|ou|of|o|\+)[ ]?{_VALUE}){{0,5}}"
_ORDER = (
    r"order|orders|purchase[ ]order|po|web[ ]?order|bestellung|bestell|auftrag|auftrags"
    r"|kaufvertrag|commande|cde|bestelling|bestel|opdracht|pedido|orden(?:[ ]de[ ]compra)?"
    r"|encargo|booking|buchung|réservation|reserva|reservering"
)
_ACCOUNT = (
    r"account|acct|customer|cust|client|konto|kunden|kunde|kd|kdnr|debitoren|compte|rekening"
    r"|klant|klanten|cuenta|cliente|client|member|membership|mitglieds|mitglied|lid|socio"
    r"|adhérent|abonné|adhesion|benutzer|user|vertrags|contract|contrat|contrato|contract"
    r"|kundenkonto|loyalty|bonuskarte"
)
_INVOICE = (
    r"(?:rg|re|inv|rech|fact|kd|cde|az|pol|best|auftr)[. -]{1,2}(?:nr|no|n°|num)|invoice|inv|bill|receipt|rechnung|rechnungs|beleg|quittung|kassenbon|bon"
    r"|kassenzettel|facture|fact|reçu|ticket[ ]de[ ]caisse|factuur|factura|recibo|rekening"
    r"|kassabon|credit[ ]note|gutschrift|lieferschein|liefersch|delivery[ ]note"
    r"|bon[ ]de[ ]livraison|pakbon|albarán"
)
_PAYMENT = (
    r"payment|transaction|txn|zahlung|zahlungs|transaktions?|überweisung|paiement"
    r"|virement|betaling|betalings|transactie|pago|transferencia|transacción|bic|swift|blz"
    r"|bankleitzahl|sort(?:[ ]code)?|mandat|mandats|mandate|sepa|paypal|cvv|cvc"
)
_PAPERS = (
    r"legitimatie(?:bewijs)?|legitimation|identification|identificación|id-bewijs|kaufbeleg|kassenbeleg"
    r"|(?!serien|artikel|teile|rahmen|fehler|modell|versions|chargen|vorgangs|reklamations|ticket|fahrgestell"
    r"|onderdeel|frame|fout|klacht|material|typ|akku|motor|bau|schadens|garantie|claim|los)[^\W\d_]{2,16}(?:nummer|nr\.?)"
    r"|passport|reisepass|pass|personalausweis|ausweis|perso|passeport|carte[ ]d'identité"
    r"|cni|paspoort|identiteitskaart|id[ -]?kaart|pasaporte|dni|nie|nif|cif|bsn|ssn|nino"
    r"|national[ ]insurance|social[ ]security|sozialversicherungs?|sv|steuer|steuer-id"
    r"|tax|vat|ust|ust-id|ustid|uid|btw|tva|iva|siret|siren|kvk|handelsregister|hrb"
    r"|driving[ ]licen[cs]e|driver'?s[ ]licen[cs]e|licen[cs]e|führerschein"
    r"|permis(?:[ ]de[ ]conduire)?|rijbewijs|carnet(?:[ ]de[ ]conducir)?"
    r"|permiso(?:[ ]de[ ]conducir)?|id[ ]card|sécurité[ ]sociale|nir|rijksregister"
    r"|policy|versicherung|versicherungs|police|polizze|assurance|verzekering"
    r"|verzekerings|polis|póliza|seguro|tracking|sendungs|sendung|paket|colis|suivi|envío"
    r"|seguimiento|zending|track(?:[ ]?&[ ]?trace)?|aktenzeichen"
)
_LABELS = {
    "number": "|".join((_ORDER, _ACCOUNT, _INVOICE, _PAPERS)),
    "payment": _PAYMENT,
}
_PLATE = (
    r"(?:kennzeichen|kfz[ -]kennzeichen|amtl\.?[ ]kennzeichen|kfz|versicherungskennzeichen"
    r"|number[ ]plate|licen[cs]e[ ]plate|plate|registration|reg|immatriculation|immat"
    r"|immatriculée?|plaque(?:[ ]d'immatriculation)?|kenteken(?:plaat)?|nummerplaat"
    r"|matrícula|matricula|placa)"
)
_BORN = (
    r"(?:born(?:[ ]on)?|date[ ]of[ ]birth|birth[ ]?date|birthday|dob|d\.o\.b\.?|geboren(?:[ ]am"
    r"|[ ]op)?|geb\.?(?:[ ]am)?|geburtsdatum|geburtstag|geb\.?-?datum|née?(?:[ ]le)?"
    r"|date[ ]de[ ]naissance|naissance|ddn|geboortedatum|geb\.?[ ]?datum"
    r"|nacid[oa](?:[ ]el)?|fecha[ ]de[ ]nacimiento|f\.?[ ]?nac\.?|nacimiento|cumpleaños"
    r"|verjaardag|anniversaire|jahrgang|jg\.?)"
)
_MONTHS = (
    r"(?:jan|feb|fév|fev|mar|mär|mrt|maa|apr|avr|abr|may|mai|mei|may|jun|juin|jul|juil|aug"
    r"|août|aou|ago|sep|set|oct|okt|nov|dec|dez|déc|dic|ene)[^\W\d_]{0,7}\.?"
)
_DATE = (
    rf"(?:[0-9]{{1,2}}[./ -]{{1,2}}(?:[0-9]{{1,2}}|(?:de[ ])?{_MONTHS})[./ -]{{1,2}}"
    r"(?:(?:de|del)[ ])?[0-9]{2,4}"
    rf"|[0-9]{{4}}-[0-9]{{1,2}}-[0-9]{{1,2}}|{_MONTHS}[ ][0-9]{{1,2}}(?:st|nd|rd|th)?,?[ ]"
    rf"[0-9]{{4}}|[0-9]{{1,2}}(?:st|nd|rd|th|er|\.)?[ ](?:of[ ]|de[ ])?{_MONTHS},?[ ]"
    r"(?:(?:de|del)[ ])?[0-9]{2,4}|(?:19|20)[0-9]{2}|'?[0-9]{2}(?![0-9]))"
)
_NOT_VALUE = re.compile(
    r"(?:[0-3]?[0-9][./-][01]?[0-9][./-](?:[0-9]{4}|[0-9]{2})|(?:19|20)[0-9]{2}"
    r"|[0-9]{4}-[0-9]{2}-[0-9]{2})(?![0-9-])"
)
_LABELLED = {
    kind: re.compile(
        rf"(?i)(?<![^\W_])(?:{labels})(?P<name>{_NUMBER_WORD})?{_IS}"
        rf"(?P<value>{_VALUE}{_MORE})"
    )
    for kind, labels in _LABELS.items()
}
_TOLD = [
    ("plate", re.compile(
        rf"(?i)(?<![^\W_]){_PLATE}{_NUMBER_WORD}?{_IS}"
        r"(?P<value>[A-ZÄÖÜ]{1,3}[ -]{1,3}[A-Z]{1,2}[ -]?[0-9]{1,4}[EH]?|[A-Z]{2}[0-9]{2}[ ]?[A-Z]{3}"
        r"|[0-9]{4}[ -]?[A-Z]{3}|[A-Z]{1,3}[ -]?[0-9]{1,4}[ -]?[A-Z]{1,3}"
        r"|[0-9]{1,3}[ -]?[A-Z]{1,3}[ -]?[0-9]{1,3}|[A-Z]{2,3}[ -]?[0-9]{1,2}[ -]?[A-Z]{1,2}"
        r"|(?=[A-Z]{0,6}[0-9])[A-Z0-9]{4,9})(?![^\W_]|-[^\W_]*[0-9])"
    )),
    ("number", re.compile(
        r"(?i)(?<![^\W_])(?:password|passwort|kennwort|mot[ ]de[ ]passe|mdp|wachtwoord|contraseña|pwd|pw|pin"
        r"|code[ ]porte|türcode|door[ ]code|digicode)[ ]?[:=]?[ ](?:is|ist|est|es|lautet)?[ ]?(?P<value>(?=[^\s]{0,20}[0-9])[^\s,;]{3,24})"
    )),
    ("birth", re.compile(rf"(?i)(?<![^\W_]){_BORN}[ :=]{{0,3}}(?P<value>{_DATE})")),
    ("web", re.compile(
        r"(?i)(?<![^\W_])(?:insta|ig|fb|user(?:[ ]?name)?|benutzer(?:name)?|utilisateur"
        r"|gebruiker(?:snaam)?|usuario|profile?|profilo?|perfil|handle|login|nick(?:name)?"
        r"|pseudo|chat|alias)[ ]?[:=][ ]?(?P<value>[\w.@-]{2,40})"
    )),
]  # fmt: skip


def labelled_spans(text: str) -> Iterator[tuple[Span, bool]]:
    """Find numbers that their label makes personal.

    Parameters
    ----------
    text : str
        In ordinary characters.

    Yields
    ------
    (Span, bool)
        The number alone, as its label stays, and whether the label says for certain
        that a number follows.
    """
    for kind, pattern in _LABELLED.items():
        for match in pattern.finditer(text):
            value = match["value"]
            digits = sum(c.isdigit() for c in value)
            named = (
                bool(match["name"]) or ":" in text[match.start() : match.start("value")]
            )
            coded = len(value) > 6 and any(c.isalpha() for c in value)
            if digits < (3 if named or coded else 4) or _NOT_VALUE.match(value):
                continue
            yield Span(*match.span("value"), kind), named
    for kind, pattern in _TOLD:
        for match in pattern.finditer(text):
            yield Span(*match.span("value"), kind), True
