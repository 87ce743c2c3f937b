"""Costs of the best ways between nodes, by networkx, from the table that `waymask edges` writes.

Called with the table (CSV) and a file of questions (JSON): rules, weights, pairs of nodes. Prints, for each of the
weights and each of the pairs, the smallest sum of whole milliseconds times weight, or null where there is no way.
Driving uses local edges, then others, then local ones: nodes are (junction, part of the drive).
"""

import csv
import json
import sys

import networkx as nx


def read(path):
    with open(path, newline="") as file:
        for row in csv.DictReader(file):
            yield {
                "from": int(row["from_node"]),
                "to": int(row["to_node"]),
                "time": round(float(row["time_s"]) * 1000),
                "outage": round(float(row["outage_s"]) * 1000),
                "open": row["access"] == "open",
                "private": row["access"] == "private",
                "unpaved": row["unpaved"] == "true",
                "boarded": row["highway"] in ("ferry", "shuttle_train"),
                "clearance": float(row["maxheight_m"] or "inf"),
            }


def used(edge, rules):
    return not (
        (edge["unpaved"] and not rules["unpaved"])
        or (edge["boarded"] and not rules["boarded"])
        or (edge["private"] and not rules["private"])
        or edge["clearance"] < rules["height_m"]
    )


def main_part(edges, order):
    """Junctions of the largest strongly connected part of open edges, of each network."""
    everything, through = nx.DiGraph(), nx.DiGraph()
    for e in edges:
        everything.add_edge(e["from"], e["to"])
        through.add_nodes_from((e["from"], e["to"]))
        if e["open"]:
            through.add_edge(e["from"], e["to"])
    network = {n: i for i, part in enumerate(nx.weakly_connected_components(everything)) for n in part}
    best = {}
    for part in nx.strongly_connected_components(through):
        first = min(part, key=order.get)
        key = (-len(part), order[first])
        if key < best.get(network[first], (0, 0, None))[:2] or network[first] not in best:
            best[network[first]] = (*key, part)
    return set().union(*(part for _, _, part in best.values()))


def graph(edges, main, weights):
    out = nx.DiGraph()

    def add(a, b, cost):
        if not out.has_edge(a, b) or cost < out[a][b]["cost"]:
            out.add_edge(a, b, cost=cost)

    for e in edges:
        cost = weights[0] * e["time"] + weights[1] * e["outage"]
        a, b = e["from"], e["to"]
        if e["open"] and a in main and b in main:
            add((a, 1), (b, 1), cost)
        else:
            add((a, 0), (b, 0), cost)
            add((a, 2), (b, 2), cost)
        for n in (a, b):
            add((n, 0), (n, 1), 0)
            add((n, 1), (n, 2), 0)
    return out


def answer(out, start, end):
    if (start, 0) not in out or (end, 2) not in out:
        return None
    try:
        return nx.dijkstra_path_length(out, (start, 0), (end, 2), weight="cost")
    except nx.NetworkXNoPath:
        return None


def main():
    rows = list(read(sys.argv[1]))
    with open(sys.argv[2]) as file:
        asked = json.load(file)
    order = {}
    for e in rows:
        order.setdefault(e["from"], len(order))
        order.setdefault(e["to"], len(order))
    edges = [e for e in rows if used(e, asked["rules"])]
    part = main_part(edges, order)
    answers = []
    for weights in asked["weights"]:
        out = graph(edges, part, weights)
        answers.append([answer(out, a, b) for a, b in asked["pairs"]])
    json.dump(answers, sys.stdout)


main()
