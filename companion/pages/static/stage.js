/* Follows a stage: puts in each scene as it comes, moves the listening sign, sends what is pressed. */
"use strict";

const stage = document.getElementById("stage");
const said = document.getElementById("said");
const lost = document.getElementById("lost");
const LOST_MS = 4000;
let lostTimer = 0;

/* Put the reader where they were: on the same button, or else on the big one. */
function place(html) {
  const held = stage.contains(document.activeElement) ? document.activeElement.id : null;
  const first = held === null && document.activeElement !== document.body;
  stage.innerHTML = html;
  const same = held && document.getElementById(held);
  const big = stage.querySelector(".big-button");
  if (!first && (same || big)) (same || big).focus({ preventScroll: true });
  const words = [...stage.querySelectorAll("h1, .line, .sign p")].map((e) => e.textContent.trim());
  said.textContent = words.filter(Boolean).join(". ");
}

function follow() {
  const events = new EventSource(stage.dataset.events);
  events.addEventListener("scene", (event) => place(event.data));
  events.addEventListener("level", (event) => {
    const sign = stage.querySelector(".sign.listening");
    if (sign) sign.dataset.level = event.data;
  });
  events.addEventListener("over", () => events.close());
  events.onopen = () => {
    clearTimeout(lostTimer);
    lost.hidden = true;
  };
  events.onerror = () => {
    clearTimeout(lostTimer);
    lostTimer = setTimeout(() => { lost.hidden = false; }, LOST_MS);
  };
}

stage.addEventListener("submit", (event) => {
  event.preventDefault();
  const form = new URLSearchParams(new FormData(event.target, event.submitter));
  fetch(event.target.action, {
    method: "POST",
    headers: { "Wordhearth-Script": "1" },
    body: form,
  }).catch(() => { lost.hidden = false; });
});

/* The reader's ruler follows the pointer or the arrow keys, line by line. */
function ruleAt(box, y) {
  const caption = box.querySelector(".caption");
  const line = parseFloat(getComputedStyle(caption).lineHeight);
  const top = caption.getBoundingClientRect().top - box.getBoundingClientRect().top;
  const lines = Math.max(1, Math.round(caption.offsetHeight / line));
  const number = Math.min(lines, Math.max(1, Math.ceil((y - top) / line)));
  box.dataset.line = String(number);
  box.style.setProperty("--ruler", `${top + number * line}px`);
}

stage.addEventListener("pointermove", (event) => {
  const box = event.target.closest("[data-ruler]");
  if (box) ruleAt(box, event.clientY - box.getBoundingClientRect().top);
});

document.addEventListener("keydown", (event) => {
  const box = stage.querySelector("[data-ruler]");
  const step = { ArrowDown: 1, ArrowUp: -1 }[event.key];
  if (!box || !step || !document.body.classList.contains("ruler")) return;
  event.preventDefault();
  const caption = box.querySelector(".caption");
  const line = parseFloat(getComputedStyle(caption).lineHeight);
  const top = caption.getBoundingClientRect().top - box.getBoundingClientRect().top;
  ruleAt(box, top + (Number(box.dataset.line || 1) + step - 0.5) * line);
});

if (!("over" in stage.dataset)) follow();
const big = stage.querySelector(".big-button");
if (big) big.focus({ preventScroll: true });
