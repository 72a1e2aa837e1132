// Draws papers batch after batch while the page is open. Without this file a button draws the next batch.
"use strict";
{
  const form = document.querySelector("form[data-draws]");
  const heading = document.querySelector("[data-left]");
  const progress = form?.querySelector("progress");
  const all = Number(form?.dataset.draws ?? 0);

  const draw = async () => {
    const answer = await fetch(form.action, {
      method: "POST",
      body: new FormData(form),
      headers: { Accept: "application/json" },
    });
    if (!answer.ok) throw new Error(String(answer.status));
    const { ok, left } = await answer.json();
    progress.value = all - left;
    heading.textContent = left === 1 ? "1 paper is not drawn yet" : `${left} papers are not drawn yet`;
    if (!ok || left === 0) location.reload();
    else draw().catch(stop);
  };
  const stop = () => (form.dataset.stopped = "");

  if (form && !("stopped" in form.dataset)) {
    progress.hidden = false;
    draw().catch(stop);
  }
}
