// Types each name into the search, takes the road that is found, and tells what the list and the card say.
(asked) => {
  const field = document.getElementById("query");
  const type = (words) => {
    field.value = words;
    field.dispatchEvent(new Event("input", { bubbles: true }));
    return [...document.querySelectorAll("#hits li")];
  };
  const told = asked.map(([typed, name, letter]) => {
    const found = type(typed);
    const hits = found.map((hit) => hit.querySelector("b").textContent);
    if (letter === "R") found.find((hit) => hit.textContent.includes("road"))?.dispatchEvent(new Event("pointerdown", { bubbles: true, cancelable: true }));
    return [hits, document.getElementById("card").textContent];
  });
  type("");
  return told;
}
