// What is typed is judged while it is typed. Without this script the form works the same.
"use strict";
for (const form of document.querySelectorAll("form[data-form]")) {
  const judged = form.querySelector("[data-judged]");
  let last = 0;
  const stamp = () => {
    const now = new Date().toISOString();
    // Of a form that comes back with a question, the first time stays.
    form.elements.namedItem("made_at").value ||= now;
    form.elements.namedItem("phone_at").value = now;
  };
  form.addEventListener("submit", stamp);
  form.addEventListener("change", async () => {
    const mine = ++last;
    const body = new FormData();
    for (const [name, value] of new FormData(form)) {
      // Pictures are looked at when they are sent.
      if (typeof value === "string") body.append(name, value);
    }
    if (![...form.elements].some((one) => one.dataset.judge !== undefined && one.value)) return;
    let told;
    try {
      const answer = await fetch(`${form.action}/judge`, { method: "POST", body });
      if (!answer.ok) return;
      told = await answer.json();
    } catch {
      return;
    }
    if (mine !== last) return;
    const typed = told.problems.filter((one) => {
      const field = form.elements.namedItem(one.key);
      return field && field.dataset && field.dataset.judge !== undefined && field.value;
    });
    const lines = typed.length ? typed.map((one) => one.text) : [told.understood, ...told.means];
    judged.replaceChildren(
      ...lines.filter(Boolean).map((line) => {
        const p = document.createElement("p");
        p.textContent = line;
        return p;
      }),
    );
  });
}
