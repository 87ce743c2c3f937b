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
  }
  clear() {
    this.box.replaceChildren();
    this.box.hidden = true;
    this.view?.choose([]);
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

  road(i) {
    const { roads, words, looks } = this.data;
    const line = this.data.lines.roads[i];
    this.view?.choose([line]);
    const boarded = looks.group_of_class[roads.class[i]] === BOARDED;
    const built = boarded
      ? `${words.classes[roads.class[i]]}, ${spokenMetres(roads.length_m[i])}`
      : `${words.classes[roads.class[i]]}, ${roads.lanes[i]} ${roads.lanes[i] === 1 ? "lane" : "lanes"}, ` +
        `${(roads.width_dm[i] / 10).toFixed(1)} m wide, ${roads.speed_kmh[i]} km/h, ${spokenMetres(roads.length_m[i])} long`;
    const directions = ["forward", "backward"].filter((way) => roads[way].rating[i] >= 0);
    const [a, b] = [line[0], line[line.length - 1]];
    const towards = { forward: wind(words.rose, bearing(a, b)), backward: wind(words.rose, bearing(b, a)) };
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
        row("95 of 100 drives meet no outage longer than", (d) => (d.p95_ds[i] > 0 ? spokenSeconds(d.p95_ds[i] / 10) : "none at all")),
        row("Expected share of the time without a link", (d) => this.expected(d, i)),
        row("What blocks most", (d) => words.causes[d.cause[i]]),
      ),
    );
    const low = words.low[roads.low[i]];
    const clearance = roads.clearance_cm[i] >= 0 ? `Posted clearance ${(roads.clearance_cm[i] / 100).toFixed(2)} m.` : "";
    const evidence = roads.evidence[i];
    this.show(
      element("h2", {}, this.roadName(i)),
      element("p", { class: "small" }, built),
      evidence === 2 && element("p", { class: "warn" }, "May be worse than shown: nobody has mapped what stands next to the road here."),
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
    const time = d.time_ds[i] / 10;
    const likely = time > 0 ? d.outage_ds[i] / 10 / time : 0;
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
    const best =
      away > 0 && stops.best_percent[i] > stops.open_percent[i]
        ? `On a stand ${away} m to the ${wind(words.rose, stops.best_bearing_deg[i])}: ${stops.best_percent[i]} % of the usable sky is open.`
        : "No better place for the panel within reach of its cable.";
    const place = `${at[1].toFixed(5)},${at[0].toFixed(5)}`;
    this.show(
      element("h2", {}, name || kind),
      element("p", {}, [kind, words.roofs[stops.roof[i]], words.access[stops.access[i]]].filter(Boolean).join(", "), "."),
      element("p", {}, `On the vehicle: ${stops.open_percent[i]} % of the usable sky is open`, stops.open_percent[i] < 99 ? `; most is blocked by ${words.causes[stops.cause[i]]}.` : "."),
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
      element("p", {}, this.data.text(this.data.outages.title[number - 1]), "."),
      element("p", { class: "small" }, `${this.nearTown(middle)}`, element("a", { href: `geo:${place}` }, place)),
    );
  }
  /** `2.1 km north of Name, `, by the nearest place of some size. */
  nearTown(at) {
    const { number, metres } = nearestPlace(this.data.lines.places, at);
    if (number < 0) return "";
    const name = this.data.text(this.data.places.name[number]);
    if (metres < 300) return `At ${name}, `;
    return `${spokenMetres(metres)} ${wind(this.data.words.rose, bearing(this.data.lines.places[number], at))} of ${name}, `;
  }
}
