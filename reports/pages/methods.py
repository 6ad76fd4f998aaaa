"""How it is computed: every measure in plain words, its limits and its sources, and the whole bibliography."""

from __future__ import annotations

from dataclasses import replace
from types import MappingProxyType
from typing import TYPE_CHECKING

from markupsafe import Markup

from reports.findings.problems import Told
from reports.markup import joined
from reports.pages.frame import Page
from reports.pages.parts import cautions, evidence, link, paragraph, section
from reports.pages.worked import worked_examples
from reports.tables import Head, Row, table
from reports.words import unbroken
from schemas.units import UNITS

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from reports.pages.context import PageContext, Printed, Source
    from warehouse.marts import Marts

PATH, SOURCES_IN = "methods.html", "en"
"""The language in which sources are listed, whatever that of the page: a voice that reads them out is told."""
_DRIVES_YD = {"100": 225.0, "80": 250.6}
"""How far the golfers of the published simulation drive, by their standard [BroadieKo2009]."""

MEASURES: MappingProxyType[str, tuple[str, ...]] = MappingProxyType(
    {
        "summary": ("IglewiczHoaglin1993", "Jeffreys", "Mahalanobis1936"),
        "within": ("LiangZeger1986", "DerSimonianLaird1986"),
        "level": ("DurbinKoopman2012", "HarrisonStevens1976", "Raftery2010", "VonNeumann1941"),
        "normal": ("Rubin1981", "Hopkins2004"),
        "shift": ("Hawkins1987", "Quesenberry1991", "HawkinsOlwell1998", "NistCusum", "LucasCrosier1982", "Killick2012"),
        "flags": (
            *("BenjaminiHochberg1995", "Simes1986", "GandyLau2012", "GenoveseRoederWasserman2006", "Efron2008", "Efron2011"),
            *("RasmussenWilliams2006", "KassRaftery1995"),
        ),
        "devices": ("Henderson1984", "NistPooled"),
        "scatter": ("LangeLittleTaylor1989", "Ko2012", "Tukey1960", "Stigler1977", "Hotelling1931"),
        "wild": ("IglewiczHoaglin1993", "Hawkins1987", "Tukey1960", "KassRaftery1995"),
        "flight": (
            *("Picard2008", "Allen1998", "USPatent6186002", "BearmanHarvey1976", "PooledFit", "SmitsSmith1994"),
            *("Tavares1999", "Lyu2018", "Penner2002", "Biber2023"),
        ),
        "carry": ("ISO2533", "BallToBall", "USPatent6186002", "PooledFit", "BearmanHarvey1976"),
        "transfer": ("Penner2001", "Penner2003", "Wood2020", "SpinAxisGeometry"),
        "strokes": ("Broadie2012", "Broadie2008", "BroadieKo2009", "Ko2012"),
        "rounds": ("BrownCaiDasGupta2001", "Garwood1936", "Cohen1988", "Gelman2013"),
        "load": (
            *("Foster2001", "Foster1998", "Williams2017", "Benson2021", "Impellizzeri2020"),
            *("BacheMathiesen2024", "BlandAltman1995", "Jayanthi2015", "Milewski2014"),
        ),
        "jump": ("Frandsen2025", "DalenLorentsen2021"),
        "body": ("Crawford1998", "Ward2018", "Saw2015", "Finucane2020"),
        "form": ("Clarsen2013", "Clarsen2014", "Clarsen2020", "Bahr2020", "Fuller2023", "Wilson1927", "Hawkes2013"),
        "mobility": ("Johnson2012",),
        "trials": (
            *("Edgington2007", "BrownForsythe1974", "NistGear", "Murphy2007", "Gelman2013", "RaiffaSchlaifer1961"),
            *("PraisWinsten1954", "Kruschke2018", "LanDeMets1983", "Schuirmann1987", "Needleman1970", "TrialPractice"),
        ),
        "phases": ("DurbinKoopman2012", "Hopkins2004", "JCGM100"),
    }
)
"""Measure, as the words file calls it, to the keys of its sources; every entry of the bibliography stands under one."""
CALIBRATED: MappingProxyType[str, tuple[str, ...]] = MappingProxyType({"flight": ("Lyu2018",), "strokes": ("BroadieKo2009",)})
"""Measure to sources to which a value of it was fitted."""

WITH_FEDERATION: MappingProxyType[str, tuple[str, ...]] = MappingProxyType(
    {
        "sharing": ("HundepoolWillenborg2012",),
        "federation_norms": ("Hopkins2004",),
        "pooling": (
            *("Viechtbauer2005", "KnappHartung2003", "Roever2015", "Viechtbauer2007", "HigginsThompson2002", "Higgins2009"),
            "Colditz1994",
        ),
    }
)
"""The same where the academy has to do with a federation, and on the federation's own page."""


def _citation(source: Source) -> str:
    year = f" ({source.year})" if source.year else ""
    tail = ". ".join(part for part in (source.title, source.journal) if part)
    return unbroken(f"{source.authors}{year}. {tail}".strip(". ") + ".")


