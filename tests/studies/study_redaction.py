"""Personal strings left, strings of the trade and other words kept, by redaction.

Narratives in five languages are put together from sentences of the trade, strings of
the trade and personal strings. Names come from the lists of faker; of the names on the
shipped lists a share is taken out of them before the study, so that they are unknown
(rows "held out").
"""

from __future__ import annotations

import random
import re
from collections import Counter, defaultdict
from dataclasses import replace

from faker import Faker

import claimlens.redact.redactor as redactor_module
from claimlens.redact import Known, Redactor
from claimlens.redact.plain import folded
from claimlens.redact.words import words

LOCALES = {
    "en": ["en_GB", "en_US", "en_IE"],
    "de": ["de_DE", "de_AT", "de_CH", "tr_TR", "pl_PL"],
    "fr": ["fr_FR", "fr_CH"],
    "nl": ["nl_NL", "nl_BE"],
    "es": ["es_ES", "es_MX"],
}
# How many of them are countries of the language; from the others come names alone.
NATIVE = {"en": 3, "de": 3, "fr": 2, "nl": 2, "es": 1}
PLAIN = {
    "en": [
        "The brake lever pulls to the bar and fluid is leaking at the hose.",
        "Motor cuts out on steep hills, then works again after switching off and on.",
        "Battery no longer charges, the charger light stays red all night.",
        "Spokes keep breaking on the rear wheel, already the fourth this spring.",
        "Display shows an error and the assist stops after ten minutes in the rain.",
    ],
    "de": [
        "Der Bremshebel lässt sich bis zum Griff ziehen, am Schlauch tritt Öl aus.",
        "Motor setzt am Berg aus und läuft nach dem Neustart wieder normal.",
        "Akku lädt nicht mehr, die Lampe am Ladegerät bleibt die ganze Nacht rot.",
        "Am Hinterrad brechen ständig Speichen, schon die vierte in diesem Frühjahr.",
        "Das Display zeigt einen Fehler, bei Regen fällt die Unterstützung aus.",
    ],
    "fr": [
        "Le levier de frein touche le guidon et la durite fuit.",
        "Le moteur coupe dans les côtes puis repart après un redémarrage.",
        "La batterie ne charge plus, le voyant du chargeur reste rouge toute la nuit.",
        "Les rayons cassent sans arrêt à l'arrière, déjà le quatrième ce printemps.",
        "L'écran affiche une erreur et l'assistance s'arrête sous la pluie.",
    ],
    "nl": [
        "De remhendel kan tot het stuur en er lekt olie bij de leiding.",
        "De motor valt uit op de helling en doet het na een herstart weer.",
        "De accu laadt niet meer, het lampje van de lader blijft de hele nacht rood.",
        "Er breken steeds spaken in het achterwiel, dit is al de vierde dit voorjaar.",
        "Het scherm toont een fout en de ondersteuning stopt in de regen.",
    ],
    "es": [
        "La maneta de freno llega al manillar y el latiguillo pierde líquido.",
        "El motor se corta en las cuestas y vuelve a funcionar al reiniciar.",
        "La batería ya no carga, la luz del cargador queda roja toda la noche.",
        "Se rompen los radios de la rueda trasera, ya es el cuarto esta primavera.",
        "La pantalla muestra un error y la asistencia se para con la lluvia.",
    ],
}
NAMED = {
    "en": [
        "{} called about it.",
        "Regards, {}",
        "Customer {} is unhappy.",
        "told me by {}",
    ],
    "de": [
        "{} hat angerufen.",
        "Gruß, {}",
        "Kunde {} ist verärgert.",
        "laut {} bekannt",
    ],
    "fr": ["{} a appelé.", "Cordialement, {}", "Client {} mécontent.", "vu avec {}"],
    "nl": [
        "{} belde hierover.",
        "Groetjes, {}",
        "Klant {} is boos.",
        "volgens {} bekend",
    ],
    "es": ["{} llamó por esto.", "Saludos, {}", "Cliente {} enfadado.", "hablé con {}"],
}
BARE = {
    "en": "bike of {} since spring",
    "de": "das rad von {} seit mai",
    "fr": "le vélo de {} depuis mai",
    "nl": "fiets van {} dus",
    "es": "la bici de {} desde mayo",
}
OTHER = {
    "mail": ("mail {}", "ascii_safe_email"),
    "telephone": ("tel. {}", "phone_number"),
    "telephone bare": ("{} ok", "phone_number"),
    "address": ("({})", "street_address"),
    "payment": ("IBAN {}", "iban"),
    "card": ("{}", "credit_card_number"),
    "web": ("{}", "uri"),
}
TECHNICAL = [
    *("CT-4410-B2", "4711-0815-02", "DE26-02689", "2026/01473", "RMA-20418", "v2.14.3"),
    *(
        "ticket 48213377",
        "FW 1.0.12.7",
        "E-21",
        "ERR 0x3F",
        "P0A80",
        "36.4 V",
        "12,5 Nm",
    ),
    *("2.5 mm²", "48V/14Ah", "12.03.2026", "14:30", "12 482 km", "20x2.125", "47-406"),
    *("DIN EN 15194", "ISO 4210-2", "M6x20", "18650", "INR18650-35E", "XT90", "J1772"),
    *(
        "6001-2RS",
        "Allen key",
        "Phillips",
        "Bowden",
        "Hall sensor",
        "Torx T25",
        "Kelvin",
    ),
]
RUNS = 900
HELD_OUT = 0.3


