"""Figures of agreement from rows of truth and interval: plain functions on pandas tables, no input or output."""
import numpy
import pandas
from scipy import stats


def binomial(inside, of, clusters=None):
    """A share with its 95 % interval (Clopper and Pearson 1934).

    With `clusters` (which clip each case is of) the number of cases is divided by the design effect first (Korn and
    Graubard 1998): the repetitions of one clip share their systematic errors and do not count as independent.
    """
    of = float(of)
    if of == 0:
        return numpy.nan, numpy.nan, numpy.nan
    share = inside / of
    effective = of
    if clusters is not None and 0 < inside < of:
        sizes, hits = clusters
        count = len(sizes)
        if count > 1:
            spread = count / (count - 1) * numpy.sum((hits - share * sizes) ** 2) / of**2
            effective = min(of, share * (1 - share) / spread) if spread > 0 else of
    elif clusters is not None:
        # All or none: at worst each clip is one case.
        effective = float(len(clusters[0]))
    hits = share * effective
    low = stats.beta.ppf(0.025, hits, effective - hits + 1) if hits > 0 else 0.0
    high = stats.beta.ppf(0.975, hits + 1, effective - hits) if hits < effective else 1.0
    return share, low, high


def agreement(rows):
    """Figures of one group of rows with a truth.

    `n` repetitions with a truth; `told` share of them with a value; bias, sd and 95 % limits of agreement of value minus
    truth (Bland and Altman 1986); share of the truths inside the 95 % intervals, with its own interval; mean width.
    """
    rows = rows[rows["truth"].notna()]
    told = rows[rows["value"].notna()]
    error = told["value"] - told["truth"]
    inside = (told["low"] <= told["truth"]) & (told["truth"] <= told["high"])
    by_clip = inside.groupby(told["clip"])
    cover = binomial(inside.sum(), len(told), (by_clip.size().to_numpy(), by_clip.sum().to_numpy()))
    bias, sd = error.mean(), error.std(ddof=1)
    whys = rows.loc[rows["value"].isna(), "why"].value_counts()
    return pandas.Series({
        "n": len(rows), "clips": rows["clip"].nunique(), "told": len(told) / len(rows) if len(rows) else numpy.nan, "n_told": len(told),
        "bias": bias, "sd": sd, "loa_low": bias - 1.96 * sd, "loa_high": bias + 1.96 * sd,
        "covered": cover[0], "covered_low": cover[1], "covered_high": cover[2], "width": (told["high"] - told["low"]).mean(),
        "why": ", ".join(f"{code} {count / len(rows):.0%}" for code, count in whys.head(3).items()),
    })


def table(rows, by):
    """Figures by the named columns, in the order in which the groups come first."""
    groups = rows[rows["truth"].notna()].groupby(by, sort=False, observed=True, dropna=False)
    made = [{**dict(zip(by, key)), **agreement(group)} for key, group in groups]
    return pandas.DataFrame(made)


def bases(rows, by):
    """Figures by basis and the named columns: only what was told has a basis."""
    return table(rows[rows["value"].notna()], ["basis", *by])


def counting(counts, by):
    """Clips in which every repetition was counted, by the named columns."""
    made = []
    for key, group in counts.groupby(by, sort=False):
        exact = int((group["found"] == group["true"]).sum())
        made.append({**dict(zip(by, key)), "clips": len(group), "exact": exact,
                     **dict(zip(("share", "low", "high"), binomial(exact, len(group))))})
    return pandas.DataFrame(made)


def false_alarms(rows, by):
    """Repetitions without a planted fault by their verdict: what is called outside is a false alarm."""
    reps = rows.drop_duplicates(["clip", "rep"])
    made = []
    for key, group in reps.groupby(by, sort=False):
        shares = group["verdict"].value_counts()
        made.append({**dict(zip(by, key)), "reps": len(group), **{word: int(shares.get(word, 0)) for word in
                                                                  ("within", "near", "outside", "cannot-tell")}})
    return pandas.DataFrame(made)
