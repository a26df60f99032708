"""Drawings for the page, as SVG text. Told apart by mark first, colour second (Okabe and Ito's palette)."""
import io

import matplotlib

matplotlib.use("svg")
matplotlib.rcParams.update({"svg.hashsalt": "scaplane", "svg.fonttype": "none", "font.size": 10, "axes.spines.top": False,
                            "axes.spines.right": False, "font.family": "sans-serif"})
import numpy
from matplotlib import pyplot

MARKS = {"picture": ("o", "#0072B2"), "picture and dots": ("s", "#D55E00"), "estimated depth": ("^", "#009E73"),
         "measured space": ("D", "#000000")}
#: Points of one group in a drawing: more hide each other.
MOST_POINTS = 150


def svg(figure):
    """The drawing as text for a page, the same bytes each time."""
    text = io.StringIO()
    figure.savefig(text, format="svg", bbox_inches="tight", metadata={"Date": None, "Creator": None})
    pyplot.close(figure)
    return text.getvalue()[text.getvalue().index("<svg"):]


def rows_of(figures, measures):
    """Measures that are in the figures, and a place for each from the top."""
    known = [measure for measure in measures if measure in set(figures["measure"])]
    return known, {measure: len(known) - k for k, measure in enumerate(known)}


def by_track(axes, figures, places, draw):
    """Calls `draw` for each row with its height, mark and colour; tracks of a measure lie a little apart."""
    for lane, (track, (mark, colour)) in enumerate(MARKS.items()):
        for row in figures[figures["track"] == track].itertuples():
            if row.measure in places and row.n_told:
                draw(row, places[row.measure] + 0.3 - 0.2 * lane, mark, colour)
    axes.set_yticks(list(places.values()), list(places))
    axes.set_ylim(0.4, len(places) + 0.6)
    for track, (mark, colour) in MARKS.items():
        axes.plot([], [], mark, color=colour, label=track, markersize=5, linestyle="none")
    axes.legend(loc="lower center", bbox_to_anchor=(0.4, 1.0), ncols=4, frameon=False, handletextpad=0.1, columnspacing=1)


def coverage(figures, measures):
    """Share of the truths inside the 95 % intervals, with its own interval."""
    known, places = rows_of(figures[figures["n_told"] > 0], measures)
    figure, axes = pyplot.subplots(figsize=(8, 0.6 + 0.36 * len(known)))

    def draw(row, height, mark, colour):
        axes.plot([100 * row.covered_low, 100 * row.covered_high], [height] * 2, color=colour, linewidth=1)
        axes.plot(100 * row.covered, height, mark, color=colour, markersize=4.5)

    by_track(axes, figures, places, draw)
    axes.axvline(95, color="#666", linewidth=0.8, linestyle="--")
    axes.set_xlabel("truths inside the 95 % interval, per cent")
    return svg(figure)


def limits(figures, measures, unit):
    """Bias and 95 % limits of agreement."""
    known, places = rows_of(figures[figures["n_told"] > 1], measures)
    if not known:
        return None
    figure, axes = pyplot.subplots(figsize=(8, 0.9 + 0.36 * len(known)))

    def draw(row, height, mark, colour):
        axes.plot([row.loa_low, row.loa_high], [height] * 2, color=colour, linewidth=1)
        axes.plot(row.bias, height, mark, color=colour, markersize=4.5)

    by_track(axes, figures, places, draw)
    axes.axvline(0, color="#666", linewidth=0.8, linestyle="--")
    axes.set_xlabel(f"value minus truth, {unit}: bias and 95 % limits of agreement")
    return svg(figure)


def agreement(rows, measures, units):
    """Value minus truth against their mean (Bland and Altman), for some measures."""
    shown = [measure for measure in measures if (rows["measure"] == measure).any()]
    if not shown:
        return None
    figure, grid = pyplot.subplots((len(shown) + 1) // 2, 2, figsize=(8, 2.6 * ((len(shown) + 1) // 2)), squeeze=False)
    draw = numpy.random.default_rng(1)
    for axes, measure in zip(grid.flat, shown):
        for track, (mark, colour) in MARKS.items():
            part = rows[(rows["measure"] == measure) & (rows["track"] == track) & rows["value"].notna() & rows["truth"].notna()]
            if len(part) > MOST_POINTS:
                part = part.iloc[numpy.sort(draw.choice(len(part), MOST_POINTS, replace=False))]
            axes.plot((part["value"] + part["truth"]) / 2, part["value"] - part["truth"], mark, color=colour, markersize=2.5,
                      alpha=0.6, markeredgewidth=0)
        axes.axhline(0, color="#666", linewidth=0.8)
        axes.set_title(measure, fontsize=10)
        axes.set_xlabel(f"mean of value and truth, {units[measure]}")
        axes.set_ylabel(f"difference, {units[measure]}")
    for axes in list(grid.flat)[len(shown):]:
        axes.remove()
    figure.tight_layout()
    return svg(figure)
