// Every page works without this file. It keeps a second tap from sending twice, times a hold, shows
// what a PIN field holds, and says when the connection to the logbook is lost, so that nobody
// trusts an old page or believes that something was saved.
"use strict";

const LOOK_MS = 15000; // How often a page asks whether the logbook is still there.
const WAIT_MS = 3000; // A person is told after so long that nothing answers.
const OLD_MS = 60000; // After so long without an answer a verdict is shown as an old one.
const SLEPT_MS = 2000; // Two clocks further apart than this: the device slept meanwhile.
let seen = performance.now();

async function answers() {
  try {
    const options = { cache: "no-store", signal: AbortSignal.timeout(WAIT_MS) };
    return (await fetch("/health", options)).status > 0;
  } catch {
    return false;
  }
}

function tell(there, sentence) {
  const lost = document.getElementById("lost");
  if (there) seen = performance.now();
  if (sentence) lost.textContent = sentence;
  lost.hidden = there;
  const old = performance.now() - seen > OLD_MS;
  document.body.classList.toggle("old", old);
  for (const at of document.querySelectorAll(".as-of")) {
    at.textContent = at.textContent.replace(/ \(old\)$/, "") + (old ? " (old)" : "");
  }
}

async function look() {
  tell(await answers(), "The connection to the logbook is lost. What this page shows may be old.");
}

// A form is sent only where somebody answers: a browser's own page would lose what was typed.
document.addEventListener("submit", async (event) => {
  const form = event.target;
  if (form.method !== "post") return;
  if (form.dataset.sending === "sure") {
    form.dataset.sending = "sent";
    setTimeout(() => delete form.dataset.sending, WAIT_MS);
    return;
  }
  event.preventDefault();
  if (form.dataset.sending) return;
  form.dataset.sending = "asking";
  const there = await answers();
  tell(there, "Nothing was saved: the connection to the logbook is lost. What you gave is kept "
    + "here; send it again.");
  if (!there) {
    delete form.dataset.sending;
    document.getElementById("lost").focus();
    return;
  }
  form.dataset.sending = "sure";
  form.requestSubmit(event.submitter);
});

// The browser may bring a page back as it was left: its forms can be sent again then.
window.addEventListener("pageshow", () => {
  for (const form of document.forms) delete form.dataset.sending;
});

function hold(form) {
  const button = form.querySelector("button.clock");
  const says = form.querySelector(".clock-says");
  let began = null;
  button.hidden = false;
  button.addEventListener("click", () => {
    if (began === null) {
      began = { clock: performance.now(), wall: Date.now() };
      button.textContent = "Stop the clock";
      form.value.value = "";
      form.classList.add("running");
      return;
    }
    const clock = performance.now() - began.clock;
    const slept = Math.abs(Date.now() - began.wall - clock) > SLEPT_MS;
    began = null;
    form.classList.remove("running");
    button.textContent = "Start the clock";
    if (slept) {
      says.textContent = "This device slept meanwhile, so that its clock tells nothing. Do it again.";
      return;
    }
    form.value.value = String(Math.floor(clock / 1000));
    form.timed.value = "yes";
    if (form.end_pressure) form.end_pressure.focus();
    else form.requestSubmit();
  });
  form.value.addEventListener("input", () => { form.timed.value = ""; });
  setInterval(() => {
    if (began) says.textContent = `${Math.floor((performance.now() - began.clock) / 1000)} s`;
  }, 250);
}

function shown(field) {
  const button = document.createElement("button");
  button.type = "button";
  button.className = "plain";
  button.textContent = "Show the PIN";
  button.addEventListener("click", () => {
    const hidden = field.type === "password";
    field.type = hidden ? "text" : "password";
    button.textContent = hidden ? "Hide the PIN" : "Show the PIN";
  });
  field.after(button);
}

for (const form of document.querySelectorAll("form.hold")) hold(form);
for (const field of document.querySelectorAll("input[type=password]")) shown(field);
document.getElementById("refused")?.focus();
setInterval(look, LOOK_MS);
// A screen on a wall asks anew where somebody answers; else it keeps its board, and says it is old.
const renewed = document.documentElement.dataset.renewedS;
if (renewed) setInterval(async () => { if (await answers()) location.reload(); }, renewed * 1000);
window.addEventListener("offline", look);
window.addEventListener("online", look);
