// Puts the page together. Whatever fails, the list and the drawn overview stay.

const REACH_PX = 8;
const REACH_TOUCH_PX = 16;
/** After so long without a picture there will be none. */
const PATIENCE_MS = 20000;
const NEAR_STOPS = 8;
const STOPS_WITHIN_M = 1000;

function failed(why, error) {
  console.error(error);
  const told = document.getElementById("why");
  told.textContent = `${why} The list of outages and a drawing are below; places to stop and the strip need the map.`;
  told.hidden = false;
  document.getElementById("stage").hidden = true;
  document.documentElement.classList.remove("mapped");
  document.documentElement.dataset.ready = "list";
}

/** The map in place of the drawing; also where it comes after all. */
function onStage() {
  document.getElementById("stage").hidden = false;
  document.documentElement.classList.add("mapped");
  document.getElementById("why").hidden = true;
}

/** Says by day or by night, by choice kept for this visit. */
function theme(changed) {
  const button = document.getElementById("theme");
  button.addEventListener("click", () => {
    document.documentElement.dataset.theme = isNight() ? "day" : "night";
    changed();
  });
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", changed);
}

/** Every item of the list of outages shows its place. */
function linkOutages(choose) {
  document.querySelectorAll("[data-outage]").forEach((item) => {
    const number = Number(item.dataset.outage);
    const sign = element("button", { type: "button", class: "number", "aria-label": `Show outage ${number} on the map`, onclick: () => choose(number) }, String(number));
    item.querySelector(".number").replaceWith(sign);
  });
}

/** Places to stop near the middle of the map, the nearest first. */
function nearStops(data, filters, view, card) {
  const box = document.getElementById("near");
  if (!data.lines.stops.length) return () => {};
  return () => {
    const bounds = view.map.getBounds();
    const middle = view.map.getCenter().toArray();
    const found = [];
    data.lines.stops.forEach((at, i) => {
      if (filters.stopPasses(i) && data.stops.access[i] !== data.words.codes.private && bounds.contains(at)) found.push([metresBetween(at, middle), i]);
    });
    found.sort((a, b) => a[0] - b[0]);
    const rows = found.slice(0, NEAR_STOPS).map(([metres, i]) =>
      element(
        "li",
        {},
        element("span", { class: "words" }, `${stopWords(data, i)}, ${spokenMetres(metres)} from the middle`),
        element("button", { type: "button", "aria-label": `Show ${stopName(data, i)} on the map`, onclick: () => showStop(data, view, card, i) }, "Show"),
      ),
    );
    const focused = [...box.querySelectorAll("button")].indexOf(document.activeElement);
    box.replaceChildren(
      element("h2", {}, "Places to stop on this part of the map"),
      element("p", { class: "small" }, found.length ? `${found.length} in sight; the nearest to the middle first. Private ones are left out.` : "None in sight."),
      element("ul", { class: "rows" }, rows),
    );
    box.hidden = false;
    // The list is new; whoever goes through it by keys stays where they were.
    if (focused >= 0) [...box.querySelectorAll("button")].at(Math.min(focused, rows.length - 1))?.focus({ preventScroll: true });
  };
}

const stopName = (data, i) => data.text(data.stops.name[i]) || data.words.stops[data.stops.kind[i]];

/** Name, kind, roof and sky of a place to stop. */
function stopWords(data, i) {
  const { stops, words } = data;
  const kind = words.stops[stops.kind[i]];
  const name = stopName(data, i);
  return [name, name === kind ? "" : kind, words.roofs[stops.roof[i]], words.access[stops.access[i]], `${stops.open_percent[i]} % open${stops.roof[i] === words.codes.roof_unknown ? " if there is no roof" : ""}`].filter(Boolean).join(", ");
}

/** Places to stop within a kilometre of the drive, in the order passed. */
function stopsAlong(data, filters, view, card, strip) {
  const box = document.getElementById("near");
  const all = [];
  data.lines.stops.forEach((at, i) => {
    const near = data.stops.access[i] === data.words.codes.private ? null : strip.nearest(at, STOPS_WITHIN_M);
    if (near) all.push([near.metres, i]);
  });
  all.sort((a, b) => a[0] - b[0]);
  return () => {
    const rows = all
      .filter(([, i]) => filters.stopPasses(i))
      .map(([metres, i]) =>
        element(
          "li",
          {},
          element("span", { class: "words" }, `${spokenPlace(metres)}: ${stopWords(data, i)}`),
          element(
            "button",
            {
              type: "button",
              "aria-label": `Show ${stopName(data, i)} on the map`,
              onclick: () => {
                strip.move(metres, false);
                showStop(data, view, card, i);
              },
            },
            "Show",
          ),
        ),
      );
    box.replaceChildren(
      element("h2", {}, "Places to stop along the drive"),
      element("p", { class: "small" }, rows.length ? `Within ${spokenMetres(STOPS_WITHIN_M)}, in the order passed. Private ones are left out.` : `None within ${spokenMetres(STOPS_WITHIN_M)} that are not private.`),
      element("ul", { class: "rows" }, rows),
    );
    box.hidden = !data.lines.stops.length;
  };
}

