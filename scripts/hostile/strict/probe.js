// What a page is made of: kinds of elements with their attributes, texts, values of attributes, and what scripts set.
() => {
  const kinds = {}, texts = [], values = [];
  for (const element of document.querySelectorAll("*")) {
    const names = [...element.attributes].map((a) => a.name).sort();
    const kind = [element.namespaceURI?.split("/").pop(), element.localName, ...names].join(" ");
    kinds[kind] = (kinds[kind] ?? 0) + 1;
    for (const a of element.attributes) values.push([element.localName, a.name, a.value]);
    if (element.localName === "style" || element.localName === "script") continue;
    const drawn = element.ownerSVGElement != null && element.localName !== "title";
    for (const node of element.childNodes) {
      if (node.nodeType === Node.TEXT_NODE) texts.push([drawn, node.data]);
      else if (node.nodeType !== Node.ELEMENT_NODE) texts.push([false, `node of type ${node.nodeType}: ${node.data}`]);
    }
  }
  return {
    kinds, texts, values,
    title: document.title,
    taken: "taken" in window ? String(window.taken) : null,
    globals: Object.getOwnPropertyNames(window).sort(),
    polluted: Object.keys(Object.prototype).concat(Object.keys({})),
    violations: window.violations ?? ["nobody listened"],
  };
}
