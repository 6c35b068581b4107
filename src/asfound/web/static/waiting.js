// Fills in what is still being worked out while the page is read: the same page is asked again, its parts put in place.
const said = document.querySelector("[data-fills]");
const again = async () => {
  try {
    const answer = await fetch(location.href);
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    for (const id of said.dataset.fills.split(" ")) {
      const here = document.getElementById(id), there = page.getElementById(id);
      if (here && there && !here.contains(document.activeElement)) here.replaceChildren(...there.childNodes);
    }
    const still = page.querySelector("[data-fills]");
    if (!still) return said.remove();
    if (said.textContent !== still.textContent) said.replaceChildren(...still.childNodes);
  } catch {}  // out of reach: asked again
  setTimeout(again, 2000);
};
if (said) setTimeout(again, 1200);
