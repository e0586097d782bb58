"""How well test points are found in made flights, and how late sensors are told to be.

Run: ``python tests/benchmarks/find_points.py --flights 300 --seed 0``. Prints, for 1, 4 and 10
samples a second over that many flights with all traps mixed in: precision and recall of each kind,
errors of the times of take-offs, of delays and of static jumps, and how often their own sigmas
cover them. Then the same for the take-offs of the invented campaigns, whose simulator knows nothing
of the one here; they are recorded once a second.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from datetime import datetime
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
for place in (ROOT / "lib", ROOT):
    sys.path.insert(0, str(place))

from stdday.campaign import load_campaign  # noqa: E402
from stdday.find_takeoffs import find_takeoffs  # noqa: E402
from stdday.recording import read_source  # noqa: E402
from stdday.signals import Trace  # noqa: E402
from stdday.survey import survey_tasks  # noqa: E402
from tests.make_flights import Truth  # noqa: E402
from tests.point_scores import Score, score_flights, score_takeoffs  # noqa: E402

RATES_HZ = (1.0, 4.0, 10.0)
#: The invented recorders cut their stamps to whole seconds: by their own clock everything happens
#: half a second early, give or take the rest.
STAMP_S = 0.5


def main(flights: int, seed: int, rates: list[float]) -> None:
    for rate in rates:
        begun = time.perf_counter()
        score = score_flights(range(seed, seed + flights), rate)
        took = time.perf_counter() - begun
        print(f"\n{flights} flights at {rate:g} Hz ({took:.1f} s with making them)")
        print(score.text(), flush=True)
    for folder in sorted((ROOT / "data_demo").glob("*/truth.json")):
        print(f"\n{folder.parent.name}, at 1 Hz")
        print(score_invented(folder.parent).text(), flush=True)


def score_invented(folder: Path) -> Score:
    """Score the take-offs of an invented campaign."""
    document = json.loads((folder / "truth.json").read_text(encoding="utf-8"))
    campaign = load_campaign(folder)
    score = Score()
    for task in survey_tasks(campaign):
        flight = task.flight
        known = document["flights"].get(flight.id)
        if known is None:
            continue
        recording = read_source(task.source)
        trace = Trace(recording.time_s, recording.channels)
        truth = _truth(known["flown"], document["delays"][flight.configuration])
        liftoff = campaign.reference_for(
            campaign.configurations[flight.configuration].airplane
        ).liftoff_airspeed_ms
        found = find_takeoffs(trace, liftoff_airspeed_ms=liftoff)
        _set_clock(truth, [one.start_s for one in found if one.used])
        score_takeoffs(score, flight.id, trace, truth, found)
    return score


def _truth(flown: list[dict[str, Any]], delays: dict[str, float]) -> Truth:
    """Standing take-offs that were flown, in the words of the scores."""
    truth, last = Truth(), {}
    names = {"brake release": "release", "lift-off": "liftoff", "50 ft": "up15"}
    for event in flown:
        name = names.get(event["kind"])
        if event["kind"] in ("aborted", "touchdown"):
            last = {}
        if name is None or (name != "release" and not last):
            continue
        last = {} if name == "release" else last
        last[name] = datetime.fromisoformat(event["utc"]).timestamp() - STAMP_S
        last |= {"roll_m": event["ground_roll_m"]} if name == "liftoff" else {}
        if name == "up15":
            truth.takeoffs.append({**last, "soft": 0.0})
            last = {}
    truth.sensors = {
        "gps_delay_s": delays["gps_delay_s"],
        "airspeed_delay_s": delays["airspeed_behind_ground_speed_s"],
    }
    return truth


def _set_clock(truth: Truth, starts_s: list[float]) -> None:
    """Set the truth by the recorder's clock where that is wrong by minutes or hours."""
    releases = [one["release"] for one in truth.takeoffs]
    if len(releases) != len(starts_s) or not releases:
        return
    wrong = round(sum(starts_s) / len(starts_s) - sum(releases) / len(releases))
    if abs(wrong) > 60:
        for one in truth.takeoffs:
            one.update({name: one[name] + wrong for name in ("release", "liftoff", "up15")})


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--flights", type=int, default=300)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--rates", type=float, nargs="*", default=list(RATES_HZ))
    options = parser.parse_args()
    main(options.flights, options.seed, options.rates)
