"""The trade's words for the quantities, in English, German, French, Spanish and Swedish, as stems without accents.

They are the words that coaches and players use for these things (common practice); no layout of any product is in here.
A header is understood when all stems of one phrase begin one of its words each; the phrase with the most stems wins.
"""

# ruff: noqa: E501 - one line a quantity reads best
from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

_PHRASES: dict[str, str] = {
    "player_id": "player; player id; golfer; spieler; spieler nr; joueur; jugador; spelare; spelar id",
    "session_id": "session; session id; einheit; sitzung; seance; sesion; pass nr; pass; tranings pass",
    "shot_no": "shot; shot no; shot number; stroke; no; nr; schlag; schlag nr; coup; coup no; golpe; slag; slag nr",
    "club": "club; schlager; palo; klubba; club used; schlager typ",
    "club_speed_mps": (
        "club speed; club head speed; clubhead speed; head speed; swing speed; schlagerkopf geschwind; schlager geschwind; "
        "schlagerkopfgeschwind; schlagergeschwind; schlagkopf tempo; vitesse club; vitesse tete; vitesse tete club; "
        "velocidad palo; velocidad cabeza; velocidad cabeza palo; klubb hastighet; klubbhastighet; klubbhuvud hastighet; "
        "klubbhuvudhastighet"
    ),
    "ball_speed_mps": (
        "ball speed; ballspeed; ball geschwind; ballgeschwind; ball tempo; vitesse balle; velocidad bola; velocidad pelota; "
        "boll hastighet; bollhastighet; boll fart"
    ),
    "launch_deg": (
        "launch; launch angle; vertical launch; vertical launch angle; start winkel; startwinkel; abflug winkel; abflugwinkel; "
        "angle lancement; angle envol; angulo lanzamiento; angulo salida; utgangs vinkel; utgangsvinkel"
    ),
    "direction_deg": (
        "direction; start direction; launch direction; horizontal launch; start richtung; startrichtung; abflug richtung; "
        "abflugrichtung; direction depart; direction lancement; direccion; direccion salida; start riktning; startriktning; "
        "utgangs riktning; utgangsriktning"
    ),
    "spin_rpm": (
        "spin; spin rate; total spin; backspin; drall; gesamt drall; rotation; taux rotation; vitesse rotation; efecto; giro; "
        "spinn; rotationer"
    ),
    "spin_axis_deg": (
        "spin axis; axis tilt; spin tilt; drall achse; drallachse; spinachse; spin achse; axe rotation; inclinaison axe; eje giro; "
        "eje efecto; spinn axel; spinnaxel"
    ),
    "carry_m": (
        "carry; carry distance; flug weite; flugweite; carry weite; portee; longueur vol; vuelo; distancia vuelo; "
        "carry langd; bar langd; barlangd"
    ),
    "offline_m": (
        "offline; side; lateral; deviation; side distance; seite; seiten abweich; seitenabweich; abweichung; ecart; ecart lateral; "
        "desvio; desvio lateral; desviacion lateral; sidled; sidavvik; sid avvik; avvikelse"
    ),
    "apex_m": "apex; height; max height; peak height; flug hohe; flughohe; scheitel hohe; scheitelhohe; hauteur; hauteur max; apogee; altura; altura max; hojd; max hojd; topp hojd; topphojd",
    "descent_deg": (
        "descent; descent angle; landing angle; land angle; lande winkel; landewinkel; einfall winkel; einfallwinkel; angle descente; "
        "angle atterrissage; angulo caida; angulo descenso; landnings vinkel; landningsvinkel"
    ),
    "attack_deg": (
        "attack; attack angle; angle of attack; eintreff winkel; eintreffwinkel; angriffs winkel; angriffswinkel; angle attaque; "
        "angulo ataque; attack vinkel; attackvinkel; traff vinkel; traffvinkel"
    ),
    "path_deg": (
        "path; club path; swing path; schwung bahn; schwungbahn; schlager weg; schlagerweg; chemin club; trajectoire club; "
        "trayectoria; trayectoria palo; sving bana; svingbana; klubb bana; klubbana"
    ),
    "face_deg": (
        "face; face angle; club face; face to target; schlagflache; schlagflachen winkel; schlagflachenwinkel; angle face; face club; "
        "cara; angulo cara; cara palo; klubb blad; klubblad; blad vinkel; bladvinkel"
    ),
    "loft_deg": "loft; dynamic loft; delivered loft; dynamischer loft; loft dynamique; loft dinamico; dynamisk loft; dynamiskt loft",
    "strike_side_mm": "strike; strike side; impact side; impact horizontal; treff seite; treffseite; treffpunkt seite; impact lateral; impacto lateral; traff sida; traffsida",
    "strike_height_mm": "strike height; impact height; impact vertical; treff hohe; treffhohe; treffpunkt hohe; hauteur impact; altura impacto; traff hojd; traffhojd",
    "date": "date; day; datum; tag; jour; fecha; dia; dag",
    "time": "time; clock; time of day; zeit; uhrzeit; heure; hora; tid; klockslag",
    "struck_at": "timestamp; date time; datetime; struck at; hit at; zeitpunkt; zeitstempel; horodatage; date heure; fecha hora; tidpunkt; tidsstampel",
    "note": "note; comment; remark; bemerkung; notiz; commentaire; comentario; nota; kommentar; anteckning",
    "fatigue": "fatigue; tiredness; mudigkeit; ermudung; cansancio; fatiga; trotthet",
    "soreness": "soreness; muscle soreness; muskelkater; courbatures; agujetas; traningsvark",
    "stress": "stress; estres",
    "sleep_h": "sleep; hours slept; sleep hours; schlaf; schlafdauer; sommeil; sueno; somn",
    "speed_ratio": "smash; speed ratio; efficiency; verhaltnis; rendement; ratio; eficiencia; effektivitet",
    "total_m": "total; total distance; gesamt weite; gesamtweite; distance totale; distancia total; total langd; roll; rollweite",
}

