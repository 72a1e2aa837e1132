// Works out the example stay while terms are typed. Without this file a button does.
"use strict";
{
  const form = document.querySelector("form[data-terms]");
  const shown = document.querySelector("[data-example]");
  let waiting = 0;
  let asked = 0;

  const workOut = async () => {
    const mine = ++asked;
    const body = new FormData(form);
    body.set("look", "1");
    const answer = await fetch(form.action, { method: "POST", body, headers: { "X-Part": "example" } });
    if (answer.ok && mine === asked) shown.innerHTML = await answer.text();
  };

  const soon = () => {
    clearTimeout(waiting);
    waiting = setTimeout(() => workOut().catch(() => {}), 400);
  };
  form?.addEventListener("input", soon);
  form?.addEventListener("change", soon);
}