function showStop(data, view, card, i) {
  const at = data.lines.stops[i];
  view.go([...at, ...at], 16);
  card.stop(i);
}

/** Makes the map answer clicks, taps and keys. */
function listen(view, card, strip) {
  const { map } = view;
  const choose = (point, reach, signs = true) => {
    const found = view.at(point, reach, signs);
    card.choose(found);
    strip?.clicked(point, reach);
  };
  map.on("click", (e) => choose(e.point, matchMedia("(pointer: coarse)").matches ? REACH_TOUCH_PX : REACH_PX));
  // Looked at once a frame at most, however often the pointer moves.
  let pointed = null;
  map.on("mousemove", (e) => {
    if (!pointed) {
      requestAnimationFrame(() => {
        map.getCanvas().style.cursor = view.at(pointed, REACH_PX) ? "pointer" : "";
        pointed = null;
      });
    }
    pointed = e.point;
  });
  map.getCanvas().addEventListener("keydown", (e) => {
    if (e.key !== "Enter") return;
    const { clientWidth, clientHeight } = map.getContainer();
    choose({ x: clientWidth / 2, y: clientHeight / 2 }, 14, false);
  });
  const press = (id, act) => document.getElementById(id).addEventListener("click", act);
  press("closer", () => map.zoomIn());
  press("farther", () => map.zoomOut());
  press("whole", () => view.whole());
}

/** Colours of ratings for what is not on the map. */
function colours(data) {
  const { day, night } = data.looks;
  document.getElementById("key").replaceChildren(
    ...data.words.ratings.map((word, i) => {
      const bar = element("i", { class: `rating-${i}` });
      bar.style.height = `${3 + 2 * i}px`;
      return element("span", {}, bar, word);
    }),
  );
  (isNight() ? night : day).forEach((colour, i) => document.documentElement.style.setProperty(`--r${i}`, colour));
}

/** The map, with everything beside it. */
function mapped(data, filters, card) {
  onStage();
  document.getElementById("credit").textContent = data.credit;
  const state = () => ({ night: isNight(), trip: !!data.trip, ...filters.state() });
  // Before the map, which must know how much room it has.
  colours(data);
  const view = new View(data, state());
  card.view = view;
  const strip = data.trip ? new Strip(data, view, card) : null;
  const stops = strip ? stopsAlong(data, filters, view, card, strip) : nearStops(data, filters, view, card);
  const update = () => {
    view.state = state();
    view.update();
    view.redrawSigns();
    colours(data);
    if (strip) {
      strip.mode = filters.mode;
      strip.draw();
      strip.move(strip.at, false);
    }
    stops();
  };
  filters.changed = update;
  theme(update);
  listen(view, card, strip);
  if (!strip) view.map.on("moveend", stops);
  const late = setTimeout(() => failed("The map could not be drawn.", "nothing drawn"), PATIENCE_MS);
  view.map.once("idle", () => {
    clearTimeout(late);
    onStage();
    stops();
    document.documentElement.dataset.ready = "map";
  });
  const canvas = view.map.getCanvas();
  canvas.addEventListener("webglcontextlost", () => document.documentElement.classList.add("lost"));
  canvas.addEventListener("webglcontextrestored", () => document.documentElement.classList.remove("lost"));
  return { view, strip };
}

async function begin() {
  let data;
  try {
    data = await unpacked();
    tellIn(data.units);
  } catch (error) {
    failed("This browser cannot unpack what the page holds; a newer one can.", error);
    return;
  }
  const card = new Card(data, null);
  const filters = new Filters(data, () => {});
  let made = {};
  try {
    made = mapped(data, filters, card);
    filters.build();
  } catch (error) {
    const gl = document.createElement("canvas").getContext("webgl2") ?? document.createElement("canvas").getContext("webgl");
    failed(gl ? "The map could not be drawn." : "This browser cannot draw the map (it has no WebGL).", error);
  }
  new Search(data, card, made.view ?? null);
  linkOutages((number) => {
    made.view?.go(boxOf([data.lines.outages[number - 1]]), 15);
    if (made.strip) made.strip.toOutage(number, false);
    else card.outage(number);
  });
}

/** On paper everything is unfolded. */
addEventListener("beforeprint", () => document.querySelectorAll("details").forEach((one) => (one.open = true)));

begin();
