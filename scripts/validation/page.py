"""The validation page and the README's table, from tables of rows. Computes nothing but figures' texts."""
import pathlib
import tomllib

import jinja2
import pandas

import figures
import plots
import simulated

HERE = pathlib.Path(__file__).resolve().parent
#: Drawn one by one: what is judged most.
SHOWN = ("peak-elevation", "plane-of-elevation", "elbow-path", "elbow-bent-most", "girdle-early-rise", "trunk-lean")
#: The README's rows: a measure and where it comes from.
QUOTED = (("peak-elevation", "picture"), ("peak-elevation", "estimated depth"), ("peak-elevation", "measured space"),
          ("plane-of-elevation", "picture"), ("plane-of-elevation", "estimated depth"), ("plane-of-elevation", "measured space"),
          ("elbow-path", "picture"), ("elbow-bent-most", "picture"), ("girdle-early-rise", "picture"), ("trunk-lean", "picture"),
          ("raise-time", "picture"), ("rhythm-share-raise-30-top", "picture"), ("rhythm-share-raise-30-top", "picture and dots"),
          ("rhythm-share-raise-30-top", "measured space"))
PLACES = {"deg": 1, "s": 2, "deg s": 0, "1": 3}


def number(value, unit="deg"):
    """A number with what it is worth, or a dash."""
    return "–" if pandas.isna(value) else f"{value:.{PLACES.get(unit, 1)}f}"


def percent(value, places=0):
    """A share as per cent, or a dash."""
    return "–" if pandas.isna(value) else f"{100 * value:.{places}f} %"


def rows_for(table, units, extra=()):
    """Cells of a table of agreement."""
    made = []
    for row in table.to_dict("records"):
        unit = units.get(row["measure"], "1") if "measure" in row else row.get("unit", "1")
        made.append({
            **{key: row[key] for key in ("measure", "track", "view", "basis", "noise", *extra) if key in row}, "unit": unit,
            "n": row["n"], "clips": row["clips"], "told": percent(row["told"]), "why": row["why"] or "",
            "bias": number(row["bias"], unit), "sd": number(row["sd"], unit),
            "limits": f"{number(row['loa_low'], unit)} to {number(row['loa_high'], unit)}" if row["n_told"] > 1 else "–",
            "covered": percent(row["covered"]), "width": number(row["width"], unit),
            "cover_limits": f"{100 * row['covered_low']:.0f} to {100 * row['covered_high']:.0f}" if row["n_told"] else "–",
            "poor": bool(row["n_told"]) and row["covered_high"] < 0.95,
        })
    return made


def simulation(readings, counts, measures, units):
    """What the section on simulated clips shows."""
    usual = readings[readings["noise"] == "usual"]
    order = [measure["measure"] for measure in measures]
    of_track = figures.table(usual, ["measure", "track"])
    rank = {measure: place for place, measure in enumerate(order)}
    of_track = of_track.sort_values("measure", key=lambda names: names.map(rank), kind="stable")
    judged = [measure for measure in order if not measure.startswith("rhythm-ratio")]
    in_degrees = [measure for measure in judged if units[measure] == "deg"]
    in_seconds = [measure for measure in judged if units[measure] == "s"]
    shares = [measure for measure in judged if measure.startswith("rhythm-share")]
    true = set(readings.loc[readings["truth"].notna(), "measure"])
    return {
        "clips": len(counts), "readings": int(readings["truth"].notna().sum()),
        "all": figures.agreement(usual).to_dict() if len(usual) else None,
        "false_alarms": figures.false_alarms(usual, ["noise"]).iloc[0].to_dict() if len(usual) else None,
        "counting": figures.counting(counts, ["track", "noise"]).to_dict("records"),
        "miscounted": counts[(counts["found"] != counts["true"]) & (counts["noise"] == "usual")]
        .groupby(["exercise", "view", "track"], sort=False).size().reset_index(name="clips").to_dict("records"),
        "verdicts": figures.false_alarms(readings, ["track", "noise"]).to_dict("records"),
        "by_track": rows_for(of_track, units),
        "by_view": rows_for(figures.table(usual, ["measure", "track", "view"]), units),
        "by_basis": rows_for(figures.bases(usual, ["measure", "track"]), units),
        "by_noise": rows_for(figures.table(readings, ["measure", "track", "noise"]), units),
        "coverage": plots.coverage(of_track, judged),
        "limits": [drawn for drawn in (plots.limits(of_track, in_degrees, "degrees"), plots.limits(of_track, in_seconds, "seconds"),
                                       plots.limits(of_track, shares, "share")) if drawn],
        "agreement": plots.agreement(usual, SHOWN, units),
        "untrue": [measure for measure in measures if measure["measure"] not in true],
    }


