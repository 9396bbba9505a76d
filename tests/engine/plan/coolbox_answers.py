"""The engine's answers to the vectors that the phones' twin has to give as well."""

import json
from pathlib import Path

from brinebook.engine.plan.mix_check import Weighed, conducting_batch, refracting_batch, weighed_batch
from brinebook.engine.plan.recipe import buckets_l, dose

FOLDER = Path(__file__).parent
VECTORS = json.loads((FOLDER / "coolbox_vectors.json").read_text("utf-8"))


def _made(made):
    return [made.sodium_mg_per_l, made.sd_mg_per_l]


def answers():
    """Work every vector out."""
    return {
        "buckets": [list(buckets_l(v["volume_l"], bucket_l=v["bucket_l"])) for v in VECTORS["buckets"]],
        "doses": [[d.mass_g, d.n_scoops, d.error_frac] for d in (
            dose(v["g_per_l"], volume_l=v["volume_l"], scoop_g=v["scoop_g"]) for v in VECTORS["doses"])],
        "weighed": [_made(weighed_batch(tuple(Weighed(*one) for one in v["supplies"]), water_l=v["water_l"]))
                    for v in VECTORS["weighed"]],
        "conducting": [_made(conducting_batch(v["conductivity_ms_per_cm"], **{
            key: v[key] for key in ("temperature_c", "label_mg_per_l", "reference_ms_per_cm")
        })) for v in VECTORS["conducting"]],
        "refracting": [_made(refracting_batch(v["sucrose_g_per_100_g"], **{
            key: v[key] for key in ("powder_g_per_l", "powder_mg_per_l", "unseen_mg_per_l")
        })) for v in VECTORS["refracting"]],
    }


if __name__ == "__main__":
    (FOLDER / "coolbox_answers.json").write_text(json.dumps(answers(), indent=1) + "\n", "utf-8")
