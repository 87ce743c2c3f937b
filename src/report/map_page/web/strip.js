// The drive as a strip below the map; both move together.

const SVG = "http://www.w3.org/2000/svg";

function drawn(name, attributes, text) {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  if (text !== undefined) made.textContent = text;
  return made;
}

class Strip {
  constructor(data, view, card) {
    Object.assign(this, { data, view, card });
    const { trip } = data;
    this.begins = [];
    this.seconds = [];
    let [metres, seconds] = [0, 0];
    trip.length_dm.forEach((dm, i) => {
      this.begins.push(metres);
      this.seconds.push(seconds);
      metres += dm / 10;
      seconds += trip.time_ds[i] / 10;
    });
    this.total = metres;
    this.at = 0;
    this.box = document.getElementById("strip");
    this.range = element("input", { type: "range", min: "0", max: String(Math.round(metres)), step: "1", value: "0", "aria-label": "Place on the drive", oninput: () => this.move(Number(this.range.value), true), onkeydown: (e) => this.key(e) });
    // What it shows is said by the line above it and by the list.
    this.picture = drawn("svg", { "aria-hidden": "true" });
    this.said = element("p", { class: "said", role: "status" });
    this.box.replaceChildren(this.said, element("div", { class: "band" }, this.picture, this.range));
    this.box.hidden = false;
    new ResizeObserver(() => this.draw()).observe(this.box);
    view?.map.on("moveend", (e) => e.originalEvent && this.follow());
    view?.map.on("move", () => this.window());
    this.draw();
    this.move(0, false);
    // Sources are there when the map has begun.
    view?.map.once("load", () => this.move(this.at, false));
    // The map has less room now.
    view?.map.resize();
    view?.map.fitBounds(view.around, { padding: 30, duration: 0 });
  }
  /** Arrows go a hundred metres, Page Up and Page Down five kilometres; numbers go to outages. */
  key(e) {
    const steps = { ArrowRight: 100, ArrowUp: 100, ArrowLeft: -100, ArrowDown: -100, PageUp: 5000, PageDown: -5000 };
    if (steps[e.key]) {
      e.preventDefault();
      this.move(this.at + steps[e.key], true);
    }
    const number = Number(e.key);
    if (number >= 1 && number <= this.data.trip.outages.length) {
      e.preventDefault();
      this.toOutage(number, true);
    }
  }
  /** With `onMap` the map follows; without it goes there by itself. */
  toOutage(number, onMap) {
    const [from] = this.data.trip.outages[number - 1];
    this.move(this.begins[from], onMap);
    this.card.outage(number);
  }
  piece(metres) {
    let [low, high] = [0, this.begins.length - 1];
    while (low < high) {
      const middle = (low + high + 1) >> 1;
      if (this.begins[middle] <= metres) low = middle;
      else high = middle - 1;
    }
    return low;
  }
  place(metres) {
    const i = this.piece(metres);
    return along(this.data.lines.pieces[i], metres - this.begins[i]);
  }
  /** Looks at a place of the drive. */
  move(metres, onMap) {
    this.at = Math.min(Math.max(0, metres), this.total);
    this.range.value = String(Math.round(this.at));
    const { trip, words } = this.data;
    const i = this.piece(this.at);
    const share = trip.length_dm[i] > 0 ? (this.at - this.begins[i]) / (trip.length_dm[i] / 10) : 0;
    const minutes = Math.round((this.seconds[i] + (share * trip.time_ds[i]) / 10) / 60);
    const outage = trip.p95_ds[i] > 0 ? `, ${words.causes[trip.cause[i]]}, outages to ${spokenSeconds(trip.p95_ds[i] / 10)}` : "";
    const unknown = trip.evidence[i] === words.codes.evidence_unknown ? ", may be worse" : "";
    const told = `${spokenPlace(this.at)}, ${spokenMinutes(minutes)} from the start: ${this.data.text(trip.road[i])}, ${this.rating(i)}${outage}${unknown}`;
    this.said.textContent = told;
    this.range.setAttribute("aria-valuetext", told);
    this.hand?.setAttribute("transform", `translate(${this.x(this.at).toFixed(1)} 0)`);
    const place = this.place(this.at);
    this.view?.cursor(place);
    if (onMap) this.view?.follow(place);
  }
  /** The map was moved: the place of the drive nearest to its middle, if the drive is in sight. */
  follow() {
    const middle = this.view.map.getCenter().toArray();
    const best = this.nearest(middle, Infinity);
    if (best && this.view.map.getBounds().contains(this.place(best.metres))) this.move(best.metres, false);
  }
  /** The corner of the drive nearest to a place, within some metres: how far away, and metres of the drive before it. */
  nearest(at, within) {
    let best = null;
    this.boxes ??= this.data.lines.pieces.map((line) => boxOf([line]));
    const reach = within / 100000;
    this.data.lines.pieces.forEach((line, i) => {
      // A degree of longitude has 100 km only up to 26 degrees from the equator; at 70 it has a third of that.
      const [west, south, east, north] = this.boxes[i];
      if (at[1] < south - reach || at[1] > north + reach || at[0] < west - 4 * reach || at[0] > east + 4 * reach) return;
      let metres = this.begins[i];
      line.forEach((place, k) => {
        if (k) metres += metresBetween(line[k - 1], place);
        const away = metresBetween(place, at);
        if (away <= within && (!best || away < best.away)) best = { away, metres };
      });
    });
    return best;
  }
  /** The place of the drive nearest to one that was clicked, if within some pixels. */
  clicked(point, reach) {
    const { map } = this.view;
    let best = null;
    this.data.lines.pieces.forEach((line, i) => {
      const away = this.view.pixelsTo(line, point);
      if (away <= reach && (!best || away < best.away)) best = { away, i };
    });
    if (!best) return;
    const line = this.data.lines.pieces[best.i];
    const at = map.unproject(point).toArray();
    const { number } = nearestPlace(line, at);
    this.move(this.begins[best.i] + lengthOf(line.slice(0, number + 1)), false);
  }
  /** Rating of a piece as chosen: likely, at best or at worst. */
  code(i) {
    return this.data.trip[this.mode ?? "likely"][i];
  }
  rating(i) {
    const { words } = this.data;
    const word = this.code(i) < 0 ? "worst not known" : words.ratings[this.code(i)];
    return this.mode && this.mode !== "likely" ? `${word} at ${this.mode}` : word;
  }
  x(metres) {
    return 8 + (metres / this.total) * (this.wide - 16);
  }
  draw() {
    this.wide = Math.max(200, this.box.clientWidth - 2);
    const { trip, looks } = this.data;
    const high = 84;
    const colours = isNight() ? looks.night : looks.day;
    const svg = this.picture;
    svg.replaceChildren();
    svg.setAttribute("viewBox", `0 0 ${this.wide} ${high}`);
    svg.setAttribute("height", high);
    this.shade = drawn("rect", { class: "window", y: 0, height: 66, x: 0, width: 0 });
    svg.append(this.shade);
    // The road: colour and height by rating, white dashes where it is bad.
    let i = 0;
    const pieces = trip.likely.length;
    while (i < pieces) {
      let end = i + 1;
      while (end < pieces && this.code(end) === this.code(i)) end++;
      const [from, to] = [this.x(this.begins[i]), this.x(end < pieces ? this.begins[end] : this.total)];
      const rating = this.code(i);
      const height = 4 + 3 * Math.max(0, rating);
      svg.append(drawn("rect", { x: from.toFixed(1), y: 56 - height / 2, width: Math.max(0.6, to - from).toFixed(1), height, fill: colours[rating] ?? GREY }));
      if (rating >= 3) svg.append(drawn("path", { class: "dash", d: `M${from.toFixed(1)} 56H${to.toFixed(1)}`, "stroke-dasharray": rating === 3 ? "9 5" : "2 4" }));
      i = end;
    }
    trip.outages.forEach(([from, end], k) => {
      const longest = trip.outage_p95_ds[k] / 10;
      const tall = 30 * Math.min(1, Math.max(0.1, Math.log(Math.max(1, longest / 0.4)) / Math.log(250)));
      const [a, b] = [this.x(this.begins[from]), this.x(end < this.begins.length ? this.begins[end] : this.total)];
      const worst = Math.max(...trip.likely.slice(from, end));
      svg.append(drawn("rect", { x: a.toFixed(1), y: (46 - tall).toFixed(1), width: Math.max(2, b - a).toFixed(1), height: tall.toFixed(1), fill: colours[worst] }));
    });
    this.numbers(svg);
    this.unknownSpans(svg);
    this.gapPlaces().forEach((metres) => svg.append(drawn("text", { class: "gap", x: this.x(metres), y: 61 }, "?")));
    const step = [1, 2, 5, 10, 20, 50, 100, 200, 500].find((n) => (ofRoad(this.total) / n) * 46 < this.wide) ?? 1000;
    for (let n = 0; n * roadUnitM() <= this.total; n += step) {
      const x = this.x(n * roadUnitM());
      svg.append(drawn("path", { class: "tick", d: `M${x.toFixed(1)} 66v4` }), drawn("text", { class: n ? "km" : "km first", x: n ? x.toFixed(1) : 2, y: 81 }, n ? String(n) : `${roadPost()} 0`));
    }
    this.hand = drawn("path", { class: "hand", d: "M0 0V70" });
    svg.append(this.hand);
    this.hand.setAttribute("transform", `translate(${this.x(this.at).toFixed(1)} 0)`);
    this.window();
  }
  /** Where, in metres of the drive, stretches of track without a road begin: at the end of the piece before. */
  gapPlaces() {
    const { lines, trip } = this.data;
    const ends = lines.pieces.map((line) => line[line.length - 1]);
    return lines.gaps.map((gap) => {
      const { number } = nearestPlace(ends, gap[0]);
      return this.begins[number] + trip.length_dm[number] / 10;
    });
  }
  /** Dots where it may be worse. */
  unknownSpans(svg) {
    const { trip, words } = this.data;
    let path = "";
    trip.evidence.forEach((evidence, i) => {
      if (evidence === words.codes.evidence_unknown) path += `M${this.x(this.begins[i]).toFixed(1)} 64.5H${this.x(this.begins[i] + trip.length_dm[i] / 10).toFixed(1)}`;
    });
    svg.append(drawn("path", { class: "dots", d: path || "M0 0" }));
  }
  /** Numbers of outages above their bars, those that have room. */
  numbers(svg) {
    const taken = [];
    const order = this.data.trip.outages.map(([from], k) => [this.data.trip.outage_p95_ds[k], from, k]);
    order.sort((a, b) => b[0] - a[0]);
    for (const [, from, k] of order) {
      const x = Math.min(Math.max(this.x(this.begins[from]), 9), this.wide - 9);
      if (taken.some((t) => Math.abs(t - x) < 17)) continue;
      taken.push(x);
      svg.append(drawn("circle", { class: "plate", cx: x.toFixed(1), cy: 9, r: 8 }), drawn("text", { class: "number", x: x.toFixed(1), y: 13 }, String(k + 1)));
    }
  }
  /** The part of the drive that the map shows. */
  window() {
    if (!this.view || !this.shade) return;
    const bounds = this.view.map.getBounds();
    let [from, to] = [Infinity, -Infinity];
    this.data.lines.pieces.forEach((line, i) => {
      if (!bounds.contains(line[0]) && !bounds.contains(line[line.length - 1])) return;
      from = Math.min(from, this.begins[i]);
      to = Math.max(to, this.begins[i] + this.data.trip.length_dm[i] / 10);
    });
    this.shade.setAttribute("x", from < to ? this.x(from).toFixed(1) : 0);
    this.shade.setAttribute("width", from < to ? (this.x(to) - this.x(from)).toFixed(1) : 0);
  }
}
