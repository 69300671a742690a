// What was logged waits on this phone until the server has taken it: in order, pictures too, once
// each. Only the server's answer takes an entry off. Without this script the forms work the same.
"use strict";
(() => {
  const box = document.getElementById("outbox");
  const home = box.dataset.home;
  const list = document.getElementById("kept");
  const kept = document.documentElement.dataset.kept;
  const OLD_MS = 3 * 86400e3;
  const part = (name) => box.content.querySelector(`[data-part=${name}]`).cloneNode(true);
  const isSafe = window.isSecureContext && window.indexedDB && window.caches && navigator.locks;
  if (!isSafe) {
    if (home) list.append(part("plain"));
    return;
  }

  // The store.
  const opened = new Promise((done, failed) => {
    const asked = indexedDB.open("outbox", 1);
    asked.onupgradeneeded = () => asked.result.createObjectStore("entries", { keyPath: "id" });
    asked.onsuccess = () => done(asked.result);
    asked.onerror = () => failed(asked.error);
  });
  async function change(act) {
    const store = await opened;
    return new Promise((done, failed) => {
      const work = store.transaction("entries", "readwrite", { durability: "strict" });
      const asked = act(work.objectStore("entries"));
      work.oncomplete = () => done(asked.result);
      work.onabort = () => failed(work.error);
    });
  }
  const put = (entry) => change((store) => store.put(entry));
  const remove = (id) => change((store) => store.delete(id));
  async function entries() {
    const all = await change((store) => store.getAll());
    // What stops a floor overtakes all else.
    return all.sort((one, other) => other.isStop - one.isStop || one.number - other.number);
  }

  // A form becomes an entry.
  function freshId(form) {
    const random = crypto.getRandomValues(new Uint8Array(16));
    const hex = Array.from(random, (octet) => octet.toString(16).padStart(2, "0")).join("");
    form.elements.namedItem("entry_id").value = `c-${hex}`;
  }
  function said(form) {
    const lines = [];
    for (const field of form.elements) {
      const isChoice = field.type === "radio" || field.type === "checkbox";
      if (!field.name || !field.value || field.type === "hidden" || (isChoice && !field.checked)) continue;
      const label = field.labels && field.labels[0] ? field.labels[0].textContent.trim() : field.name;
      const legend = field.closest("fieldset")?.querySelector("legend")?.textContent.trim() || "";
      lines.push(isChoice ? [legend, label] : [label, field.type === "file" ? field.files[0].name : field.value]);
    }
    return lines;
  }
  async function keep(form) {
    const fields = [...new FormData(form)].filter(([name, value]) =>
      !["made_at", "phone_at"].includes(name) && (typeof value === "string" || value.size));
    const entry = {
      id: form.elements.namedItem("entry_id").value,
      number: Math.max(0, ...(await entries()).map((one) => one.number)) + 1,
      address: form.action, home, fields, said: said(form),
      madeAt: form.elements.namedItem("made_at").value || new Date().toISOString(),
      isStop: form.dataset.form === "stop",
      what: document.querySelector("h1").textContent.trim(),
      job: document.querySelector(".where").textContent.trim(),
      people: [...box.content.querySelectorAll("[data-call]")].map((one) => [one.dataset.call, one.dataset.phone]),
    };
    await put(entry);
    navigator.storage?.persist?.();
    return entry;
  }

  // Sending: the address that the server gives for what it has, why it refuses, or nothing yet.
  async function send(entry) {
    const body = new FormData();
    for (const [name, value] of entry.fields) body.append(name, value);
    body.set("made_at", entry.madeAt);
    body.set("phone_at", new Date().toISOString());
    const patience = entry.fields.some(([, value]) => typeof value !== "string") ? 90e3 : 30e3;
    const signal = AbortSignal.timeout(patience);
    const answer = await fetch(entry.address, { method: "POST", body, signal });
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const { pathname } = new URL(answer.url);
    if (answer.ok && answer.redirected && pathname.startsWith(`${entry.home}/noted/`)) return { taken: pathname };
    if (answer.ok || answer.status === 403 || answer.status >= 500) return {};
    const alarms = [...page.querySelectorAll(".said.alarm")];
    const why = (alarms.length ? alarms : [...page.querySelectorAll("main > h1, main > .large")]).map((one) => one.textContent.trim());
    return { refused: why.join(" ") || String(answer.status) };
  }
  function sendAll() {
    return navigator.locks.request("outbox", async () => {
      const outcome = new Map();
      for (const entry of await entries()) {
        if (entry.refused) continue;
        let told;
        try {
          told = await send(entry);
        } catch {
          break; // No connection: whatever comes after it waits as well.
        }
        if (told.taken) await remove(entry.id);
        if (told.refused) await put({ ...entry, refused: told.refused });
        if (told.taken || told.refused) outcome.set(entry.id, { ...told, entry });
      }
      return outcome;
    });
  }
  async function sendAndShow() {
    const outcome = await sendAll();
    await show([...outcome.values()].filter((one) => one.taken).map((one) => one.entry));
    return outcome;
  }

  // What people see.
  function time(at) {
    const day = Date.now() - at > 5 * 86400e3 ? { day: "numeric", month: "short" } : {};
    const how = { weekday: "short", hour: "2-digit", minute: "2-digit", hourCycle: "h23", ...day };
    return new Intl.DateTimeFormat(document.documentElement.lang, how).format(at);
  }
  function fill(element, values) {
    const texts = document.createTreeWalker(element, NodeFilter.SHOW_TEXT);
    while (texts.nextNode()) {
      const text = texts.currentNode;
      text.data = text.data.replace(/%(\w+)%/g, (whole, name) => values[name] ?? whole);
    }
    return element;
  }
  function press(element, actions) {
    for (const button of element.querySelectorAll("[data-do]")) {
      const act = actions[button.dataset.do];
      if (act) button.addEventListener("click", act);
    }
  }
  function shownEntry(entry) {
    const item = part("entry");
    const madeAt = Date.parse(entry.madeAt);
    fill(item, { moment: time(madeAt), reason: entry.refused });
    item.querySelector("[data-what]").textContent = entry.what;
    item.querySelector("[data-said]").textContent = entry.said.map(([, value]) => value).join(", ").slice(0, 120);
    item.querySelector("[data-job]").textContent = entry.job;
    item.querySelector("[data-refused]").hidden = !entry.refused;
    item.querySelector("[data-choices]").hidden = !entry.refused;
    item.querySelector("[data-waits]").hidden = Boolean(entry.refused);
    item.querySelector("[data-old]").hidden = Boolean(entry.refused) || Date.now() - madeAt < OLD_MS;
    press(item, { open: () => open(entry), drop: () => remove(entry.id).then(() => show()) });
    return item;
  }
  function fillScreen(entry) {
    document.querySelector(".not-sent")?.remove();
    const rest = document.querySelectorAll("header, main, footer, .skip");
    rest.forEach((one) => { one.inert = Boolean(entry); });
    if (!entry) return;
    const screen = fill(part("stop"), { reason: entry.refused });
    screen.querySelector("[data-what]").textContent = entry.what;
    screen.querySelector("[data-job]").textContent = entry.job;
    screen.querySelector("[data-refused]").hidden = !entry.refused;
    screen.querySelector("[data-all]").hidden = entry.people.length > 0;
    for (const [name, phone] of entry.people) {
      const person = fill(part("person"), { person: name, number: phone });
      person.querySelector("a").href = `tel:${phone.replaceAll(" ", "")}`;
      screen.querySelector("[data-people]").append(person);
    }
    press(screen, {
      send: sendAndShow,
      called: () => put({ ...entry, isCalled: true }).then(() => show()),
    });
    document.body.append(screen);
    screen.focus();
  }
  async function show(sent = []) {
    const all = await entries();
    list.replaceChildren();
    if (kept !== undefined) list.append(fill(part("offline"), { moment: time(new Date(kept)) }));
    for (const one of sent) list.append(fill(part("sent"), { moment: time(new Date()), entry: one.what }));
    fillScreen(all.find((one) => one.isStop && !one.isCalled));
    if (!all.length) return;
    const shown = part("list");
    const mustSave = all.some((one) => one.refused || Date.now() - Date.parse(one.madeAt) > OLD_MS);
    shown.querySelector("[data-do=save]").hidden = !mustSave;
    shown.querySelector("[data-do=send]").hidden = all.every((one) => one.refused);
    shown.querySelector("ul").append(...all.map(shownEntry));
    press(shown, { send: sendAndShow, save });
    list.append(shown);
  }

  // Out of the store: as a file that anybody can read, or back into its form.
  const asAddress = (file) => new Promise((done) => {
    const reader = new FileReader();
    reader.onload = () => done(reader.result);
    reader.readAsDataURL(file);
  });
  async function save() {
    const title = part("file");
    title.removeAttribute("data-part");
    const page = document.implementation.createHTMLDocument(title.textContent);
    page.head.append(Object.assign(page.createElement("meta"), { httpEquiv: "Content-Type", content: "text/html; charset=utf-8" }));
    page.body.append(title);
    for (const entry of await entries()) {
      const lines = [[entry.job, entry.what], ["", entry.madeAt], ...entry.said, ["", entry.refused || ""]];
      for (const line of lines) {
        page.body.append(Object.assign(page.createElement("p"), { textContent: line.filter(Boolean).join(": ") }));
      }
      for (const [, value] of entry.fields) {
        if (typeof value !== "string") page.body.append(Object.assign(page.createElement("img"), { src: await asAddress(value), width: 600, alt: "" }));
      }
      page.body.append(page.createElement("hr"));
    }
    const file = new Blob(["<!doctype html>", page.documentElement.outerHTML], { type: "text/html" });
    const href = URL.createObjectURL(file);
    Object.assign(document.createElement("a"), { href, download: `curecal-${new Date().toISOString().slice(0, 10)}.html` }).click();
    setTimeout(() => URL.revokeObjectURL(href), 60e3);
  }
  function open(entry) {
    const form = Object.assign(document.createElement("form"), { method: "post", action: entry.address, enctype: "multipart/form-data", hidden: true });
    const now = new Date().toISOString();
    for (const [name, value] of [...entry.fields, ["made_at", entry.madeAt], ["phone_at", now]]) {
      if (typeof value === "string") {
        form.append(Object.assign(document.createElement("input"), { name, value }));
      } else {
        const carried = new DataTransfer();
        carried.items.add(value);
        const input = Object.assign(document.createElement("input"), { type: "file", name });
        input.files = carried.files;
        form.append(input);
      }
    }
    document.body.append(form);
    form.submit();
  }

  // Pages taken along for where there is no connection.
  async function takeAlong() {
    if (!home || kept !== undefined) return;
    navigator.serviceWorker?.register("/sw.js", { scope: "/p/" }).catch(() => {});
    const pages = await caches.open("pages");
    const parts = [...document.querySelectorAll("link[rel=stylesheet], script[src]")].map((one) => one.href || one.src);
    // Not those that switch the language.
    const ours = (one) => !one.hreflang && one.pathname.startsWith(`${home}/note/`);
    const links = [...document.links].filter(ours).map((one) => one.href);
    const here = location.href.split("#")[0];
    for (const address of new Set([here, ...parts, `${location.origin}/static/forms.js`, ...links])) {
      const before = await pages.match(address);
      const age = before && Math.abs(Date.now() - Date.parse(before.headers.get("Date")));
      if (age < 3600e3 && address !== here) continue;
      const fresh = await fetch(address);
      if (fresh.ok && !fresh.redirected) await pages.put(address, fresh);
    }
  }

  for (const form of document.querySelectorAll("form[data-form]")) {
    // The id of a page that was kept, or gone back to, may be used up.
    if (kept !== undefined) freshId(form);
    window.addEventListener("pageshow", (event) => { if (event.persisted) freshId(form); });
    form.addEventListener("submit", async (event) => {
      event.preventDefault();
      if (form.inert) return;
      form.inert = true;
      const { id } = await keep(form).catch(() => ({}));
      if (!id) {
        form.inert = false;
        if (navigator.onLine) form.submit();
        else list.replaceChildren(part("full"));
        return;
      }
      const isStop = form.dataset.form === "stop";
      if (isStop) await show();
      else list.replaceChildren(part("sending"));
      const told = (await sendAll()).get(id);
      if (told?.taken) {
        location.assign(told.taken);
      } else if (told?.refused) {
        // The server's own page says it beside each field; nothing was written.
        await remove(id);
        form.submit();
      } else if (!isStop && (await caches.match(`${home}/`))) {
        location.assign(`${home}/`);
      } else {
        form.reset();
        form.elements.namedItem("made_at").value = "";
        freshId(form);
        form.inert = false;
        await show();
      }
    });
  }
  if (kept !== undefined) document.querySelectorAll("[data-permission]").forEach((one) => { one.hidden = true; });
  async function again() {
    if (document.visibilityState !== "visible" || document.querySelector("form[data-form][inert]")) return;
    if (!(await entries()).some((one) => !one.refused)) return;
    const outcome = await sendAndShow();
    if (outcome.size && kept !== undefined && !document.querySelector("form[data-form]")) location.reload();
  }
  window.addEventListener("online", again);
  document.addEventListener("visibilitychange", again);
  setInterval(again, 30e3);
  show().then(again).then(takeAlong);
})();
