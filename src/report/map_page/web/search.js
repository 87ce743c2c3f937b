// Looks for places, roads and places to stop by name, and goes to coordinates.

const MOST_HITS = 8;

class Search {
  constructor(data, card, view) {
    Object.assign(this, { data, card, view, hits: [], at: -1 });
    this.index = this.build();
    this.field = element("input", {
      type: "search",
      id: "query",
      role: "combobox",
      autocomplete: "off",
      spellcheck: "false",
      placeholder: "Town, road, camp site, or 42.5,1.5",
      "aria-expanded": "false",
      "aria-controls": "hits",
      "aria-autocomplete": "list",
      oninput: () => this.look(),
      onkeydown: (e) => this.key(e),
    });
    this.list = element("ul", { id: "hits", role: "listbox", "aria-label": "Found", hidden: true });
    this.said = element("p", { class: "small", role: "status" });
    const box = document.getElementById("search");
    box.replaceChildren(element("label", { for: "query" }, "Find"), this.field, this.list, this.said);
    box.hidden = false;
  }
  /** Everything with a name, once: roads of one name near the same place are one. */
  build() {
    const { data } = this;
    const entries = [];
    data.lines.places.forEach((at, i) => {
      const names = [data.text(data.places.name[i]), data.text(data.places.other_name[i])].filter(Boolean);
      entries.push({ name: names.join(" / "), what: data.places.kind[i].replace(/_/g, " "), keys: names.map(plain), weight: data.places.rank[i], at });
    });
    data.lines.stops.forEach((at, i) => {
      const name = data.text(data.stops.name[i]);
      if (name) entries.push({ name, what: data.words.stops[data.stops.kind[i]], keys: [plain(name)], weight: 20, stop: i, at });
    });
    const roads = new Map();
    data.roads.name.forEach((name, i) => {
      for (const text of new Set([name, data.roads.reference[i]])) {
        if (text >= 0) (roads.get(text) ?? roads.set(text, []).get(text)).push(i);
      }
    });
    for (const [text, all] of roads) {
      for (const near of this.apart(all)) {
        const name = data.text(text);
        const group = Math.min(...near.map((i) => data.looks.group_of_class[data.roads.class[i]]));
        entries.push({ name, what: "road", keys: [plain(name)], weight: 10 + group, roads: near });
      }
    }
    return entries;
  }
  /** Roads of one name in clusters: a High Street of each town. */
  apart(all) {
    const cell = 0.15;
    const clusters = new Map();
    for (const i of all) {
      const [lon, lat] = this.data.lines.roads[i][0];
      const key = `${Math.floor(lon / cell)}:${Math.floor(lat / cell)}`;
      (clusters.get(key) ?? clusters.set(key, []).get(key)).push(i);
    }
    return joined(clusters);
  }
  look() {
    const typed = this.field.value.trim();
    this.hits = typed ? this.found(typed) : [];
    this.at = -1;
    this.list.replaceChildren(
      ...this.hits.map((hit, i) =>
        element(
          "li",
          { id: `hit-${i}`, role: "option", "aria-selected": "false", onpointerdown: (e) => { e.preventDefault(); this.take(i); } },
          element("b", {}, hit.name),
          ` ${hit.what}${this.where(hit)}`,
        ),
      ),
    );
    this.list.hidden = this.hits.length === 0;
    this.field.setAttribute("aria-expanded", String(this.hits.length > 0));
    this.field.removeAttribute("aria-activedescendant");
    this.said.textContent = typed && !this.hits.length ? `Nothing on this page is called “${typed}”.` : "";
  }
  where(hit) {
    if (!hit.roads && hit.stop === undefined) return "";
    const at = hit.at ?? this.data.lines.roads[hit.roads[0]][0];
    const { number } = nearestPlace(this.data.lines.places, at);
    return number < 0 ? "" : `, near ${this.data.text(this.data.places.name[number])}`;
  }
  found(typed) {
    const place = coordinates(typed);
    if (place) return [{ name: `${place[1]}, ${place[0]}`, what: "coordinates", at: place }];
    const key = plain(typed);
    const scored = [];
    for (const entry of this.index) {
      let best = Infinity;
      for (const name of entry.keys) {
        const at = name.indexOf(key);
        if (at < 0) continue;
        best = Math.min(best, name === key ? 0 : at === 0 ? 1 : /[\s\-'’(]/.test(name[at - 1]) ? 2 : 3);
      }
      if (best < Infinity) scored.push([best, entry.weight, entry.name.length, entry]);
    }
    scored.sort((a, b) => a[0] - b[0] || a[1] - b[1] || a[2] - b[2]);
    return scored.slice(0, MOST_HITS).map((s) => s[3]);
  }
  key(e) {
    if (e.key === "ArrowDown" || e.key === "ArrowUp") {
      e.preventDefault();
      if (this.hits.length) this.mark((this.at + (e.key === "ArrowDown" ? 1 : this.hits.length - (this.at < 0 ? 0 : 1))) % this.hits.length);
    } else if (e.key === "Enter") {
      e.preventDefault();
      if (this.hits.length) this.take(Math.max(0, this.at));
    } else if (e.key === "Escape") {
      this.field.value = "";
      this.look();
    }
  }
  /** The piece of a road with the worst rating, then with the longest outage. */
  worst(pieces) {
    const { roads } = this.data;
    const longest = (i) => Math.max(roads.forward.p95_ds[i], roads.backward.p95_ds[i]);
    return pieces.reduce((a, b) => (roads.rating[b] - roads.rating[a] || longest(b) - longest(a)) > 0 ? b : a);
  }
  mark(i) {
    this.at = i;
    [...this.list.children].forEach((item, k) => item.setAttribute("aria-selected", String(k === i)));
    this.field.setAttribute("aria-activedescendant", `hit-${i}`);
    this.list.children[i].scrollIntoView({ block: "nearest" });
  }
  take(i) {
    const hit = this.hits[i];
    this.list.hidden = true;
    this.field.setAttribute("aria-expanded", "false");
    this.field.value = hit.name;
    const [west, south, east, north] = this.data.around_deg;
    const off = hit.at && hit.stop === undefined && (hit.at[0] < west || hit.at[0] > east || hit.at[1] < south || hit.at[1] > north);
    this.said.textContent = off
      ? `${hit.name}: beyond the roads of this page; nothing is known there.`
      : `${hit.name}${this.view ? ": shown on the map." : ""}`;
    if (hit.roads) {
      const lines = hit.roads.map((k) => this.data.lines.roads[k]);
      this.view?.go(boxOf(lines));
      const worst = this.worst(hit.roads);
      const many = hit.roads.length;
      this.card.road(worst, many > 1 ? `The worst of ${many} pieces of this road; tap another to see its figures.` : "");
      this.view?.choose(lines);
      return;
    }
    this.view?.go([...hit.at, ...hit.at], hit.stop === undefined ? 13 : 16);
    if (hit.stop !== undefined) this.card.stop(hit.stop);
    else this.card.clear();
  }
}

/** Cells that touch are one cluster. */
function joined(clusters) {
  const left = new Map(clusters);
  const out = [];
  while (left.size) {
    const [start] = left.keys();
    const open = [start];
    const own = [];
    while (open.length) {
      const key = open.pop();
      if (!left.has(key)) continue;
      own.push(...left.get(key));
      left.delete(key);
      const [x, y] = key.split(":").map(Number);
      for (const dx of [-1, 0, 1]) for (const dy of [-1, 0, 1]) open.push(`${x + dx}:${y + dy}`);
    }
    out.push(own);
  }
  return out;
}

/** `42.5,1.5` or `42.5 1.5`, latitude first. */
function coordinates(text) {
  const found = /^(-?\d+(?:\.\d+)?)\s*[,;\s]\s*(-?\d+(?:\.\d+)?)$/.exec(text);
  if (!found) return null;
  const [lat, lon] = [Number(found[1]), Number(found[2])];
  return Math.abs(lat) <= 90 && Math.abs(lon) <= 180 ? [lon, lat] : null;
}
