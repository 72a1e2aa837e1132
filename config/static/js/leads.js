// Pages that watch what a kit sends: the shop is asked every two seconds and says what stands here now. Nothing is judged
// in this file, and every page works without it: then one looks again with a button.
"use strict";

const region = document.querySelector("[data-poll]");
if (region) {
  const lost = document.querySelector("[data-line-lost]");
  let timer = 0;
  let over = false;

  // What was chosen so far goes along, so that the shop can say what comes next.
  const address = () => {
    const form = region.querySelector("form[data-goes-along]");
    if (!form) return region.dataset.poll;
    const along = new URLSearchParams();
    for (const [name, value] of new FormData(form)) {
      if (typeof value === "string" && value && /^(rom$|tag-|colour-|terminal-)/.test(name)) along.append(name, value);
    }
    return `${region.dataset.poll}&${along}`;
  };

  // Each piece is put in anew only if it says something else; rows of a list are only ever added.
  const put = (text) => {
    const fresh = new DOMParser().parseFromString(text, "text/html");
    if (fresh.querySelector("[data-stop]")) {
      over = true;
      region.replaceChildren(...fresh.body.childNodes);
      navigator.vibrate?.([200, 100, 200]);
      return;
    }
    const mood = region.querySelector("[data-mood]");
    if (mood) mood.className = fresh.querySelector("[data-mood]")?.className ?? mood.className;
    for (const piece of fresh.querySelectorAll("[data-piece]")) {
      const here = region.querySelector(`[data-piece="${piece.dataset.piece}"]`);
      if (here && here.dataset.was !== piece.innerHTML) {
        here.dataset.was = piece.innerHTML;
        if (!here.contains(document.activeElement) || document.activeElement === document.body) {
          here.replaceChildren(...piece.childNodes);
        }
      }
    }
    const list = region.querySelector("[data-rows]");
    for (const row of fresh.querySelectorAll("[data-rows] > [data-row]")) {
      if (!list || list.querySelector(`[data-row="${row.dataset.row}"]`)) continue;
      list.append(row);
      row.scrollIntoView({ block: "center" });
      remember(row.dataset.row);
      navigator.vibrate?.(120);
    }
  };

  // A row found stays after a reload, whatever became of its readings.
  const remember = (rom) => {
    const here = new URL(location.href);
    if (!here.searchParams.getAll("rom").includes(rom)) here.searchParams.append("rom", rom);
    history.replaceState(null, "", here);
  };

  const look = async () => {
    clearTimeout(timer);
    if (over || document.hidden) return;
    try {
      const answer = await fetch(address(), { headers: { Accept: "text/html" } });
      if (answer.redirected) return location.reload();
      if (!answer.ok) throw new Error(String(answer.status));
      const text = await answer.text();
      if (lost) lost.hidden = true;
      put(text);
    } catch {
      if (lost) lost.hidden = false;
    }
    if (!over) timer = setTimeout(look, 2000);
  };

  over = Boolean(region.querySelector("[data-stop]"));
  for (const button of region.querySelectorAll("[data-look-again]")) button.hidden = true;
  if (!over) {
    timer = setTimeout(look, 1500);
    // Both hands are busy, and a dark screen tells nothing.
    navigator.wakeLock?.request("screen").catch(() => {});
  }
  document.addEventListener("visibilitychange", () => !document.hidden && look());
  region.addEventListener("change", (event) => event.target.matches("[name^='tag-']") && look());
}
