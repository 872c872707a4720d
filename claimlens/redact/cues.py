"""Words that tell that a name stands beside them, in five languages."""

from __future__ import annotations

import re

from claimlens.redact.plain import folded

__all__ = [
    "ARTICLES",
    "CLOSINGS",
    "GREETINGS",
    "JOINERS",
    "PARTICLES",
    "PHRASES",
    "ROLES",
    "SAID",
    "SIGNED",
    "TALKED",
    "THANKS",
    "TITLES",
]


def _set(text: str) -> frozenset[str]:
    return frozenset(map(folded, text.split()))


TITLES = _set(
    "mr mrs miss mister dr drs prof professor herr herrn hr hrn frau fr fräulein mme mlle "
    "monsieur madame mademoiselle mevr mevrouw mw meneer mijnheer dhr heer sr sra srta señor "
    "señora señorita sir madam ing ir dipl mag ms m don doña signora signor pan pani bay"
)
ROLES = _set(
    "customer client owner rider cyclist buyer kunde kundin kunden kd kdn kundn besitzer "
    "besitzerin halter halterin fahrer fahrerin käufer klant klante eigenaar koper berijder "
    "cliente clienta clientes cliente propriétaire acheteur acheteuse propietario propietaria "
    "comprador titular usuario utilisateur gebruiker technician tech mechanic engineer "
    "colleague colleagues coworker boss manager techniker technikerin monteur monteurin "
    "mechaniker kollege kollegen kollegin chef chefin meister azubi werkstattleiter verkäufer "
    "verkäuferin technicien technicienne mécanicien collègue responsable vendeur vendeuse "
    "patron conseiller monteur collega verkoper verkoopster chef técnico técnica mecánico "
    "compañero compañera jefe vendedor encargado wife husband son daughter brother sister "
    "father mother dad mum mom friend girlfriend boyfriend partner neighbour neighbor uncle "
    "aunt cousin ehefrau ehemann mann sohn tochter bruder schwester vater mutter papa mama "
    "freund freundin nachbar nachbarin onkel tante opa oma enkel schwager lebensgefährte "
    "femme mari épouse époux fils fille frère soeur sœur père mère ami amie copain copine "
    "voisin voisine compagnon compagne vrouw man zoon dochter broer zus vader moeder vriend "
    "vriendin buurman buurvrouw oom echtgenoot echtgenote mujer marido esposa esposo hijo hija "
    "hermano hermana padre madre amigo amiga novio novia vecino vecina tío tía abuelo named "
    "called namens genannt heißt heisst heißen nommé nommée genaamd llamado llamada familie "
    "family fam famille familia eheleute ehepaar"
)
# these may also be followed by what a person is called without any sign of it
SIGNED = _set(
    "name nom naam nombre vorname nachname prénom voornaam achternaam apellido apellidos "
    "surname firstname lastname gez gezeichnet signed unterschrift signature handtekening "
    "firma firmado getekend bearbeiter bearbeiterin sachbearbeiter sachbearbeiterin "
    "ansprechpartner ansprechpartnerin kontaktperson contact kontakt contactpersoon contacto "
    "absender sender expéditeur afzender remitente empfänger recipient destinataire "
    "ontvanger destinatario attn attention zhd zh owner rider besitzer halter kunde kundin "
    "customer client klant cliente titulaire titular technician techniker technicien técnico "
    "monteur mechanic mechaniker von from de van par auteur author melder autor firmante"
)
GREETINGS = _set(
    "dear hi hello hey hallo moin servus liebe lieber geehrter geehrte verehrte hallöchen "
    "bonjour bonsoir cher chère chers salut coucou beste geachte hoi dag lieve goedendag "
    "goedemorgen goedemiddag hola estimado estimada querido querida buenas morning afternoon "
    "evening tag morgen abend días tardes noches greetings"
)
CLOSINGS = _set(
    "regards rgds grüße grüßen gruß grüsse grüssen gruss grüßle mfg lg vg bg kr br cordialement "
    "salutations cdlt cdt bàv groet groeten groetjes grtz grtjs gr mvg saludos saludo "
    "atentamente atte cheers sincerely faithfully truly amitiés bisous bises hochachtungsvoll "
    "respectueusement sentiments abrazo abrazos groetnis ciao tschüss tschau servusla"
)
THANKS = _set(
    "thanks thank thx ty danke dank merci bedankt dankje gracias grazie vielendank"
)
SAID = _set(
    "said says say told tells called calls rang rings phoned phones wrote writes emailed "
    "mailed texted asked asks reported reports complained complains mentioned insists claims "
    "claimed wants wanted explained thinks brought confirmed signed replied answered sagt sagte "
    "meint meinte rief ruft schrieb schreibt meldet meldete berichtet berichtete erzählt "
    "erzählte fragt fragte möchte wollte bittet bat erklärte behauptet reklamiert beanstandet "
    "brachte bringt antwortet bestätigt zei zegt belde belt schreef schrijft meldde meldt "
    "vertelde vertelt vroeg vraagt wil wilde bracht brengt mailde appelle téléphone écrit "
    "raconte demande signale précise explique affirme voulait veut rapporte dijo dice llamó "
    "llamo llama escribió escribio escribe comenta comentó comento pregunta preguntó avisa "
    "avisó aviso quiere quería explica explicó trajo reclama contó confirma indica indicó"
)
TALKED = _set(
    "with to by von mit durch bei an laut an avec à par selon chez met door bij volgens aan "
    "con por según a from for für pour voor para an ask call tell told contact asked"
)
JOINERS = _set("and und et en y e & o or oder ou of sowie plus ni")
PARTICLES = _set(
    "van de der den von vom del della dello la du des le di da do dos das el al bin ibn ten "
    "ter te zu zum zur t y i e mac mc st san santa d o l auf op"
)
ARTICLES = _set(
    "the a an this that its my your our his her their der die das den dem des ein eine einen "
    "einem einer mein meine meinem kein keine diese dieser le la les l un une des ce cette mon "
    "ma notre el los las una unos este esta mi het een de dit dat deze mijn ons geen no kein "
    "jeder jede each every any some new neue neuer nouveau nieuwe nuevo"
)
# What comes before a name for certain.
_PHRASES = (
    "my name is|the name is|name is|i am called|ich heisse|mein name ist|hier ist|hier spricht"
    "|je m'appelle|mon nom est|nom est|je suis|ik heet|mijn naam is|naam is|ik ben|u spreekt met"
    "|spreekt met|me llamo|mi nombre es|nombre es|soy|habla|spoke with|spoke to|speak to"
    "|speak with|speaking to|spoken to|spoken with|talked to|talked with|talking to|talk to"
    "|gesprochen mit|gespräch mit|telefonat mit|absprache mit|abgesprochen mit|rücksprache mit"
    "|telefoniert mit|abgestimmt mit|gesprek met|gesproken met|overleg met|gebeld met"
    "|contact met|kontakt mit|parlé à|parlé avec|entretien avec|accord avec|appel de"
    "|hablé con|hablado con|hablando con|hablamos con|llamada de|phone call with"
    "|phone call from|call with|call from|chat with|mail from|email from|letter from"
    "|message from|mail von|anruf von|nachricht von|brief von|mail van|bericht van"
    "|telefoontje van|message de|mail de|courrier de|correo de|mensaje de|told by|told me by"
    "|told us by|sold by|sold to me by|sold to|signed by|checked by|repaired by|replaced by"
    "|inspected by|tested by|approved by|handled by|fitted by|done by|verkauft von"
    "|verkauft an|geprüft von|repariert von|bearbeitet von|getauscht von|montiert von"
    "|vendu par|vendu à|réparé par|contrôlé par|remplacé par|verkocht door|verkocht aan"
    "|gerepareerd door|vervangen door|gecontroleerd door|nagekeken door|vendido por|vendido a"
    "|reparado por|revisado por|cambiado por|according to|reported by|gemeldet von"
    "|gemeld door|signalé par|care of|c/o|z hd|zu händen|t a v|tav|à l'attention de"
    "|a la atención de|de parte de|in the name of|im namen von|im auftrag von|on behalf of"
    "|au nom de|namens|tnv|t n v|en nombre de|ask for|asked for|fragen nach|frag nach|vragen naar"
    "|vraag naar|preguntar por|demander|hello from|greetings from|viele grüsse von"
    "|groetjes van|gruss von|regards from|saludos de|belongs to|gehört|appartient à"
    "|is van|eigendom van|pertenece a|bike of|rad von|vélo de|fiets van|bici de|owned by"
    "|vu avec|vu par|volgens|selon|según|ridden by|gefahren von|told|asked|ruf an|anrufen bei|attn|attention|thx to|dank an"
)
PHRASES: dict[str, list[tuple[str, ...]]] = {}
for _phrase in _PHRASES.split("|"):
    _words = tuple(re.findall(r"[^\W\d_]+", folded(_phrase)))
    PHRASES.setdefault(_words[-1], []).append(_words)
