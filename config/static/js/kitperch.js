// Conveniences only: every page does its job without this file. Nothing is attached in the HTML but data- attributes.
"use strict";

// "/" goes to the search field, unless somebody is typing.
document.addEventListener("keydown", (event) => {
  const typing = event.target.closest?.("input, textarea, select, [contenteditable]");
  const find = document.getElementById("find");
  if (event.key !== "/" || event.ctrlKey || event.metaKey || event.altKey || typing || !find) return;
  event.preventDefault();
  const menu = find.closest("[popover]");
  if (menu && find.offsetParent === null) menu.showPopover?.();
  find.focus();
  find.select();
});

// Light for the place one stands in: as the device says, sun (light), attic (dark). Kept in a cookie, so that the server
// draws the page right the first time.
{
  const places = ["device", "sun", "attic"];
  const words = { device: "Light: as the device", sun: "Light: sun", attic: "Light: attic" };
  const root = document.documentElement;
  for (const button of document.querySelectorAll("[data-light-switch]")) {
    const show = () => (button.textContent = words[root.dataset.light ?? "device"]);
    button.hidden = false;
    show();
    button.addEventListener("click", () => {
      const next = places[(places.indexOf(root.dataset.light ?? "device") + 1) % places.length];
      if (next === "device") delete root.dataset.light;
      else root.dataset.light = next;
      const keep = next === "device" ? 0 : 31536000;
      const secure = location.protocol === "https:" ? "; secure" : "";
      document.cookie = `light=${next}; path=/; max-age=${keep}; samesite=lax${secure}`;
      show();
    });
  }
}

// A button that cannot be undone asks first: <button data-confirm="Call this stay off?" data-confirm-yes="Call it off">.
document.addEventListener("click", (event) => {
  const button = event.target.closest?.("button[data-confirm]");
  if (!button || button.dataset.confirmed) return;
  if (button.form && !button.form.reportValidity()) return event.preventDefault();
  event.preventDefault();
  const dialog = document.createElement("dialog");
  const question = document.createElement("h2");
  question.id = "confirm-question";
  question.textContent = button.dataset.confirm;
  dialog.setAttribute("aria-labelledby", question.id);
  const yes = document.createElement("button");
  yes.className = "button button-danger-main";
  yes.textContent = button.dataset.confirmYes ?? button.textContent;
  const no = document.createElement("button");
  no.className = "button";
  no.textContent = "Leave it as it is";
  no.autofocus = true;
  const row = document.createElement("p");
  row.className = "actions dialog-actions";
  row.append(yes, no);
  dialog.append(question, row);
  document.body.append(dialog);
  no.addEventListener("click", () => dialog.close());
  yes.addEventListener("click", () => {
    dialog.close();
    button.dataset.confirmed = "yes";
    button.click();
    delete button.dataset.confirmed;
  });
  dialog.addEventListener("close", () => {
    dialog.remove();
    button.focus();
  });
  dialog.showModal();
});

// A form with something typed in it does not vanish by a slip of the thumb. Searches and filters (GET) are left alone.
{
  const changed = new Set();
  document.addEventListener("input", (event) => {
    const form = event.target.form;
    // One that keeps its draft can be left: nothing is lost.
    if (form && form.method === "post" && !form.dataset.draft) changed.add(form);
  });
  document.addEventListener("submit", (event) => {
    const form = event.target;
    changed.delete(form);
    // Gloves tap twice: the second tap of a POST is dropped (the server would answer it with the first result anyway).
    if (form.method !== "post" || event.defaultPrevented) return;
    if (form.dataset.sent) return event.preventDefault();
    form.dataset.sent = "yes";
    setTimeout(() => delete form.dataset.sent, 8000);
  });
  addEventListener("beforeunload", (event) => {
    if (changed.size) event.preventDefault();
  });
  addEventListener("pageshow", () => {
    for (const form of document.forms) delete form.dataset.sent;
  });
}

// What stands in the fields above goes along, also when nobody looked again: <form data-takes-from="the other form's id">.
document.addEventListener("submit", (event) => {
  const from = document.getElementById(event.target.dataset.takesFrom);
  if (!from) return;
  for (const hidden of event.target.querySelectorAll('input[type="hidden"]')) {
    const seen = from.elements.namedItem(hidden.name);
    if (seen) hidden.value = seen.value;
  }
});

// Leads to positions: a square taken by one lead is let go by the lead that held it, and that is said aloud.
for (const placing of document.querySelectorAll("[data-one-each]")) {
  const squares = () => [...placing.querySelectorAll('input[type="radio"]')].filter((radio) => radio.value);
  const lead = (radio) => radio.closest("fieldset")?.querySelector("legend")?.textContent.trim() ?? "";
  const said = placing.querySelector("[data-one-each-said]");
  const mark = () => {
    const taken = new Map(squares().filter((radio) => radio.checked).map((radio) => [radio.value, radio]));
    for (const radio of squares()) {
      const holder = taken.get(radio.value);
      radio.closest("label")?.classList.toggle("is-taken", Boolean(holder) && holder !== radio);
    }
  };
  placing.addEventListener("change", (event) => {
    const chosen = event.target;
    if (chosen.type !== "radio") return;
    if (said) said.textContent = "";
    for (const other of squares()) {
      if (!chosen.value || other === chosen || !other.checked || other.value !== chosen.value) continue;
      const none = placing.querySelector(`input[type="radio"][name="${CSS.escape(other.name)}"][value=""]`);
      if (none) none.checked = true;
      else other.checked = false;
      if (said) said.textContent = `${other.value} taken from ${lead(other)}, which is now without a position.`;
    }
    mark();
  });
  mark();
}
