// The desk's one script. Pages work without it. It sends forms without leaving the page, follows what changes, and gives
// single keys to the part in which a reading is entered, while the focus is there.
"use strict";
(() => {
  const $ = (selector, within = document) => within.querySelector(selector);
  const all = (selector, within = document) => [...within.querySelectorAll(selector)];
  const isField = (el) => el && el.matches("input:not([type=hidden]), textarea, select");
  const unsaved = (el) => el.matches("select") ? [...el.options].some((o) => o.selected !== o.defaultSelected)
    : el.matches("[type=checkbox], [type=radio]") ? el.checked !== el.defaultChecked : el.value !== el.defaultValue;
  const busyWith = (region) => region.contains(document.activeElement) && isField(document.activeElement)
    || all("input:not([type=hidden]), textarea, select", region).some(unsaved);

  let sending = 0; // forms under way: what changes meanwhile is looked at afterwards
  let sent = 0; // forms that ever went off
  let looking = false;
  let due = false; // something changed that was not looked at yet

  // get asks for a page, as one that knows what is shown.
  const get = (url, options = {}) => {
    const head = { "Whystone-Part": "1" };
    const shown = $("#case");
    if (shown) head["Whystone-Seen"] = shown.dataset.since || shown.dataset.seen;
    return fetch(url, { ...options, headers: head, credentials: "same-origin" });
  };
  const parsed = async (answer) => unfocused(new DOMParser().parseFromString(await answer.text(), "text/html"));
  // unfocused takes out what tells a browser where the focus goes on a page that is new: here focusAfter tells.
  const unfocused = (part) => { for (const el of all("[autofocus]", part)) el.autofocus = false; return part; };

  // flat is what a region says, whichever of its parts somebody opened.
  function flat(region) {
    const copy = unfocused(region.cloneNode(true));
    for (const d of all("details[open]", copy)) d.open = false;
    return copy.innerHTML;
  }

  // swap puts what is new in the place of a region, unless somebody is typing in it.
  function swap(region, fresh, force) {
    if (!force && busyWith(region)) { region.dataset.waits = "1"; return; }
    delete region.dataset.waits;
    if (!fresh) { region.replaceChildren(); return; }
    if (region.dataset.from && !$("li, .lead", fresh)) { // it is taken by itself
      region.setAttribute("aria-busy", "true");
      return;
    }
    if (flat(region) === flat(fresh)) { region.removeAttribute("aria-busy"); return; }
    const open = new Set(all("details[open] > summary", region).map((s) => s.textContent));
    const at = region.contains(document.activeElement) ? document.activeElement : null;
    region.replaceChildren(...fresh.childNodes);
    region.removeAttribute("aria-busy");
    for (const s of all("details > summary", region)) if (open.has(s.textContent)) s.parentElement.open = true;
    if (at && !force) { // the focus goes to what was in its place
      const same = all("a, button, summary", region).find((el) => el.textContent === at.textContent && el.value === at.value);
      (same || $("#main")).focus({ preventScroll: true });
    }
  }

  // show takes over the regions of another page.
  function show(page, forced) {
    const next = $("#case", page);
    if (next) {
      const shown = $("#case");
      const told = $("#changed", page);
      if (forced || !shown.dataset.since) shown.dataset.since = told && told.childElementCount && !forced ? shown.dataset.seen : "";
      shown.dataset.seen = next.dataset.seen;
    }
    for (const region of all("[data-live]")) swap(region, page.getElementById(region.id), region === forced);
    for (const region of all("[data-from][aria-busy]")) take(region);
  }

  // take takes a region that a page leaves out.
  async function take(region) {
    const number = (region.asked = (region.asked || 0) + 1);
    const answer = await get(region.dataset.from);
    if (number !== region.asked || !answer.ok) return;
    const page = await parsed(answer);
    if (number === region.asked) swap(region, page.getElementById(region.id), false);
  }

  // look looks at the page as it is now. What was asked for before a form went off is old by the time it comes.
  async function look() {
    if (sending || looking) { due = true; return; }
    due = false;
    looking = true;
    const before = sent;
    try {
      const answer = await get(location.href, { signal: AbortSignal.timeout(15000) }); // another look waits for it
      if (answer.status === 401) { says("signed-out"); return; }
      const page = answer.ok && await parsed(answer);
      if (sent !== before) due = true;
      else if (page) show(page, null);
    } catch { says("lost"); } finally {
      looking = false;
      if (due && !sending) lookSoon();
    }
  }
  let soon = 0;
  const lookSoon = () => { clearTimeout(soon); soon = setTimeout(look, 30); };

  const said = { "": "", lost: "The desk does not answer. What is shown may be old, and nothing is kept now.", "signed-out": "You are signed out. What you typed is still here: sign in in another window, and go on." };
  function says(what) {
    const el = $("#connection");
    if (!el || el.dataset.says === what) return;
    el.dataset.says = what;
    el.textContent = said[what];
    if (what === "signed-out") {
      const a = document.createElement("a");
      Object.assign(a, { href: "/sign-in", target: "_blank", textContent: "Sign in" });
      el.append(" ", a);
    }
  }

  // Following: of all windows of a browser one hears the desk, and tells the others.
  function follow(url) {
    let heard = Date.now();
    const channel = "BroadcastChannel" in window ? new BroadcastChannel("whystone-desk") : null;
    const hear = (m) => {
      heard = Date.now();
      if (m.kind === "signed-out") { says("signed-out"); return; }
      if (m.kind === "lost") { says("lost"); return; }
      says("");
      const shown = $("#case");
      if (m.kind === "beat" || m.kind === "replay" && !$("#replay") || m.kind === "case" && shown && m.case && m.case !== shown.dataset.case) return;
      lookSoon();
    };
    const tell = (m) => { hear(m); if (channel) channel.postMessage(m); };
    if (channel) channel.onmessage = (e) => hear(e.data);
    const listen = () => new Promise(() => {
      const stream = new EventSource(url);
      let first = true;
      stream.addEventListener("beat", () => { tell({ kind: first ? "all" : "beat" }); first = false; });
      stream.addEventListener("changed", (e) => tell(JSON.parse(e.data)));
      stream.addEventListener("signed-out", () => { stream.close(); tell({ kind: "signed-out" }); });
      stream.addEventListener("error", () => { first = true; tell({ kind: "lost" }); if (stream.readyState === EventSource.CLOSED) look(); });
    });
    if (channel && navigator.locks) navigator.locks.request("whystone-desk", listen).catch(() => {});
    else listen();
    setInterval(() => { if (Date.now() - heard > 25000) says("lost"); }, 5000);
    lookSoon(); // what changed between the page and now
  }

  let asked = false;

  // Sending forms. What goes wrong comes back in the page's own words.
  async function send(form, button) {
    const region = form.closest("[data-live]");
    const data = new FormData(form, button);
    const post = form.method === "post";
    const url = new URL(form.action, location.href);
    const test = $("#test");
    const ahead = post && test && form.matches("#enter .reading, #enter .unclear"); // the next test may be typed while this outcome is on its way
    sending++;
    sent++;
    form.setAttribute("aria-busy", "true");
    if (ahead) test.focus({ preventScroll: true });
    try {
      if (!post) url.search = new URLSearchParams(data).toString();
      url.hash = "";
      const answer = await get(url, post ? { method: "POST", body: form.enctype === "multipart/form-data" ? data : new URLSearchParams(data) } : {});
      if (answer.status === 401) { says("signed-out"); return; }
      const page = await parsed(answer);
      const at = new URL(answer.url);
      if (!$("#case", page) || at.pathname !== location.pathname && answer.ok) { // somewhere else, or a page that says why not
        if (answer.ok && answer.redirected) { location.assign(answer.url); return; }
        $("#main").replaceChildren(...$("#main", page).childNodes);
        $("#main").focus();
        return;
      }
      const typed = ahead ? test.value : "";
      history.replaceState(null, "", answer.ok && at.searchParams.has("test") ? at.pathname + at.search : location.pathname);
      show(page, region);
      if (typed && answer.ok) $("#test").value = typed;
      focusAfter(form.matches(".press") && $("#enter") || region);
    } catch { says("lost"); } finally {
      sending--;
      form.removeAttribute("aria-busy");
      if (asked) { // a test was asked for meanwhile
        asked = false;
        if ($("#test") && $("#test").value) $("#test").form.requestSubmit();
      }
      if (due && !sending) lookSoon();
    }
  }

  // focusAfter puts the focus where the next key is wanted.
  function focusAfter(region) {
    const enter = $("#enter");
    if (!enter || region !== enter) { if (!region.contains(document.activeElement)) $("#main").focus({ preventScroll: true }); return; }
    const form = $("fieldset form.reading", enter);
    const to = form ? $(".buttons button, .features input, input[name=because], input[name=value]", form) : $(".several a", enter) || $("#test", enter);
    if (to) to.focus();
  }

  document.addEventListener("submit", (e) => {
    const form = e.target;
    if (!form.closest("#case") || form.target) return;
    e.preventDefault();
    if (sending && form.matches(".choose")) asked = true;
    else if (!form.hasAttribute("aria-busy")) send(form, e.submitter && e.submitter.name ? e.submitter : undefined);
  });

  document.addEventListener("click", (e) => { // a test that is chosen opens where readings are entered
    const a = e.target.closest && e.target.closest("a[href*='#enter']");
    if (!a || !$("#case") || e.ctrlKey || e.metaKey || e.shiftKey || new URL(a.href).pathname !== location.pathname) return;
    e.preventDefault();
    const enter = $("#enter");
    sending++;
    sent++;
    const url = new URL(a.href);
    url.hash = "";
    get(url).then(parsed).then((page) => { history.replaceState(null, "", url); show(page, enter); focusAfter(enter); enter.scrollIntoView({ block: "nearest" }); })
      .catch(() => says("lost")).finally(() => { sending--; if (due && !sending) lookSoon(); });
  });

  document.addEventListener("click", (e) => {
    if (!e.target.closest || !e.target.closest("[data-dismiss]")) return;
    $("#changed").replaceChildren();
    $("#case").dataset.since = "";
    $("#main").focus({ preventScroll: true });
  });

  // Single keys, only where the focus is: figures choose an outcome, Backspace in the empty field takes the last reading back.
  document.addEventListener("keydown", (e) => {
    if (e.ctrlKey || e.altKey || e.metaKey || e.repeat) return;
    const form = e.target.closest && e.target.closest("form.outcomes");
    if (form && !isField(e.target) && e.key >= "1" && e.key <= "9") {
      const b = $(`button[data-key="${e.key}"]`, form);
      if (b) { e.preventDefault(); b.click(); }
    }
    if (e.key === "Backspace" && e.target.id === "test" && e.target.value === "") {
      const undo = $("[data-undo]");
      if (undo) { e.preventDefault(); undo.click(); }
    }
  });

  // A region that waited for somebody to finish typing is looked at when they go on.
  document.addEventListener("focusout", () => setTimeout(() => { if ($("[data-waits]") && all("[data-waits]").some((r) => !busyWith(r))) lookSoon(); }, 50));

  // Who was quicker than this script sent a form the plain way: the next key is wanted where the form leads. In the
  // first frame the browser goes to the part that the address names, and takes the focus away.
  requestAnimationFrame(() => { if (document.activeElement === document.body && $("#enter form.reading")) focusAfter($("#enter")); });

  const at = document.body.dataset.follow;
  if (at) follow(at);
})();
