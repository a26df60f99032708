"""A result as plain rows, for a table over many clips."""


def rows(clip, result):
    """One row a repetition and measure."""
    for rep in result["reps"]:
        head = {
            "clip": clip, "side": result["side"], "rep": rep["number"], "set": rep["set"], "verdict": rep["verdict"],
            "start_frame": rep["start_frame"], "peak_frame": rep["peak_frame"], "end_frame": rep["end_frame"],
        }  # fmt: skip
        for measure, reading in rep["readings"].items():
            yield head | {"measure": measure} | {k: reading.get(k) for k in ("value", "low", "high", "observed", "why")}