NOT_KEPT = ("speed_ratio", "total_m")
"""Known quantities that are not kept: they follow from others, or depend on the ground."""

_IDLE = {
    "of",
    "the",
    "de",
    "du",
    "la",
    "le",
    "des",
    "der",
    "die",
    "das",
    "del",
    "el",
    "id",
    "angle",
    "rate",
    "d",
    "l",
    "av",
    "max",
}


@dataclass(frozen=True)
class Understood:
    """What a header seems to mean.

    Attributes
    ----------
    target : str
        One of our columns, or ``date`` and ``time``; empty when nothing fits.
    surplus : int
        Words of the header that the phrase does not explain.
    weight : int
        Letters of the phrase: the longer one says more.
    """

    target: str
    surplus: int
    weight: int


def bare(text: str) -> str:
    """Lower case without accents and signs; words apart."""
    text = re.sub(r"[\[(].*?[\])]", " ", text)
    text = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", text)
    decomposed = unicodedata.normalize("NFKD", text.replace("ß", "ss").lower())
    plain = "".join(sign for sign in decomposed if not unicodedata.combining(sign))
    return " ".join(re.findall(r"[a-z]+", plain))


def _stems() -> list[tuple[str, tuple[str, ...]]]:
    return [(target, tuple(bare(phrase).split())) for target, phrases in _PHRASES.items() for phrase in phrases.split(";")]


_STEMS = _stems()


def _explains(stems: tuple[str, ...], words: list[str]) -> bool:
    """Whether each stem begins a word of its own; a single short stem must be the whole word."""
    left = list(words)
    for stem in stems:
        match = next((word for word in left if word == stem or (len(stem) >= 4 and word.startswith(stem))), None)
        if match is None:
            return False
        left.remove(match)
    return True


def understood(header: str) -> Understood:
    """The quantity that a header names, by the phrase that explains most of it."""
    words = bare(header).split()
    meaning = [word for word in words if word not in _IDLE] or words
    best = Understood("", len(meaning), 0)
    for target, stems in _STEMS:
        if not _explains(stems, words):
            continue
        surplus = sum(1 for word in meaning if not any(word.startswith(stem) for stem in stems))
        weight = sum(map(len, stems))
        if (surplus, -weight) < (best.surplus, -best.weight) or not best.target:
            best = Understood(target, surplus, weight)
    return best


UNIT_WORDS: dict[str, str] = {
    "m/s": "m/s", "mps": "m/s", "ms-1": "m/s", "mph": "mph", "mi/h": "mph", "km/h": "km/h", "kmh": "km/h", "kph": "km/h",
    "yd": "yd", "yds": "yd", "yard": "yd", "yards": "yd", "m": "m", "meter": "m", "metre": "m", "metres": "m", "metros": "m",
    "ft": "ft", "feet": "ft", "in": "in", "inch": "in", "mm": "mm", "cm": "cm", "deg": "deg", "°": "deg", "grad": "deg",
    "degrees": "deg", "grader": "deg", "rpm": "rpm", "u/min": "rpm", "1/min": "rpm", "tr/min": "rpm", "varv/min": "rpm",
    "rev/min": "rpm", "rps": "rps", "°c": "degC", "degc": "degC", "°f": "degF", "degf": "degF", "hpa": "hPa", "inhg": "inHg",
    "mbar": "mbar", "%": "%", "h": "h", "min": "min",
}  # fmt: skip
"""How units are written in headers, and our symbol for them."""


def unit_of(text: str) -> str:
    """Our symbol for a unit as it is written; empty when it is none."""
    return UNIT_WORDS.get(text.strip().strip("[]()").strip().lower(), "")


def unit_in_header(header: str) -> str:
    """The unit in brackets, or after the last blank or underscore of a header; empty when there is none."""
    bracket = re.search(r"[\[(]([^\])]*)[\])]", header)
    if bracket and unit_of(bracket[1]):
        return unit_of(bracket[1])
    last = re.split(r"[\s_,]+", header.strip())[-1]
    return unit_of(last) if len(header.split()) > 1 or "_" in header else ""
