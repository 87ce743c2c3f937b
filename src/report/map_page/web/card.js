// What is known of the road, place or outage that is chosen.

class Card {
  constructor(data, view) {
    this.data = data;
    this.view = view;
    this.box = document.getElementById("card");
  }
  show(...children) {
    this.box.replaceChildren(
      element("button", { type: "button", class: "close", "aria-label": "Close", onclick: () => this.clear() }, "×"),
      ...children.filter(Boolean),
    );
    this.box.hidden = false;
    this.box.scrollIntoView({ block: "nearest" });
  }
  clear() {
    const inside = this.box.contains(document.activeElement);
    this.box.replaceChildren();
    this.box.hidden = true;
    this.view?.choose([]);
    // Whoever closed it by keys goes on from the search.
    if (inside) document.getElementById("query")?.focus({ preventScroll: true });
  }
  choose(found) {
    if (!found) return this.clear();
    if (found.road !== undefined) this.road(found.road);
    if (found.stop !== undefined) this.stop(found.stop);
    if (found.outage !== undefined) this.outage(found.outage);
  }

  roadName(i) {
    const { roads, words } = this.data;
    const [name, number] = [this.data.text(roads.name[i]), this.data.text(roads.reference[i])];
    if (name && number && name !== number) return `${name} (${number})`;
    return name || number || words.classes[roads.class[i]];
  }

  /** What is not known of a road. */
  unknown(i) {
    const { roads, words } = this.data;
    const { blocker_unknown, terrain_unknown } = words.codes;
    const missing = [
      roads.trees[i] === blocker_unknown && "nobody has mapped trees here",
      roads.buildings[i] === blocker_unknown && "nobody has mapped buildings here",
      terrain_unknown.includes(roads.terrain[i]) && "the height of the ground is not known everywhere here",
    ].filter(Boolean);
    return missing.length ? missing.join(", ") : "a cause could not be known here";
  }

  road(i, note) {
    const { roads, words, looks } = this.data;
    const line = this.data.lines.roads[i];
    this.view?.choose([line]);
    const boarded = looks.group_of_class[roads.class[i]] === BOARDED;
    const built = boarded
      ? `${words.classes[roads.class[i]]}, ${spokenMetres(roads.length_m[i])}`
      : `${words.classes[roads.class[i]]}, ${roads.lanes[i]} ${roads.lanes[i] === 1 ? "lane" : "lanes"}, ` +
        `${spokenWidth(roads.width_dm[i] / 10)} wide, ${spokenSpeed(roads.speed_kmh[i])}, ${spokenMetres(roads.length_m[i])} long`;
    const directions = ["forward", "backward"].filter((way) => roads[way].rating[i] >= 0);
    const [a, b] = [line[0], line[line.length - 1]];
    // One that comes back leads where its first step does.
    const [c, d] = a[0] === b[0] && a[1] === b[1] ? [line[1], line[line.length - 2]] : [b, a];
    const towards = { forward: wind(words.winds, bearing(a, c)), backward: wind(words.winds, bearing(b, d)) };
    const cell = (of) => directions.map((way) => element("td", {}, of(roads[way], way)));
    const row = (head, of) => element("tr", {}, element("th", { scope: "row" }, head), cell(of));
    const rating = (code) => element("span", { class: `sign rating-${code}` }, words.ratings[code]);
    const table = element(
      "table",
      {},
      element("caption", {}, "By direction"),
      element("thead", {}, element("tr", {}, element("td", {}), directions.map((way) => element("th", { scope: "col" }, `towards ${towards[way]}`)))),
      element(
        "tbody",
        {},
        row("Rating", (d) => rating(d.rating[i])),
        row("Best to worst", (d) => this.range(d, i)),
        row("95 of 100 drives meet no outage longer than", (d) => spokenSeconds(d.p95_ds[i] / 10)),
        row("Expected share of the time without a link", (d) => this.expected(d, i)),
        row("What blocks most", (d) => words.causes[d.cause[i]]),
      ),
    );
    const low = words.low[roads.low[i]];
    const clearance = roads.clearance_cm[i] >= 0 ? `Posted clearance ${spokenClearance(roads.clearance_cm[i] / 100)}.` : "";
    const evidence = roads.evidence[i];
    this.show(
      element("h2", {}, this.roadName(i)),
      element("p", { class: "small" }, built),
      note && element("p", { class: "small" }, note),
      evidence === words.codes.evidence_unknown && element("p", { class: "warn" }, `May be worse than shown: ${this.unknown(i)}.`),
      boarded ? element("p", {}, "On board there is no link: the vehicle stands below deck or in a wagon.") : table,
      (low || clearance) && element("p", { class: "warn" }, [low, clearance, "Posted signs beat the map."].filter(Boolean).join(" ")),
      boarded
        ? null
        : element(
            "dl",
            { class: "rests" },
            element("dt", {}, "Rests on"),
            element("dd", {}, words.evidence[evidence]),
            element("dt", {}, "Trees"),
            element("dd", {}, words.blockers[roads.trees[i]]),
            element("dt", {}, "Buildings"),
            element("dd", {}, words.blockers[roads.buildings[i]]),
            element("dt", {}, "Terrain"),
            element("dd", {}, words.terrain[roads.terrain[i]]),
            element("dt", {}, "Way on the map"),
            element("dd", {}, String(roads.way[i])),
          ),
    );
  }
  range(d, i) {
    const { words } = this.data;
    if (d.worst[i] < 0) return `${words.ratings[d.best[i]]} to not known`;
    return d.best[i] === d.worst[i] ? words.ratings[d.best[i]] : `${words.ratings[d.best[i]]} to ${words.ratings[d.worst[i]]}`;
  }
  expected(d, i) {
    const likely = d.share_permille[i] / 1000;
    const worst = d.share_worst_permille[i];
    const best = percent(d.share_best_permille[i] / 1000);
    if (worst < 0) return `${percent(likely)} (${best} to not known)`;
    const range = percent(worst / 1000);
    return best === range ? percent(likely) : `${percent(likely)} (${best} to ${range})`;
  }