def _sources_line(keys: tuple[str, ...], known: set[str]) -> Markup:
    return Markup(", ").join(link(f"#source-{key}", key) if key in known else Markup("{}").format(key) for key in keys)


def _measure(name: str, keys: tuple[str, ...], example: str, context: PageContext) -> Markup:
    words = context.words
    fitted = [words(f"methods.fitted.{key}") for key in CALIBRATED.get(name, ())]
    known = {source.key for source in context.sources}
    return section(
        words(f"methods.{name}.name"),
        words(f"methods.{name}.plain"),
        paragraph(Markup("<strong>{}</strong> {}").format(words("methods.limits"), words(f"methods.{name}.limits"))),
        *([paragraph(Markup("<strong>{}</strong> {}").format(words("methods.example"), example), "worked")] if example else []),
        *(paragraph(Markup("<strong>{}</strong> {}").format(words("methods.calibrated"), text)) for text in fitted),
        paragraph(Markup("{} {}").format(words("methods.sources"), _sources_line(keys, known)), "quiet-note"),
        *([_printed(context)] if name == "strokes" and context.printed else []),
        anchor=f"measure-{name}",
    )


def _printed(context: PageContext) -> Markup:
    """Every printed saving of a published simulation beside what is computed here, and why they differ."""
    words, numbers = context.words, context.numbers
    heads = [
        Head(words("printed.better"), first=True),
        Head(words("printed.golfer"), number=True),
        Head(words("printed.course")),
        Head(words("printed.printed"), words("printed.unit"), number=True),
        Head(words("printed.computed"), words("printed.unit"), number=True),
        Head(words("printed.role")),
    ]
    rows = [
        [
            _better(one, context),
            one.standard,
            words(f"printed.trouble.{one.trouble}"),
            numbers.words.number(one.printed, 1),
            numbers.words.number(one.computed, 2),
            words("printed.calibrated" if one.is_calibrated else "printed.check"),
        ]
        for one in context.printed
    ]
    shown = table(heads, rows, caption=words("printed.caption"), kind="stack")
    told = paragraph(words("printed.caption"), "quiet-note")
    lengths = {f"of_{standard}": _length(yards, context) for standard, yards in _DRIVES_YD.items()}
    return evidence(words("printed.behind"), told, shown, paragraph(words("printed.remains", **lengths)))


def _length(yards: float, context: PageContext) -> str:
    """A printed length in the reader's unit."""
    return context.numbers.with_unit("spread" if yards % 1 else "carry", yards * UNITS["yd"].factor)


def _better(one: Printed, context: PageContext) -> str:
    words = context.words
    if one.further_yd:
        return words("printed.further", amount=_length(one.further_yd, context))
    return words("printed.straighter", n=words.number(one.straighter_deg, 0))


def _bibliography(context: PageContext) -> Markup:
    words = context.words
    heads = [
        Head(words("methods.key"), first=True),
        Head(words("methods.source")),
        Head(words("methods.known")),
        Head(words("methods.used_for")),
    ]
    rows = [
        Row(
            [
                source.key,
                Told(_citation(source), SOURCES_IN).marked(words.language),
                words(f"known.{source.known.replace(' ', '_').replace('-', '_')}"),
                Told(unbroken(source.used_for), SOURCES_IN).marked(words.language),
            ],
            anchor=f"source-{source.key}",
        )
        for source in sorted(context.sources, key=lambda source: source.key.lower())
    ]
    return table(heads, rows, caption=words("methods.bibliography"), kind="bibliography")


def _with_cited_sources(measures: Mapping[str, tuple[str, ...]], context: PageContext) -> PageContext:
    """The same with only the sources that one of the measures rests on."""
    cited = {key for keys in measures.values() for key in keys}
    return replace(context, sources=[source for source in context.sources if source.key in cited])


def pages(marts: Marts, context: PageContext) -> Iterator[Page]:
    """The methods page; its examples are from what the reader may see of the academy, its sources those of its measures."""
    words, examples = context.words, worked_examples(marts, context)
    measures = MEASURES | (WITH_FEDERATION if context.academy.share.folder else {})
    context = _with_cited_sources(measures, context)
    body = joined(
        [
            *(_measure(name, keys, examples.get(name, ""), context) for name, keys in measures.items()),
            section(words("methods.bibliography"), words("methods.bibliography_lead"), _bibliography(context)),
            cautions(words),
        ]
    )
    yield Page(PATH, words("methods.title"), body, lead=words("methods.lead"), nav="methods.title", order=90)


def federation_methods(context: PageContext) -> Page:
    """The methods page of a federation: what its pages rest on, with the sources of that."""
    words = context.words
    measures = {name: MEASURES[name] for name in ("level", "scatter", "phases")} | WITH_FEDERATION
    own = _with_cited_sources(measures, context)
    body = joined(
        [
            *(_measure(name, keys, "", own) for name, keys in measures.items()),
            section(words("methods.bibliography"), words("methods.bibliography_lead"), _bibliography(own)),
        ]
    )
    return Page(PATH, words("methods.title"), body, lead=words("methods.lead"), nav="methods.title", order=90)
