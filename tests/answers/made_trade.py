"""A bench that buys lots, of known truth: lots differ by luck, units turn out by it, take their time and are sold."""

from __future__ import annotations

import duckdb
import numpy as np
import pandas as pd

from pipelines.facts.build import build
from pipelines.settings import Settings
from tests.facts.warehouse_in_memory import filled

START, SPAN_DAYS = pd.Timestamp("2023-01-01"), 900
FAMILIES, SELLERS, CONDITIONS = ("Nolm", "Velm", "Orla"), ("Alder", "Birch", "Cedar"), ("untested", "tested", "working")
PRICE, MINUTES, FITTED = (20.0, 32.0, 45.0), (10.0, 25.0, 45.0, 20.0), 4.0
ACTION = ("test_only", "clean_open", "replace_module", "scrap")
OUTCOME = ("pass", "pass", "pass", "scrapped")
FINDING = ("no_fault_found", *["fault_confirmed"] * 3)
#: What the log does not say of the costs.
COSTS = {"other_fault_share": 0.0, "return_share": 0.0, "warranty_days": 0, "labour_per_hour": 20.0, "selling_fee_share": 0.1,
         "freight_out": 3.0, "harvest_value": 2.0, "return_cost": 0.0}  # fmt: skip


def made_trade(
    seed: int, *, lots: int = 36, seller_logit: float = 0.0, fall: float = 0.0, returned: float = 0.0
) -> dict[str, pd.DataFrame]:
    """Return the tables job, sale and lot; seller_logit: what is added to the logits of Cedar's units; fall: by so much
    less, as a share, units sell for if their lot is bought half the span later; returned: share of the sold units that come
    back within a warranty of 60 days, in a usual lot of a usual family."""
    rng = np.random.default_rng(seed)
    by_family, by_condition = rng.normal(0, 0.5, 3), rng.normal(0.2, 0.5, 3)
    by_seller = np.array([*rng.normal(0, 0.2, 2), seller_logit])
    tables: dict[str, list[dict]] = {"job": [], "sale": [], "lot": []}
    for number, day in enumerate(np.sort(rng.integers(0, SPAN_DAYS - 130, lots))):
        seller, condition, luck = rng.integers(3), rng.integers(3), rng.normal(0, 0.4, 3)
        lot = f"LOT-{number:03d}"
        for family in rng.choice(3, rng.integers(1, 3), replace=False):
            bought = int(rng.integers(12, 40))
            logit = by_family[family] + by_condition[condition] + by_seller[seller] + luck + (0.0, 0.6, 1.2)
            works, cleaned, fitted = 1 / (1 + np.exp(-logit))
            split = np.array([works, (1 - works) * cleaned, (1 - works) * (1 - cleaned) * fitted, 0])
            split[3] = 1 - split.sum()
            price = bought * PRICE[family] * 0.4 * rng.lognormal(0, 0.1)
            tables["lot"].append({
                "lot_id": lot, "family": FAMILIES[family], "bought_on": _on(day), "seller": SELLERS[seller],
                "stated_condition": CONDITIONS[condition], "units_bought": bought, "units_received": bought,
                "lot_price": round(price, 2), "buyer_premium": round(0.1 * price, 2), "freight": 12.0, "tax": 0.0,
            })  # fmt: skip
            for place in range(bought):
                unit, fate, seen = f"{lot}-{family}-{place}", rng.choice(4, p=split), day + 4 + rng.integers(0, 15)
                tables["job"].append({
                    "unit_id": unit, "stick": "S", "family": FAMILIES[family], "lot_id": lot, "received_on": _on(seen),
                    "closed_on": _on(seen), "visit_reason": "lot_intake", "finding": FINDING[fate], "action": ACTION[fate],
                    "outcome": OUTCOME[fate], "bench_minutes": round(MINUTES[fate] * rng.lognormal(-0.045, 0.3), 1),
                    "parts_cost": FITTED if fate == 2 else 0.0, "consumables_cost": 0.0 if fate == 0 else 0.3,
                    "job_key": f"J{len(tables['job'])}", "file_id": 1, "line": len(tables["job"]),
                })  # fmt: skip
                if fate < 3:
                    worth = PRICE[family] * rng.lognormal(-0.02, 0.2) * (1 - fall * (day > SPAN_DAYS / 2))
                    tables["sale"].append({
                        "unit_id": unit, "sold_on": _on(seen + 3 + rng.integers(0, 50)), "price": round(worth, 2), "grade": "A",
                        "warranty_days": 0,
                    })  # fmt: skip
    made = {name: pd.DataFrame(rows) for name, rows in tables.items()}
    return made if not returned else {**made, "sale": _with_returns(made["sale"], seed, returned)}


def _with_returns(sales: pd.DataFrame, seed: int, share: float) -> pd.DataFrame:
    """Return the sales with a warranty and what came back under it; lots and families differ in it."""
    rng = np.random.default_rng([seed, 1])
    lot, family = (pd.factorize(sales["unit_id"].str.rsplit("-", n=2).str[part])[0] for part in (0, 1))
    logit = np.log(share / (1 - share)) + rng.normal(0, 0.8, lot.max() + 1)[lot] + rng.normal(0, 0.5, family.max() + 1)[family]
    is_back = rng.random(len(sales)) < 1 / (1 + np.exp(-logit))
    back_on = pd.to_datetime(sales["sold_on"]) + pd.to_timedelta(np.ceil(60 * rng.beta(1, 2, len(sales))), unit="D")
    return sales.assign(
        warranty_days=60, returned_on=back_on.dt.strftime("%Y-%m-%d").where(is_back, None),
        return_reason=np.where(is_back, "drift", None),
    )  # fmt: skip


def standing(tables: dict[str, pd.DataFrame], *, settings: Settings | None = None) -> duckdb.DuckDBPyConnection:
    """Return a connection on which the histories of these tables stand."""
    connection = filled(tables)
    connection.execute("CREATE TABLE ledger (file_id INTEGER, file VARCHAR, sheet VARCHAR)")
    connection.execute(
        "CREATE TABLE loaded_column (file_id INTEGER, header VARCHAR, table_name VARCHAR, currency VARCHAR, "
        "currency_line VARCHAR)"
    )
    build(connection, settings or Settings(**COSTS))
    return connection


def before(tables: dict[str, pd.DataFrame], day: str) -> dict[str, pd.DataFrame]:
    """Return the tables without what happened from a day on."""
    dated = {"job": "received_on", "sale": "sold_on", "lot": "bought_on"}
    return {name: frame[frame[dated[name]] < day] for name, frame in tables.items()}


def _on(day: int) -> str:
    return (START + pd.Timedelta(days=int(day))).date().isoformat()