  stop(i) {
    const { stops, words } = this.data;
    const at = this.data.lines.stops[i];
    this.view?.choose([]);
    const kind = words.stops[stops.kind[i]];
    const name = this.data.text(stops.name[i]);
    const away = stops.best_m[i];
    const roofless = stops.roof[i] === words.codes.roof_unknown ? " if there is no roof" : "";
    const best =
      away > 0 && stops.best_percent[i] > stops.open_percent[i]
        ? `On a stand ${spokenNear(away)} to the ${wind(words.winds, stops.best_bearing_deg[i])}: ${stops.best_percent[i]} % of the usable sky is open.`
        : "No better place for the panel within reach of its cable.";
    const place = `${at[1].toFixed(5)},${at[0].toFixed(5)}`;
    this.show(
      element("h2", {}, name || kind),
      element("p", {}, [kind, words.roofs[stops.roof[i]], words.access[stops.access[i]]].filter(Boolean).join(", "), "."),
      element("p", {}, `On the vehicle: ${stops.open_percent[i]} % of the usable sky is open${roofless}`, stops.open_percent[i] < 99 ? `; most is blocked by ${words.causes[stops.cause[i]]}.` : "."),
      element("p", {}, best),
      element("p", { class: "small" }, `Near ${this.data.text(stops.road[i])}. `, element("a", { href: `geo:${place}` }, place), ". Signs decide whether you may stop."),
    );
  }

  outage(number) {
    const line = this.data.lines.outages[number - 1];
    this.view?.choose([line]);
    const middle = along(line, lengthOf(line) / 2);
    const place = `${middle[1].toFixed(5)},${middle[0].toFixed(5)}`;
    this.show(
      element("h2", {}, `Outage ${number}`),
      element("p", {}, this.data.text(this.data.outages[number - 1]), "."),
      element("p", { class: "small" }, `${this.nearTown(middle)}`, element("a", { href: `geo:${place}` }, place)),
    );
  }
  /** `2.1 km north of Name, `, by the nearest place of some size. */
  nearTown(at) {
    const { number, metres } = nearestPlace(this.data.lines.places, at);
    if (number < 0) return "";
    const name = this.data.text(this.data.places.name[number]);
    if (metres < 300) return `At ${name}, `;
    return `${spokenMetres(metres)} ${wind(this.data.words.winds, bearing(this.data.lines.places[number], at))} of ${name}, `;
  }
}
