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
  const box = stage.querySelector("[data-ruler]");
  if (box) ruleLine(box, 1);
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
    lostTimer = 0;
    lost.hidden = true;
  };
  events.onerror = () => { /* again at each attempt to connect */
    lostTimer ||= setTimeout(() => { lost.hidden = false; }, LOST_MS);
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

/* The reader's ruler lies under one line, and follows the pointer or the arrow keys. */
function lines(box) {
  const caption = box.querySelector(".caption");
  const height = parseFloat(getComputedStyle(caption).lineHeight);
  return { top: caption.offsetTop, height, count: Math.round(caption.offsetHeight / height) };
}

function ruleLine(box, wanted) {
  const { top, height, count } = lines(box);
  const line = Math.min(Math.max(wanted, 1), count);
  box.dataset.line = String(line);
  box.style.setProperty("--ruler", `${top + line * height}px`);
}

stage.addEventListener("pointermove", (event) => {
  const box = event.target.closest("[data-ruler]");
  if (!box) return;
  const { top, height } = lines(box);
  ruleLine(box, Math.ceil((event.clientY - box.getBoundingClientRect().top - top) / height));
});

document.addEventListener("keydown", (event) => {
  const box = stage.querySelector("[data-ruler]");
  const step = { ArrowDown: 1, ArrowUp: -1 }[event.key];
  if (!box || !step || !document.body.classList.contains("ruler")) return;
  event.preventDefault();
  ruleLine(box, Number(box.dataset.line) + step);
});

if (!("over" in stage.dataset)) follow();
const big = stage.querySelector(".big-button");
if (big) big.focus({ preventScroll: true });
