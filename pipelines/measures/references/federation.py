"""Sums over groups, and estimates of many academies brought together."""

from __future__ import annotations

from pipelines.measures.references.entry import Reference

FEDERATION: tuple[Reference, ...] = (
    Reference(
        "Viechtbauer2005",
        "Viechtbauer, W.",
        2005,
        "Bias and efficiency of meta-analytic variance estimators in the random-effects model",
        "Journal of Educational and Behavioral Statistics 30(3): 261-293",
        "10.3102/10769986030003261",
        "from memory",
        "Variance between academies by restricted maximum likelihood.",
    ),
    Reference(
        "KnappHartung2003",
        "Knapp, G.; Hartung, J.",
        2003,
        "Improved tests for a random effects meta-regression with a single covariate",
        "Statistics in Medicine 22(17): 2693-2710",
        "10.1002/sim.1482",
        "from memory",
        "Standard error and t interval of a mean over few academies.",
    ),
    Reference(
        "Roever2015",
        "Röver, C.; Knapp, G.; Friede, T.",
        2015,
        "Hartung-Knapp-Sidik-Jonkman approach and its modification for random-effects meta-analysis with few studies",
        "BMC Medical Research Methodology 15: 99",
        "10.1186/s12874-015-0091-1",
        "from memory",
        "Where academies agree better than their own errors allow, the interval is not made narrower by it.",
    ),
    Reference(
        "Viechtbauer2007",
        "Viechtbauer, W.",
        2007,
        "Confidence intervals for the amount of heterogeneity in meta-analysis",
        "Statistics in Medicine 26(1): 37-52",
        "10.1002/sim.2514",
        "from memory",
        "Interval of the variance between academies, from the profile of Q.",
    ),
    Reference(
        "HigginsThompson2002",
        "Higgins, J. P. T.; Thompson, S. G.",
        2002,
        "Quantifying heterogeneity in a meta-analysis",
        "Statistics in Medicine 21(11): 1539-1558",
        "10.1002/sim.1186",
        "from memory",
        "Share of the variation of estimates that is no sampling error.",
    ),
    Reference(
        "Higgins2009",
        "Higgins, J. P. T.; Thompson, S. G.; Spiegelhalter, D. J.",
        2009,
        "A re-evaluation of random-effects meta-analysis",
        "Journal of the Royal Statistical Society, Series A 172(1): 137-159",
        "10.1111/j.1467-985X.2008.00552.x",
        "from memory",
        "Where the true effect of a further academy is expected.",
    ),
    Reference(
        "Colditz1994",
        "Colditz, G. A.; Brewer, T. F.; Berkey, C. S.; Wilson, M. E.; Burdick, E.; Fineberg, H. V.; Mosteller, F.",
        1994,
        "Efficacy of BCG vaccine in the prevention of tuberculosis: meta-analysis of the published literature",
        "JAMA 271(9): 698-702",
        "10.1001/jama.1994.03510330076038",
        "second-hand",
        "Thirteen trials as a worked example of pooling: data from a page that replicates van Houwelingen et al. 2002, printed "
        "estimates from the tests of the R package metafor.",
    ),
    Reference(
        "HundepoolWillenborg2012",
        "Hundepool, A.; Domingo-Ferrer, J.; Franconi, L.; Giessing, S.; Schulte Nordholt, E.; Spicer, K.; de Wolf, P.-P.",
        2012,
        "Statistical Disclosure Control",
        "Wiley",
        "10.1002/9781118348239",
        "from memory",
        "Small cells, complements and differences of tables: what a group must be protected from. The rule itself is our own.",
    ),
)