def drawn(fake: Faker, held: set[str], rng: random.Random) -> tuple[str, bool]:
    """Return a name, and whether it is on no list."""
    given = fake.first_name()
    family = fake.last_name()
    name = rng.choice(
        [given, f"{given} {family}", family, given.lower(), given.upper()]
    )
    parts = re.findall(r"[^\W\d_]+", folded(name))
    return name, any(part in held for part in parts)


def left(piece: str, shown: str, text: str) -> bool:
    """Tell whether a telling part of a personal string still stands in a text."""
    seen = set(re.findall(r"\w+", folded(shown)))
    parts = [w for w in re.findall(r"\w+", folded(piece)) if len(w) > 2]
    return any(
        w in seen and text.count(w) == 1 for w in parts if w not in words().small
    )


class Tally:
    """Counts of one run."""

    def __init__(self) -> None:
        self.planted: Counter[tuple[str, str]] = Counter()
        self.missed: Counter[tuple[str, str]] = Counter()
        self.kept: Counter[tuple[str, str]] = Counter()
        self.examples: dict[tuple[str, str], list[str]] = defaultdict(list)


def narrative(
    language: str, fakes: list[Faker], held: set[str], rng: random.Random
) -> tuple[str, list[tuple[str, str]], list[str], list[str]]:
    """Return a text, its personal strings by kind, strings of the trade, sentences."""
    name, unknown = drawn(rng.choice(fakes), held, rng)
    frame = rng.choice([*NAMED[language], BARE[language]])
    kind = "name, bare" if frame == BARE[language] else "name, announced"
    other = rng.choice(list(OTHER))
    form, provider = OTHER[other]
    native = rng.choice(fakes[: NATIVE[language]])
    value = str(getattr(native, provider)()).replace("\n", ", ")
    technical = rng.sample(TECHNICAL, 2)
    plain = rng.sample(PLAIN[language], 2)
    text = (
        f"{plain[0]} {frame.format(name)}\n{technical[0]}, {technical[1]}; "
        f"{form.format(value)}. {plain[1]}"
    )
    pieces = [(kind + (", held out" if unknown else ""), name), (other, value)]
    return text, pieces, technical, plain


def run(redactor: Redactor, held: set[str], rng: random.Random) -> Tally:
    """Redact all narratives and count."""
    tally = Tally()
    for language, locales in LOCALES.items():
        fakes = [Faker(locale) for locale in locales]
        for number, fake in enumerate(fakes):
            fake.seed_instance(number)
        for _ in range(RUNS):
            text, pieces, technical, plain = narrative(language, fakes, held, rng)
            shown = redactor.redact(text).text
            for kind, piece in pieces:
                tally.planted[kind, language] += 1
                if left(piece, shown, folded(text)):
                    tally.missed[kind, language] += 1
                    tally.examples[kind, language].append(f"{piece} -> {shown}")
            seen = re.findall(r"\w+", " ".join(plain))
            tally.planted["technical", language] += len(technical)
            tally.kept["technical", language] += sum(t in shown for t in technical)
            tally.planted["words", language] += len(seen)
            tally.kept["words", language] += sum(word in shown for word in seen)
    return tally


def main() -> None:
    """Print the tables."""
    rng = random.Random(20260430)
    whole = words()
    names = sorted(whole.given | whole.rare)
    held = {name for name in names if rng.random() < HELD_OUT}
    lists = replace(
        whole,
        given=whole.given - held,
        family=whole.family - held,
        rare=whole.rare - held,
    )
    redactor_module.words = lambda: lists  # type: ignore[attr-defined]
    tally = run(Redactor(Known()), held, rng)
    kinds = sorted({kind for kind, _ in tally.planted} - {"technical", "words"})
    print(f"| left / planted | {' | '.join(LOCALES)} |")
    for kind in kinds:
        cells = [f"{tally.missed[kind, c]} / {tally.planted[kind, c]}" for c in LOCALES]
        print(f"| {kind} | {' | '.join(cells)} |")
    for what in ("technical", "words"):
        shares = [tally.kept[what, c] / tally.planted[what, c] for c in LOCALES]
        print(f"| {what} kept | {' | '.join(f'{100 * s:.1f} %' for s in shares)} |")
    for (kind, language), lines in sorted(tally.examples.items()):
        for line in lines[:3]:
            print(f"  {kind}, {language}: {line!r}")


if __name__ == "__main__":
    main()
