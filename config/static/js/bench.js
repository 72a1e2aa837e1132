// The bench's forms: what is typed is not lost, a minus sign is at hand, readings are kept while one types.
// Every page works without this file. Nothing is attached in the HTML but data- attributes.
"use strict";

// A phone's number keys have no minus sign: a button beside the box turns the sign round. Without this script the box
// brings up the whole keyboard instead.
for (const box of document.querySelectorAll("input[data-minus]")) {
  box.inputMode = "decimal";
  const button = document.createElement("button");
  button.type = "button";
  button.className = "minus";
  button.textContent = "±";
  const name = box.labels?.[0]?.textContent.trim().replace(/\s+/g, " ") || box.getAttribute("aria-label") || "";
  button.setAttribute("aria-label", `Turn the sign round: ${name}`);
  button.tabIndex = -1;
  if (box.parentElement.classList.contains("reading")) box.after(button);
  else {
    const row = document.createElement("span");
    box.before(row);
    row.append(box, button);
  }
  button.addEventListener("click", () => {
    const typed = box.value.trim().replace("−", "-");
    box.value = typed.startsWith("-") ? typed.slice(1) : `-${typed}`;
    box.focus();
    box.dispatchEvent(new Event("input", { bubbles: true }));
  });
}

// Enter goes to the next box instead of sending half a page; on the last one it does nothing.
document.addEventListener("keydown", (event) => {
  const box = event.target;
  if (event.key !== "Enter" || !box.matches?.("input[data-key]")) return;
  event.preventDefault();
  const boxes = [...box.form.querySelectorAll("input[data-key]")];
  const next = boxes[boxes.indexOf(box) + 1];
  if (next) {
    next.focus();
    next.select();
  }
});

// Ice goes with the ice bath, boiling water with boiling water: choosing a method chooses a reference that goes with it.
for (const form of document.querySelectorAll("form.begin")) {
  const goesWith = { ice: ["ice", "thermometer"], boiling: ["boiling", "thermometer"] };
  form.addEventListener("change", (event) => {
    if (event.target.name !== "method") return;
    const kinds = goesWith[event.target.value] ?? ["thermometer"];
    const references = [...form.querySelectorAll('input[name="reference"]')];
    const chosen = references.find((radio) => radio.checked);
    if (chosen && kinds.includes(chosen.dataset.kind) && (chosen.dataset.kind === kinds[0] || !chosen.dataset.late)) return;
    const fit = kinds.flatMap((kind) => references.filter((radio) => radio.dataset.kind === kind && !radio.dataset.late))[0];
    if (fit) fit.checked = true;
  });
}

// A draft: what is typed into <form data-draft="name"> stays on this device until it is sent.
const forgotten = 14 * 86400 * 1000;
for (const form of document.querySelectorAll("form[data-draft]")) {
  const key = `kitperch-draft-${form.dataset.draft}`;
  const said = form.querySelector("[data-draft-said]");
  const say = (sentence) => said && (said.textContent = sentence);
  const fields = () =>
    [...form.elements].filter((field) => field.name && field.type !== "hidden" && field.type !== "submit");
  const asTyped = (field) => (["checkbox", "radio"].includes(field.type) ? field.checked : field.value);
  const drawn = new Map(fields().map((field) => [field, asTyped(field)]));
  // The same boxes by name and place, whatever else the page holds.
  const places = () => {
    const count = {};
    return fields().map((field) => {
      const name = ["checkbox", "radio"].includes(field.type) ? `${field.name}=${field.value}` : field.name;
      count[name] = (count[name] ?? -1) + 1;
      return [`${name}#${count[name]}`, field];
    });
  };
  const was = () => Object.fromEntries([...form.querySelectorAll("[data-was]")].map((one) => [one.dataset.was, one.value]));
  const keep = () => {
    const typed = {};
    for (const [place, field] of places()) if (asTyped(field) !== drawn.get(field)) typed[place] = asTyped(field);
    try {
      if (Object.keys(typed).length) localStorage.setItem(key, JSON.stringify({ typed, was: was(), at: Date.now() }));
      else localStorage.removeItem(key);
    } catch {
      // A device without room: then the shop alone keeps it.
    }
  };
  const forget = () => localStorage.removeItem(key);
  form.addEventListener("input", keep);
  form.addEventListener("submit", () => {
    // Gone only when the next page proves that it arrived: see below.
    keep();
    try {
      sessionStorage.setItem("kitperch-sent", key);
    } catch {
      forget();
    }
  });

  const draft = (() => {
    try {
      return JSON.parse(localStorage.getItem(key) ?? "null");
    } catch {
      return null;
    }
  })();
  const refusedHere = Boolean(form.querySelector(".refusal, .has-error, .errorlist"));
  if (draft && !refusedHere && Date.now() - draft.at < forgotten) {
    const now = was();
    let back = 0;
    const lost = [];
    for (const [place, field] of places()) {
      if (!(place in draft.typed) || asTyped(field) === draft.typed[place]) continue;
      const whose = field.dataset.key;
      if (whose && draft.was?.[whose] !== now[whose]) {
        lost.push(draft.typed[place]);
        continue;
      }
      if (typeof draft.typed[place] === "boolean") field.checked = draft.typed[place];
      else field.value = draft.typed[place];
      back += 1;
    }
    if (back) say("What you typed here before is back.");
    if (lost.length) say(`Typed here before and not put back, since other readings were kept meanwhile: ${lost.join(", ")}.`);
    if (back && form.dataset.keeps) setTimeout(() => form.dispatchEvent(new Event("input")), 0);
  }
  form.kitperchForget = (names) => {
    for (const [, field] of places()) if (names.includes(field.dataset.key)) drawn.set(field, asTyped(field));
    keep();
  };
}
// The draft of the form sent before this page is done with, unless this page is that form again.
{
  let key = null;
  try {
    key = sessionStorage.getItem("kitperch-sent");
    sessionStorage.removeItem("kitperch-sent");
  } catch {
    // Nothing was sent, as far as this device can tell.
  }
  if (key && !document.querySelector(`form[data-draft="${CSS.escape(key.replace("kitperch-draft-", ""))}"]`)) localStorage.removeItem(key);
}

