// The map itself: made, moved, asked what lies where.

/** Layers that hold roads. */
const roadLayers = () => [...GROUPS_UPWARDS.map((group) => `road-${group}`), "ferry", "train"];

class View {
  constructor(data, state) {
    this.data = data;
    this.state = state;
    const [west, south, east, north] = data.around_deg;
    this.around = [
      [west, south],
      [east, north],
    ];
    this.map = new maplibregl.Map({
      container: "map",
      style: { version: 8, sources: sourcesOf(data), layers: layersOf(data, state) },
      bounds: this.around,
      fitBoundsOptions: { padding: 30 },
      attributionControl: false,
      dragRotate: false,
      pitchWithRotate: false,
      touchPitch: false,
      maxPitch: 0,
      maxZoom: 18,
      renderWorldCopies: true,
      fadeDuration: 0,
    });
    // Farther out there is nothing.
    this.map.once("load", () => this.map.setMinZoom(this.map.getZoom() - 2));
    this.map.touchZoomRotate.disableRotation();
    this.map.keyboard.disableRotation();
    this.map.on("styleimagemissing", (e) => this.draw(e.id));
    const canvas = this.map.getCanvas();
    canvas.setAttribute("aria-label", "Map: arrow keys move it, plus and minus change the scale, Enter chooses the road in the middle");
    // The library leaves out the first change of its size.
    this.begun = false;
    this.map.once("load", () => {
      this.begun = true;
      this.map.resize();
    });
    this.map.on("move", () => this.scale());
    this.scale();
  }
  draw(name) {
    drawIcon(this.map, name, GROUNDS[this.state.night ? "night" : "day"]);
  }
  /** Whether it can be asked and changed: not before it has begun, nor after the browser took its memory away. */
  alive() {
    return this.begun && !!this.map.style;
  }
  /** Brings all layers to the state. */
  update() {
    if (!this.alive()) return;
    for (const layer of layersOf(this.data, this.state)) {
      for (const [key, value] of Object.entries(layer.paint ?? {})) this.map.setPaintProperty(layer.id, key, value);
      for (const [key, value] of Object.entries(layer.layout ?? {})) this.map.setLayoutProperty(layer.id, key, value);
      if (layer.filter) this.map.setFilter(layer.id, layer.filter);
    }
  }
  /** Draws all signs anew, in other colours. */
  redrawSigns() {
    if (!this.alive()) return;
    for (const name of this.map.listImages()) this.draw(name);
  }
  /** Moves to a box: at once where people want nothing to move. */
  go(box, most) {
    const still = matchMedia("(prefers-reduced-motion: reduce)").matches;
    const [west, south, east, north] = box;
    this.map.fitBounds(
      [
        [west, south],
        [east, north],
      ],
      { padding: 50, maxZoom: most ?? 15, duration: still ? 0 : 500 },
    );
  }
  whole() {
    this.go(this.around.flat(), 18);
  }
  /** What is nearest to a place on the screen: a stop, a numbered outage or a road; nothing where nothing is near. */
  at(point, reach, signs = true) {
    if (!this.alive()) return null;
    const box = [
      [point.x - reach, point.y - reach],
      [point.x + reach, point.y + reach],
    ];
    const found = (layers) => this.map.queryRenderedFeatures(box, { layers: layers.filter((id) => this.map.getLayer(id)) });
    const sign = signs && found(["outage-numbers", "stops"])[0];
    if (sign) return sign.layer.id === "stops" ? { stop: sign.properties.i } : { outage: sign.properties.n };
    let best = null;
    const numbers = new Set(found(roadLayers()).map((road) => road.properties.i));
    for (const i of numbers) {
      const away = this.pixelsTo(this.data.lines.roads[i], point);
      if (away <= reach && (!best || away < best.away)) best = { road: i, away };
    }
    return best;
  }
  /** Pixels from a point of the screen to a line. */
  pixelsTo(line, point) {
    let best = Infinity;
    let before = null;
    for (const place of line) {
      const at = this.map.project(place);
      if (before) best = Math.min(best, pixelsToPiece(point, before, at));
      before = at;
    }
    return best;
  }
  /** Lines to stand out. */
  choose(lines) {
    if (this.alive()) this.map.getSource("choice")?.setData(collected(lines.map((line) => lineFeature(line))));
  }
  /** The place of the drive that is looked at. */
  cursor(place) {
    if (this.alive()) this.map.getSource("cursor")?.setData(collected(place ? [pointFeature(place)] : []));
  }
  /** Keeps a place in sight. */
  follow(place) {
    const at = this.map.project(place);
    const { clientWidth: wide, clientHeight: high } = this.map.getContainer();
    const inside = at.x > wide * 0.15 && at.x < wide * 0.85 && at.y > high * 0.15 && at.y < high * 0.85;
    if (!inside) this.map.jumpTo({ center: place });
  }
  scale() {
    const lat = this.map.getCenter().lat;
    const perPixel = ((40075016.7 / 512) * Math.cos((lat * Math.PI) / 180)) / 2 ** this.map.getZoom();
    const most = perPixel * 110;
    // Miles from a mile on, feet below; metres and kilometres are round together.
    const unit = most >= roadUnitM() ? roadUnitM() : imperial ? FOOT_M : 1;
    const ten = 10 ** Math.floor(Math.log10(most / unit));
    const round = [5, 2, 1].map((k) => k * ten).find((n) => n * unit <= most) ?? ten;
    const metres = round * unit;
    const shown = document.getElementById("scale");
    shown.style.width = `${metres / perPixel}px`;
    shown.textContent = unit === roadUnitM() ? `${round} ${roadUnit()}` : `${round} ${imperial ? "ft" : "m"}`;
  }
}

function pixelsToPiece(p, a, b) {
  const [dx, dy] = [b.x - a.x, b.y - a.y];
  const length = dx * dx + dy * dy;
  const share = length ? Math.min(1, Math.max(0, ((p.x - a.x) * dx + (p.y - a.y) * dy) / length)) : 0;
  return Math.hypot(p.x - a.x - dx * share, p.y - a.y - dy * share);
}