def curves(rows):
    """The published ratios and what came back."""
    table = pandas.DataFrame(rows)
    made = []
    for (source, plane, way, window), group in table.groupby(["source", "plane", "way", "window"], sort=False):
        clean, usual = group[group["noise"] == "none"], group[group["noise"] == "usual"]
        agreed = figures.agreement(usual)
        made.append({"source": source, "plane": plane, "way": way, "window": window, "published": f"{group['truth'].iloc[0]:.2f}",
                     "clean": number(clean["value"].mean(), "s"), "usual": number(usual["value"].mean(), "s"),
                     "sd": number(agreed["sd"], "s"), "covered": percent(agreed["covered"]), "width": number(agreed["width"], "s"),
                     "told": percent(agreed["told"])})
    return made


def beside(rows, units):
    """Readings of people beside the other figure."""
    return [{"recording": row["recording"], "measure": row["measure"], "other": number(row["other"], units[row["measure"]]),
             **{key: number(row[key], units[row["measure"]]) for key in ("value", "low", "high")},
             "inside": row["low"] is not None and row["low"] <= row["other"] <= row["high"]} for row in rows]


def html(readings, counts, found, measures):
    """The whole page, without any request to elsewhere."""
    units = {measure["measure"]: measure["unit"] for measure in measures}
    of_simulation, of_estimator = (readings[readings["source"] == source] for source in ("simulation", "estimator"))
    filmed = counts[counts["source"] == "estimator"] if len(counts) else counts
    environment = jinja2.Environment(loader=jinja2.FileSystemLoader(HERE), autoescape=True, trim_blocks=True, lstrip_blocks=True,
                                     undefined=jinja2.StrictUndefined)
    return environment.get_template("page.html").render(
        made=found["made"], tracks=simulated.TRACKS, percent=percent,
        simulation=simulation(of_simulation, counts[counts["source"] == "simulation"], measures, units) if len(of_simulation) else None,
        curves=curves(found["published"]) if found.get("published") else None,
        people=found["open_data"] and {**found["open_data"], "rows": beside(found["open_data"]["rows"], units)}
        if "open_data" in found else None,
        estimator={"all": figures.agreement(of_estimator).to_dict(), "counting": figures.counting(filmed, ["track"]).to_dict("records"),
                   "by_track": rows_for(figures.table(of_estimator, ["measure", "track"]), units),
                   "by_view": rows_for(figures.table(of_estimator, ["measure", "track", "exercise", "view"]), units, ["exercise"])}
        if len(of_estimator) else None,
        gaps=tomllib.loads((HERE / "unvalidated.toml").read_text())["gap"],
    )


def markdown(agreed):
    """The README's table: simulation with the usual noise."""
    lines = ["| measure | from | told | bias (95 % limits of agreement) | covered (95 % interval) | width |", "|---|---|---|---|---|---|"]
    usual = agreed[(agreed["source"] == "simulation") & (agreed["noise"] == "usual")] if len(agreed) else agreed
    for measure, track in QUOTED:
        for row in usual[(usual["measure"] == measure) & (usual["track"] == track)].itertuples() if len(usual) else ():
            unit = "deg" if "-time" not in measure and "share" not in measure else "s"
            if not row.n_told:
                lines.append(f"| {measure} | {track} | 0 of {row.n} | – | – | – |")
                continue
            lines.append(f"| {measure} | {track} | {percent(row.told)} of {row.n} | {number(row.bias, unit)} ({number(row.loa_low, unit)} to "
                         f"{number(row.loa_high, unit)}) | {percent(row.covered)} ({100 * row.covered_low:.0f} to "
                         f"{100 * row.covered_high:.0f}) | {number(row.width, unit)} |")
    return "\n".join(lines) + "\n"