// Readings go to the shop while one types, and what is odd about them comes back beside the box.
for (const form of document.querySelectorAll("form[data-keeps]")) {
  const said = form.querySelector("[data-draft-said]");
  const general = form.querySelector("[data-general]");
  let timer = 0;
  let busy = false;
  const boxesOf = (key) => [...form.elements].filter((field) => field.name === key && field.type !== "hidden");
  const words = (key) => boxesOf(key).map((box) => box.value.trim()).filter(Boolean).join(" ").replaceAll("−", "-").replace(/\s+/g, " ");
  const changed = () => [...form.querySelectorAll("[data-was]")].filter((one) => words(one.dataset.was) !== one.value);

  const send = async () => {
    if (busy) return later();
    const keys = changed().map((one) => one.dataset.was);
    if (!keys.length) return;
    busy = true;
    const sent = new FormData();
    sent.append("csrfmiddlewaretoken", form.elements.csrfmiddlewaretoken.value);
    const typed = {};
    for (const key of keys) {
      typed[key] = words(key);
      for (const box of boxesOf(key)) sent.append(key, box.value);
      sent.append(`was-${key}`, form.querySelector(`[data-was="${key}"]`).value);
    }
    try {
      const answer = await fetch(form.dataset.keeps, { method: "POST", body: sent, headers: { Accept: "application/json" } });
      const told = await answer.json();
      if (!("kept" in told)) {
        said.textContent = told.sentence ?? "Not kept at the shop yet. It stays on this device.";
        return;
      }
      for (const key of told.kept) if (words(key) === typed[key]) form.querySelector(`[data-was="${key}"]`).value = typed[key];
      form.kitperchForget?.(told.kept);
      show(told);
      said.textContent = told.ok ? `Kept at ${new Date().toLocaleTimeString([], { hour: "numeric", minute: "2-digit" })}.` : "Not all of it can be kept: see above.";
    } catch {
      said.textContent = "No line to the shop. What you typed stays on this device.";
    } finally {
      busy = false;
    }
  };
  const show = (told) => {
    for (const doubt of form.querySelectorAll("[data-doubt]")) doubt.textContent = "";
    for (const { key, index, sentence } of told.boxes) {
      const place = form.querySelector(`[data-doubt="${key}:${index}"]`);
      if (place) place.textContent = sentence;
    }
    if (!general) return;
    general.hidden = !told.general.length;
    general.replaceChildren(
      ...told.general.map((sentence) => {
        const line = document.createElement("p");
        line.textContent = sentence;
        return line;
      }),
    );
  };
  const later = () => {
    clearTimeout(timer);
    timer = setTimeout(send, 1200);
  };
  form.addEventListener("input", later);
  form.addEventListener("submit", () => clearTimeout(timer));
  addEventListener("online", later);
}
