// What is shown: which rating, and of which roads and places.

class Filters {
  constructor(data, changed) {
    this.data = data;
    this.changed = changed;
    this.mode = "likely";
    this.off = { rating: new Set(), cause: new Set(), evidence: new Set(), stop: new Set() };
    this.openOnly = false;
    this.outages = true;
    this.box = document.getElementById("show");
  }
  /** As the layers take it. */
  state() {
    const hidden = (key, off) => [...off].map((value) => ["!=", ["get", key], value]);
    const shown = ["all", ...hidden(this.mode, this.off.rating), ...hidden("c", this.off.cause), ...hidden("e", this.off.evidence)];
    const stops = ["all", ...hidden("k", this.off.stop), ...(this.openOnly ? [["==", ["get", "roof"], this.data.words.codes.no_roof]] : [])];
    return { mode: this.mode, shown, stops, outages: this.outages };
  }
  passes(i) {
    const { roads } = this.data;
    const ratings = { likely: roads.rating, best: roads.rating_best, worst: roads.rating_worst };
    const rating = ratings[this.mode][i] < 0 ? UNKNOWN : ratings[this.mode][i];
    return !this.off.rating.has(rating) && !this.off.cause.has(roads.cause[i]) && !this.off.evidence.has(roads.evidence[i]);
  }
  stopPasses(i) {
    return !this.off.stop.has(this.data.stops.kind[i]) && !(this.openOnly && this.data.stops.roof[i] !== this.data.words.codes.no_roof);
  }
  /** Takes the legend over: not before there is a map. */
  build() {
    const { words } = this.data;
    const modes = [
      ["likely", "likely"],
      ["best", "at best"],
      ["worst", "at worst"],
    ].map(([mode, name]) =>
      element(
        "label",
        {},
        element("input", { type: "radio", name: "mode", value: mode, checked: mode === "likely", onchange: () => this.setMode(mode) }),
        name,
      ),
    );
    const legend = document.getElementById("legend");
    // The drawing keeps its own, for paper.
    document.getElementById("overview").append(copyOf(legend));
    legend.querySelectorAll("li").forEach((item) => {
      const rating = Number(item.dataset.rating);
      const label = element("label", {}, this.checkbox("rating", rating), ...item.childNodes);
      item.replaceChildren(label);
    });
    const used = (column) => [...new Set(column)].sort((a, b) => a - b);
    const group = (set, title, column, name) => {
      const values = used(column);
      if (values.length < 2) return null;
      return element(
        "details",
        {},
        element("summary", {}, title),
        element("div", { class: "boxes" }, values.map((value) => element("label", {}, this.checkbox(set, value), name(value)))),
      );
    };
    const kinds = used(this.data.stops.kind);
    const stops = kinds.length
      ? element(
          "details",
          {},
          element("summary", {}, "Places to stop"),
          element(
            "div",
            { class: "boxes" },
            kinds.map((kind) => element("label", {}, this.checkbox("stop", kind), `${words.letters[kind]} ${words.stops[kind]}`)),
            element("label", {}, element("input", { type: "checkbox", onchange: (e) => this.set(() => (this.openOnly = e.target.checked)) }), "only those known to have no roof"),
          ),
          element("p", { class: "small" }, "A bar above the letter is a roof, a broken bar one that is not known. White: nearly all of the sky is open; grey: more than half; black: less. A stroke across: private."),
        )
      : null;
    const evidenceShort = ["data", "assumptions", "not known"];
    this.count = element("p", { class: "small", role: "status" });
    this.box.replaceChildren(
      element("h2", {}, "What is shown"),
      element("fieldset", { class: "modes" }, element("legend", {}, "Rating"), modes),
      legend,
      group("cause", "What blocks", this.data.roads.cause, (value) => words.causes[value]),
      group("evidence", "What it rests on", this.data.roads.evidence, (value) => evidenceShort[value]),
      stops,
      this.data.lines.outages.length
        ? element("label", { class: "alone" }, element("input", { type: "checkbox", checked: true, onchange: (e) => this.set(() => (this.outages = e.target.checked)) }), "numbers of the worst outages")
        : null,
      element("p", { class: "small" }, "Hollow: tunnel or roof. Dotted: may be worse, roadside not mapped. Thin dashes: ferry. Thick dashes: shuttle train."),
      this.count,
    );
    this.box.hidden = false;
    this.tell();
  }
  checkbox(set, value) {
    return element("input", {
      type: "checkbox",
      checked: true,
      "data-set": set,
      "data-value": value,
      onchange: (e) => this.set(() => (e.target.checked ? this.off[set].delete(value) : this.off[set].add(value))),
    });
  }
  setMode(mode) {
    this.set(() => (this.mode = mode));
  }
  set(change) {
    change();
    this.tell();
    this.changed();
  }
  tell() {
    const { roads } = this.data;
    let [shown, all, unknown] = [0, 0, 0];
    roads.length_m.forEach((metres, i) => {
      all += metres;
      if (!this.passes(i)) return;
      shown += metres;
      if (this.mode === "worst" && roads.rating_worst[i] < 0) unknown += metres;
    });
    const road = (metres) => Math.round(ofRoad(metres)).toLocaleString("en-GB");
    const unit = roadUnit();
    const less = Object.values(this.off).some((off) => off.size) || this.openOnly || this.mode !== "likely";
    document.getElementById("filtered").textContent = less ? `filtered${this.mode === "likely" ? "" : `, at ${this.mode}`}` : "";
    this.count.textContent =
      `Shown: ${road(shown)} of ${road(all)} ${unit}.` +
      (this.data.left_out_km > 0 ? ` ${road(this.data.left_out_km * 1000)} ${unit} more of smaller roads are not on this page.` : "") +
      " Streets and tracks appear as you come closer." +
      (this.data.trip ? " The drive itself is always drawn." : "") +
      (unknown > 0 ? ` The worst is not known for ${road(unknown)} ${unit}, drawn grey: unknown is not clear.` : "");
  }
}

/** A copy without its name, which only one element may have. */
function copyOf(legend) {
  const copy = legend.cloneNode(true);
  copy.removeAttribute("id");
  return copy;
}
