// The try-out form without a page load: the form makes the request, the API answers with the
// sheet or the picture. Without this script the form is posted and the server does the same.

const form = document.getElementById("desk");
const live = document.getElementById("live");
const preview = document.getElementById("preview");
const sheet = document.getElementById("sheet");
const faults = document.getElementById("faults");
const heading = faults.textContent || "";

function requestOf() {
  const request = { units: form.elements.units.value, rider: {} };
  for (const control of form.elements) {
    const { kind, unit } = control.dataset;
    if (!kind || (control.type === "checkbox" && !control.checked)) continue;
    const text = control.value.trim();
    if (!text) continue;
    let value = text;
    if (kind === "count" && /^\d{1,9}$/.test(text)) value = Number(text);
    if (kind === "quantity" && /\d$/.test(text)) value = `${text} ${unit}`;
    const path = control.name.split(".");
    const last = path.pop();
    const place = path.reduce((found, name) => (found[name] ??= {}), request);
    if (kind === "list") (place[last] ??= []).push(value);
    else place[last] = value;
  }
  return request;
}

let newest = 0;
let waiting = 0;

async function ask(accept) {
  const turn = ++newest;
  const request = requestOf();
  document.getElementById("json").textContent =
    `POST /v1/advice\nAccept: ${accept}\nContent-Type: application/json\n\n` +
    JSON.stringify(request, null, 2);
  const answer = await fetch("/v1/advice", {
    method: "POST",
    headers: { "Content-Type": "application/json", Accept: accept },
    body: JSON.stringify(request),
  });
  const type = answer.headers.get("Content-Type") ?? "";
  const text = await answer.text();
  if (turn !== newest) return null; // a later question is on its way
  if (answer.ok) {
    clearFaults();
    return new DOMParser().parseFromString(text, type.split(";")[0]);
  }
  showFaults(type.includes("json") ? JSON.parse(text) : {});
  return null;
}

function clearFaults() {
  faults.textContent = "";
  for (const fault of form.querySelectorAll(".fault")) fault.textContent = "";
  for (const control of form.querySelectorAll("[aria-invalid]")) {
    control.removeAttribute("aria-invalid");
  }
}

function showFaults(problem) {
  clearFaults();
  say("");
  const unplaced = [];
  for (const { pointer = "", detail } of problem.errors ?? []) {
    const name = pointer.split("/").slice(1).join(".");
    const place = document.getElementById(`${name}-fault`) ??
      document.getElementById(`${name.replace(/\.\d+$/, "")}-fault`);
    if (place) place.textContent = detail;
    else unplaced.push(detail);
    document.getElementById(name)?.setAttribute("aria-invalid", "true");
  }
  faults.textContent = [problem.title ?? form.dataset.failed, ...unplaced].join(". ");
  form.querySelector("[aria-invalid]")?.focus();
}

async function showSheet() {
  clearTimeout(waiting); // leaving a field to press the button has asked for a picture
  say(form.dataset.busy);
  const page = await ask("text/html");
  if (!page) return;
  preview.replaceChildren();
  preview.className = "";
  const article = page.querySelector("article.sheet");
  lowerHeadings(article);
  sheet.replaceChildren(document.adoptNode(article));
  say(article.querySelector(".says")?.textContent.trim() ?? "", "heard"); // the sheet shows it
  document.getElementById("answer").focus({ preventScroll: true });
  document.getElementById("answer").scrollIntoView({ block: "start" });
}

function say(text, how = "") {
  live.className = `live result-head ${how}`;
  live.textContent = text;
}

// On a page of its own the sheet starts at level 1; here it stands one level down.
function lowerHeadings(article) {
  for (const heading of [...article.querySelectorAll("h2, h1")]) {
    const lower = document.createElement(`h${Number(heading.localName[1]) + 1}`);
    lower.id = heading.id;
    lower.append(...heading.childNodes);
    heading.replaceWith(lower);
  }
}

async function showPicture() {
  const picture = await ask("image/svg+xml");
  if (!picture) return;
  const fresh = document.adoptNode(picture.documentElement);
  const shown = sheet.querySelector(".plan .picture");
  // On the sheet the numbers beside the picture would be the old ones, so it is taken away.
  if (shown) sheet.replaceChildren();
  preview.replaceChildren(fresh);
  preview.className = "plan";
  say(fresh.querySelector("desc").textContent.split(" At rest: ")[1] ?? "");
}

function failed() {
  say(form.dataset.failed);
}

function soon() {
  clearTimeout(waiting);
  waiting = setTimeout(() => showPicture().catch(failed), 120);
}

for (const input of form.querySelectorAll("[data-low]")) {
  const slider = document.createElement("input");
  slider.type = "range";
  slider.className = "slider";
  slider.min = input.dataset.low;
  slider.max = input.dataset.high;
  slider.value = input.value;
  slider.setAttribute("aria-label", input.dataset.says);
  input.closest(".field").append(slider);
  slider.addEventListener("input", () => {
    input.value = slider.value;
    soon();
  });
  input.addEventListener("input", () => {
    slider.value = input.value;
  });
}

form.addEventListener("change", (event) => {
  if (event.target.type !== "range") soon();
});
form.addEventListener("submit", (event) => {
  event.preventDefault();
  showSheet().catch(failed);
});

if (!sheet.firstElementChild && !heading) showPicture().catch(failed);
